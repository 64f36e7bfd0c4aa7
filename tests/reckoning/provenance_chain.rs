//! Chains of provenance, and the code that a statement gives. Worked values: wild-mated dams by CITES Notification 1998/14, generations
//! by CITES Res. Conf. 10.16 (wild × wild = F1, wild × F3 = F1, F1 × F1 = F2, F1 × F3 = F2), the stock test by 50 CFR 23.63. Which papers
//! are asked for is common practice, no source.

use proptest::prelude::*;
use serde_json::{Value, json};
use silkward::reckoning::captive_code::{CodeFacts, Grounds, stated};
use silkward::reckoning::provenance::{Source, SourceCode};
use silkward::reckoning::provenance_chain::{Brood, ChainError, Node, OnFile, Role, follow, generations};
use silkward::reckoning::reckon;

fn source(code: &str) -> Source {
    Source { code: code.parse().unwrap(), pre_convention: false }
}

/// An animal from outside; with a paper if one is named.
fn bought(id: &str, code: &str, paper: &str) -> Node {
    let papers = (!paper.is_empty()).then(|| OnFile { what: paper.to_owned(), official: false });
    Node {
        id: id.to_owned(),
        name: format!("animal {id}"),
        source: source(code),
        out_of: None,
        brood: None,
        papers: papers.into_iter().collect(),
    }
}

fn brood(id: &str, code: &str, dam: &str, sires: &[&str]) -> Node {
    let brood = Brood {
        sac: format!("sac of {id}"),
        dam: (!dam.is_empty()).then(|| dam.to_owned()),
        sires: sires.iter().map(|sire| (*sire).to_owned()).collect(),
        ..Brood::default()
    };
    Node { brood: Some(brood), name: format!("cohort {id}"), ..bought(id, code, "") }
}

fn out_of(id: &str, code: &str, cohort: &str) -> Node {
    Node { out_of: Some(cohort.to_owned()), ..bought(id, code, "") }
}

fn missing(subject: &str, nodes: &[Node]) -> Vec<String> {
    follow(subject, nodes).unwrap().missing.into_iter().map(|gap| gap.text).collect()
}

#[test]
fn each_founder_without_its_paper_is_named() {
    let nodes = [out_of("x", "C", "c"), brood("c", "C", "0001K", &["s"]), bought("0001K", "C", ""), bought("s", "C", "invoice 4")];
    assert_eq!(missing("x", &nodes), ["the acquisition paper of dam animal 0001K (bought in, source C) is missing"]);
    let mut whole = nodes;
    whole[2] = bought("0001K", "C", "declaration 3");
    assert!(follow("x", &whole).unwrap().complete());
}

#[test]
fn a_parent_who_is_neither_known_nor_stated_is_named() {
    let nodes = [brood("c", "C", "d", &[]), bought("d", "C", "permit")];
    assert_eq!(missing("c", &nodes), ["the sire of sac of c is not known and not stated"]);
    let nameless = [brood("c", "C", "", &["d"]), bought("d", "C", "permit")];
    assert_eq!(missing("c", &nameless), ["the dam of sac of c is not known and not stated"]);
    // Stated in words only: a paper on file with the brood is asked for.
    let mut stated = nodes.clone();
    stated[0].brood.as_mut().unwrap().sire_stated = "a male on loan".to_owned();
    assert_eq!(missing("c", &stated), ["a paper of the sire of sac of c (not one of this house's; stated: a male on loan) is missing"]);
    stated[0].papers.push(OnFile { what: "declaration of the male's owner".to_owned(), official: false });
    assert!(missing("c", &stated).is_empty());
}

#[test]
fn every_possible_sire_is_asked_for() {
    let nodes = [brood("c", "C", "d", &["s1", "s2"]), bought("d", "C", "paper"), bought("s1", "C", "paper"), bought("s2", "W", "")];
    assert_eq!(missing("c", &nodes), ["the acquisition paper of possible sire animal s2 (bought in, source W) is missing"]);
    let steps = follow("c", &nodes).unwrap().steps;
    assert_eq!(steps.iter().filter(|step| step.role == Role::PossibleSire).count(), 2);
}

#[test]
fn an_authoritys_paper_for_a_brood_stands_for_its_ancestors_who_are_still_shown() {
    let mut nodes = [out_of("x", "C", "c"), brood("c", "C", "d", &["s"]), bought("d", "C", ""), bought("s", "C", "")];
    nodes[1].papers.push(OnFile { what: "birth certificate 8".to_owned(), official: true });
    let chain = follow("x", &nodes).unwrap();
    assert!(chain.complete(), "{:?}", chain.missing);
    assert_eq!(chain.steps.len(), 4);
    // It does not stand for other broods of the same dam.
    let other = [nodes.to_vec(), vec![brood("c2", "C", "d", &["s"])]].concat();
    assert_eq!(missing("c2", &other).len(), 2);
}

