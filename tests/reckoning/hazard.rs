use silkward::reckoning::hazard::{
    Band, ExposureTable, HazardFacts, IndividualCaution, Requirement, TableError, assess, cautions_text, rehouse_checklist,
};
use silkward::reckoning::words::{Exposure, LifeStage, Setae, Venom};

/// A placid species of a venom class, adult.
fn facts(venom: Venom, setae: Setae) -> HazardFacts {
    HazardFacts {
        venom,
        setae,
        defensive: false,
        very_fast: false,
        adult_span_max_mm: 150,
        life_stage: LifeStage::Adult,
        cautions: Vec::new(),
    }
}

fn level(facts: &HazardFacts) -> u8 {
    assess(facts).band.level()
}

// Worked value: cramp rates by subfamily in 363 published bites (Hauke & Herzig 2021); “moderate” and “mild” are a
// project classification, common practice, no source.
#[test]
fn venom_of_concern_sets_the_band_at_every_life_stage() {
    for life_stage in LifeStage::ALL {
        for (venom, band) in [(Venom::Significant, 3), (Venom::Moderate, 2)] {
            let facts = HazardFacts { life_stage: *life_stage, ..facts(venom, Setae::None) };
            assert_eq!(level(&facts), band, "{venom} {life_stage}");
        }
    }
}

// Common practice, no source.
#[test]
fn mild_species_are_banded_by_setae_fangs_and_temper_from_juvenile_on() {
    let plain = facts(Venom::Mild, Setae::None);
    let fanged = HazardFacts { adult_span_max_mm: 200, ..plain.clone() };
    let smaller = HazardFacts { adult_span_max_mm: 199, ..plain.clone() };
    let quick = HazardFacts { very_fast: true, ..plain.clone() };
    let quick_and_cross = HazardFacts { defensive: true, ..quick.clone() };
    assert_eq!([&plain, &smaller, &quick].map(level), [0, 0, 0]);
    assert_eq!([&fanged, &quick_and_cross].map(level), [1, 1]);
    for setae in Setae::ALL {
        let grown = facts(Venom::Mild, *setae);
        assert_eq!(level(&grown), u8::from(*setae != Setae::None), "{setae}");
        let tiny = HazardFacts { life_stage: LifeStage::Spiderling, ..grown };
        assert_eq!(level(&tiny), 0, "{setae}");
    }
}

// Worked value: Psalmopoeus irminia and Dolichothele diamantinensis have no urticating setae; Ephebopus
// cyanognathus has them on the palps (Foelix, Rast & Erb 2009). So setae come from the facts, never from the world.
#[test]
fn a_new_world_species_need_not_have_abdominal_setae() {
    let bare = facts(Venom::Moderate, Setae::None);
    let palps = facts(Venom::Moderate, Setae::Palps);
    let mentions = |facts: &HazardFacts| {
        let said = [assess(facts).reasons, cautions_text(facts)].concat().join(" ");
        (said.contains("setae"), said.contains("abdomen"))
    };
    assert_eq!(mentions(&bare), (false, false));
    assert_eq!(mentions(&palps), (true, false));
    assert!(!rehouse_checklist(&bare).join(" ").contains("setae"));
    assert!(rehouse_checklist(&palps).join(" ").contains("face cover"));
}

#[test]
fn a_caution_raises_and_never_lowers() {
    let caution = |level| IndividualCaution { level: Band::new(level).unwrap(), text: "struck at the forceps".to_owned() };
    let calm = HazardFacts { cautions: vec![caution(2)], ..facts(Venom::Mild, Setae::None) };
    let grave = HazardFacts { cautions: vec![caution(0), caution(1)], ..facts(Venom::Significant, Setae::None) };
    assert_eq!((level(&calm), level(&grave)), (2, 3));
    assert!(assess(&calm).reasons.join(" ").contains("raised by a caution"));
    assert!(cautions_text(&calm).contains(&"struck at the forceps".to_owned()));
}

#[test]
fn the_default_table() {
    let table = ExposureTable::default();
    let expected = [[0, 0, 0], [0, 1, 1], [0, 1, 2], [0, 2, 3]];
    for (band, row) in Band::ALL.into_iter().zip(expected) {
        for (exposure, clearance) in Exposure::ALL.iter().zip(row) {
            let persons = if (band.level(), *exposure) == (3, Exposure::HandsIn) { 2 } else { 1 };
            assert_eq!(table.required(band, *exposure), Requirement { clearance, persons });
        }
    }
}

#[test]
fn the_table_tightens_and_never_loosens() {
    let (band, near) = (Band::new(3).unwrap(), Exposure::HandsIn);
    let mut table = ExposureTable::default();
    for (clearance, persons) in [(2, 2), (3, 1), (4, 2), (3, 3), (3, 0)] {
        assert!(table.tighten(band, near, Requirement { clearance, persons }).is_err());
    }
    assert_eq!(table, ExposureTable::default());
    let strict = Requirement { clearance: 3, persons: 2 };
    table.tighten(band, Exposure::Open, strict).unwrap();
    assert_eq!(table.required(band, Exposure::Open), strict);
    // Back to the default is a loosening of the house's own rule, which the house may do.
    let default = ExposureTable::default_requirement(band, Exposure::Open);
    table.tighten(band, Exposure::Open, default).unwrap();
    assert_eq!(table.required(band, Exposure::Open), default);
    let refused = table.tighten(band, near, Requirement { clearance: 0, persons: 1 }).unwrap_err();
    assert!(matches!(refused, TableError::Looser { clearance: 3, persons: 2, .. }));
}

#[test]
fn bands_have_words_and_bounds() {
    assert_eq!(Band::ALL.map(Band::word), ["ordinary care", "take care", "risky", "dangerous"]);
    assert_eq!(Band::new(4), None);
    assert!(serde_json::from_str::<Band>("7").is_err());
}

// Common practice, no source.
#[test]
fn the_rehouse_checklist_grows_with_the_band() {
    let tools = |venom| rehouse_checklist(&facts(venom, Setae::None));
    let (mild, moderate, grave) = (tools(Venom::Mild), tools(Venom::Moderate), tools(Venom::Significant));
    assert!(mild.len() < moderate.len() && moderate.len() < grave.len());
    assert!(grave.contains(&"second person in the room and briefed"));
}
