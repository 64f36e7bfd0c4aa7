//! Which source code a statement of origin gives, and why: C against F by the test of the breeding stock (50 CFR 23.63, which carries
//! CITES Res. Conf. 10.16), W for a wild-mated dam's brood (CITES Notification 1998/14). It records; it does not decide law.

use serde::{Deserialize, Serialize};

use super::pedigree::Generation;
use super::provenance::{Source, SourceCode};

coded_enum! {
    /// Why a lead says that breeding stock meets the test for code C (50 CFR 23.63).
    Grounds, "ground" {
        SecondGeneration = "second-generation", "the stock has produced a second or later generation (F2)";
        Managed = "managed", "the stock is managed in a way shown to produce a second generation reliably, and has produced F1";
    }
}

/// What bears on the code that a statement gives.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CodeFacts {
    /// The source in the book.
    pub recorded: Source,
    /// Whether it hatched in this house.
    pub bred_here: bool,
    /// Its captive generation: 0 for W, 1 for F1 and on; nothing where it is not known.
    pub generation: Option<u32>,
    /// Whether its dam was mated in the wild.
    #[serde(default)]
    pub dam_mated_in_wild: bool,
    /// A lead's standing statement on the breeding stock.
    #[serde(default)]
    pub grounds: Option<Grounds>,
    /// Whether papers came with what was bought in.
    #[serde(default)]
    pub has_papers: bool,
}

/// The code that a statement gives.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stated {
    /// The source.
    pub source: Source,
    /// Why, in one sentence without a full stop.
    pub basis: String,
}

/// The number of a captive generation: 0 for W, 1 for F1; nothing where it is not known.
pub fn generation_number(generation: Generation) -> Option<u32> {
    match generation {
        Generation::Wild => Some(0),
        Generation::Filial(number) => Some(number),
        Generation::Unknown => None,
    }
}

/// The code that a statement of origin gives, with its reason. It never gives a higher one than the book has.
pub fn stated(facts: &CodeFacts) -> Stated {
    let recorded = facts.recorded.code;
    let (code, basis) = match recorded {
        SourceCode::Captive | SourceCode::Born if facts.dam_mated_in_wild => {
            (SourceCode::Wild, "its dam was mated in the wild, so it is W (or R) and never C or F (CITES Notification 1998/14)".to_owned())
        }
        SourceCode::Captive if facts.bred_here => captive(facts),
        SourceCode::Born if facts.bred_here => (recorded, "born in captivity; the stock test for code C is not claimed".to_owned()),
        _ if facts.bred_here => (recorded, "as recorded when the sac was opened".to_owned()),
        _ if facts.has_papers => (recorded, "as the papers say that came with it".to_owned()),
        _ => (recorded, "as recorded when it came into the house; no paper of it is on file".to_owned()),
    };
    Stated { source: Source { code, pre_convention: facts.recorded.pre_convention }, basis }
}

fn captive(facts: &CodeFacts) -> (SourceCode, String) {
    match (facts.generation, facts.grounds) {
        (Some(number), _) if number >= 2 => (
            SourceCode::Captive,
            format!("the book shows generation F{number}: the stock has produced a second or later generation (50 CFR 23.63)"),
        ),
        (Some(1), Some(grounds)) => (SourceCode::Captive, format!("F1, and a lead's statement says: {grounds} (50 CFR 23.63)")),
        (Some(1), None) => (
            SourceCode::Born,
            "F1, and nobody has stated that the breeding stock meets the test for code C (50 CFR 23.63), so F".to_owned(),
        ),
        (Some(_), _) => (SourceCode::Wild, "taken from the wild".to_owned()),
        (None, _) => (SourceCode::Born, "its captive generation is not known, so code C can't be shown (50 CFR 23.63): F".to_owned()),
    }
}