/// Worked value: CITES Notification 1998/14.
#[test]
fn the_brood_of_a_wild_mated_dam_is_never_c_or_f() {
    for (code, can_be) in [("C", false), ("F", false), ("W", true), ("R", true)] {
        let mut nodes = [brood("c", code, "d", &["s"]), bought("d", "W", "permit 1"), bought("s", "W", "permit 2")];
        nodes[0].brood.as_mut().unwrap().dam_mated_in_wild = true;
        assert_eq!(follow("c", &nodes).unwrap().complete(), can_be, "{code}");
        let facts = CodeFacts { dam_mated_in_wild: true, ..facts(code, Some(0)) };
        assert!(["W", "R"].contains(&stated(&facts).source.code.code()), "{code}");
    }
}

#[test]
fn an_unknown_source_needs_a_paper_that_justifies_it() {
    let nodes = [brood("c", "U", "d", &["s"]), bought("d", "C", "paper"), bought("s", "C", "paper")];
    assert_eq!(missing("c", &nodes), ["the source of cohort c is not known (code U): a paper that justifies it is missing"]);
}

#[test]
fn an_ancestor_on_both_sides_stands_in_the_chain_once() {
    let nodes = [
        brood("c", "C", "d", &["s"]),
        out_of("d", "C", "b"),
        out_of("s", "C", "b"),
        brood("b", "C", "gd", &["gs"]),
        bought("gd", "W", "permit"),
        bought("gs", "W", ""),
    ];
    let chain = follow("c", &nodes).unwrap();
    let mut ids: Vec<&str> = chain.steps.iter().map(|step| step.id.as_str()).collect();
    ids.sort_unstable();
    assert_eq!(ids, ["b", "c", "d", "gd", "gs", "s"]);
    assert_eq!(chain.missing.len(), 1);
    let back = |id: &str| chain.steps.iter().find(|step| step.id == id).unwrap().back;
    assert_eq!((back("c"), back("d"), back("b"), back("gd")), (0, 1, 1, 2));
}

#[test]
fn circles_and_animals_that_are_not_given_are_errors() {
    let circle = [brood("c", "C", "d", &["s"]), out_of("d", "C", "c"), bought("s", "C", "x")];
    assert!(matches!(follow("c", &circle), Err(ChainError::Circle(_))));
    assert!(matches!(follow("c", &[brood("c", "C", "d", &[])]), Err(ChainError::NotGiven(_))));
    assert!(matches!(follow("d", &[bought("d", "C", ""), bought("d", "C", "")]), Err(ChainError::Twice(_))));
}

/// Worked values: wild × wild = F1, F1 × F1 = F2, wild × F2 = F1 (CITES Res. Conf. 10.16).
#[test]
fn generations_follow_the_convention_and_agree_over_possible_sires() {
    let nodes = [
        bought("w1", "W", ""),
        bought("w2", "W", ""),
        bought("w3", "W", ""),
        bought("u", "C", ""),
        brood("b1", "F", "w1", &["w2", "w3"]),
        out_of("x1", "F", "b1"),
        out_of("x2", "F", "b1"),
        brood("b2", "C", "x1", &["x2"]),
        out_of("y", "C", "b2"),
        brood("back", "C", "y", &["w1"]),
        brood("unsure", "C", "x1", &["w1", "x2"]),
        brood("open", "C", "x1", &["w1", "u"]),
    ];
    let all = generations(&nodes);
    let of = |id: &str| all[id].0.to_string();
    for (id, generation) in
        [("w1", "W"), ("b1", "F1"), ("x1", "F1"), ("b2", "F2"), ("y", "F2"), ("back", "F1"), ("unsure", "unknown"), ("open", "unknown")]
    {
        assert_eq!(of(id), generation, "{id}");
    }
}

fn facts(code: &str, generation: Option<u32>) -> CodeFacts {
    CodeFacts { recorded: source(code), bred_here: true, generation, dam_mated_in_wild: false, grounds: None, has_papers: false }
}

/// The stock test of 50 CFR 23.63: F2 has been produced, or the stock is managed so; else a first generation is F.
#[test]
fn c_of_a_first_generation_rests_on_a_leads_statement() {
    let code = |facts: &CodeFacts| stated(facts).source.code;
    assert_eq!(code(&facts("C", Some(1))), SourceCode::Born);
    for grounds in [Grounds::Managed, Grounds::SecondGeneration] {
        assert_eq!(code(&CodeFacts { grounds: Some(grounds), ..facts("C", Some(1)) }), SourceCode::Captive);
    }
    assert_eq!(code(&facts("C", Some(2))), SourceCode::Captive);
    assert_eq!(code(&facts("C", None)), SourceCode::Born);
    // None is raised: F stays F, and what was bought stays as its papers say.
    assert_eq!(code(&CodeFacts { grounds: Some(Grounds::Managed), ..facts("F", Some(3)) }), SourceCode::Born);
    assert_eq!(code(&CodeFacts { bred_here: false, ..facts("C", None) }), SourceCode::Captive);
    assert!(stated(&CodeFacts { bred_here: false, ..facts("C", None) }).basis.contains("no paper of it is on file"));
}

#[test]
fn the_chain_runs_from_outside() {
    let given = json!({"subject": "c", "nodes": [
        {"id": "c", "name": "cohort c", "source": {"code": "C", "pre_convention": false}, "brood": {"sac": "sac 1", "dam": "d", "sires": ["s"]}},
        {"id": "d", "name": "animal d", "source": {"code": "W", "pre_convention": false}, "papers": [{"what": "permit 4"}]},
        {"id": "s", "name": "animal s", "source": {"code": "W", "pre_convention": false}},
    ]});
    let got: Value = serde_json::from_str(&reckon("provenance-chain", &given.to_string()).unwrap()).unwrap();
    assert_eq!(got["complete"], false);
    assert_eq!(got["missing"][0]["about"], "s");
    assert_eq!(got["generation"], json!({"c": "F1", "d": "W", "s": "W"}));
    let mut wrong = given;
    wrong["nodes"][1]["id"] = json!("e");
    assert!(reckon("provenance-chain", &wrong.to_string()).unwrap_err().to_string().contains("is named, but is not among"));
    let code: Value = serde_json::from_str(
        &reckon(
            "captive-code",
            &json!({"recorded": {"code": "C", "pre_convention": true}, "bred_here": true, "generation": 1}).to_string(),
        )
        .unwrap(),
    )
    .unwrap();
    assert_eq!((code["code"].as_str(), code["pre_convention"].as_bool()), (Some("F"), Some(true)));
}

/// A chain by brute force: every founder within reach by any way, and every open parent.
fn brute(subject: &str, nodes: &[Node]) -> (usize, usize) {
    let mut reached = vec![subject.to_owned()];
    let mut at = 0;
    while at < reached.len() {
        let node = nodes.iter().find(|node| node.id == reached[at]).unwrap();
        let brood = node.brood.clone().unwrap_or_default();
        for next in node.out_of.iter().chain(&brood.dam).chain(&brood.sires) {
            if !reached.contains(next) {
                reached.push(next.clone());
            }
        }
        at += 1;
    }
    let of = |id: &String| nodes.iter().find(|node| node.id == *id).unwrap();
    let gaps = reached.iter().map(of).map(|node| match &node.brood {
        Some(brood) => usize::from(brood.dam.is_none()) + usize::from(brood.sires.is_empty()),
        None => usize::from(node.out_of.is_none() && node.papers.is_empty()),
    });
    (reached.len(), gaps.sum())
}

proptest! {
    /// Random pedigrees of broods: each node's parents stand before it, so there is no circle.
    #[test]
    fn a_chain_holds_whom_a_brute_force_search_finds(picks in proptest::collection::vec((0..40_usize, 0..40_usize, 0..4_u8), 1..30)) {
        let mut nodes: Vec<Node> = Vec::new();
        for (place, (one, other, kind)) in picks.iter().enumerate() {
            let id = format!("n{place}");
            let before = |pick: usize| (place > 0).then(|| format!("n{}", pick % place.max(1)));
            nodes.push(match (kind, before(*one), before(*other)) {
                (0, Some(one), Some(other)) => brood(&id, "C", &one, &[&other]),
                (1, Some(one), _) => brood(&id, "C", &one, &[]),
                (2, Some(one), _) => out_of(&id, "C", &one),
                (3, ..) => bought(&id, "C", "paper"),
                _ => bought(&id, "C", ""),
            });
        }
        let subject = format!("n{}", nodes.len() - 1);
        let chain = follow(&subject, &nodes).unwrap();
        prop_assert_eq!((chain.steps.len(), chain.missing.len()), brute(&subject, &nodes));
    }
}
