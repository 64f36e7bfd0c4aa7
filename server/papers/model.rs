//! Issued papers and the facts that a care sheet is made of.

mod chain;
mod issued;
mod settings;

use chrono::NaiveDate;

pub use chain::{
    ChainRow, Document, DocumentKind, Kin, KinFacts, NewDocument, NewStatement, Provenance, SacFacts, StockStatement, source_code,
};
pub(super) use issued::marked;
pub use issued::{About, Issued, NewPaper, PERSON, Paper, PaperKind, PaperLine, whole};
pub use settings::{LabelSheet, LawPlace, PaperSettings};

use crate::house::ids::{AnimalId, CohortId, HandoverId, HandoverLineId};
use crate::reckoning::hazard::{Hazard, HazardFacts};
use crate::reckoning::language::Language;
use crate::reckoning::planner::FeedState;
use crate::reckoning::provenance::SourceCode;
use crate::reckoning::stage::Stage;
use crate::reckoning::words::{LifeStage, Sex, SexBasis, SpanMethod};
use crate::species::model::text::{ChosenText, TextFigures};
use crate::species::model::{CareStage, Listing, Species};

/// What a care sheet is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Subject {
    /// A tagged animal.
    Animal(AnimalId),
    /// A number out of a cohort.
    Lot {
        /// The cohort.
        cohort: CohortId,
        /// The stage.
        stage: Stage,
        /// How many.
        quantity: u32,
    },
}

impl Subject {
    /// Whose provenance it has.
    #[must_use]
    pub fn kin(self) -> Kin {
        match self {
            Self::Animal(animal) => Kin::Animal(animal),
            Self::Lot { cohort, .. } => Kin::Cohort(cohort),
        }
    }
}

/// What to issue.
#[derive(Debug, Clone, Copy)]
pub struct NewSheet {
    /// The handover.
    pub handover: HandoverId,
    /// Its line.
    pub line: HandoverLineId,
    /// What leaves by that line.
    pub subject: Subject,
}

/// Where an animal or lot comes from. Parents and suppliers are left off: they are other animals and other people.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum OriginFacts {
    /// Bought.
    Bought {
        /// In this house since.
        since: NaiveDate,
    },
    /// From a sac of this house.
    Hatched {
        /// When the sac was laid.
        laid_on: NaiveDate,
        /// The cohort's code.
        cohort: String,
    },
    /// Out of a batch that was bought.
    BoughtBatch {
        /// In this house since.
        since: NaiveDate,
        /// The cohort's code.
        cohort: String,
    },
    /// Out of a cohort that was split off another.
    Split {
        /// When it was split off.
        since: NaiveDate,
        /// The cohort's code.
        cohort: String,
    },
}

/// What the book knows of the animal or lot that leaves.
#[derive(Debug, Clone)]
pub struct SubjectFacts {
    /// The tag, or the cohort's code.
    pub label: String,
    /// How many: nothing for a single tagged animal.
    pub count: Option<u32>,
    /// Its life stage.
    pub life_stage: LifeStage,
    /// Its stage, where known.
    pub stage: Option<Stage>,
    /// Its sex.
    pub sex: Sex,
    /// What the sex rests on.
    pub sex_basis: SexBasis,
    /// Where it comes from.
    pub origin: OriginFacts,
    /// Its CITES source code.
    pub source: SourceCode,
    /// Whether code O stands beside it.
    pub pre_convention: bool,
    /// The locality or line; may be empty.
    pub locality: String,
    /// Its leg span (DLS), mm.
    pub span_mm: Option<i64>,
    /// How the leg span was taken.
    pub span_method: Option<SpanMethod>,
    /// When.
    pub span_on: Option<NaiveDate>,
    /// The day of its last moult; for a lot, of the latest that moulted to this stage.
    pub last_moult: Option<NaiveDate>,
    /// The day of the last meal that was taken.
    pub last_meal: Option<NaiveDate>,
    /// What that was; may be empty.
    pub last_prey: String,
    /// When the next meal is due; nothing where none is planned.
    pub next_feed: Option<FeedState>,
    /// Its hazard band with the reasons.
    pub hazard: Hazard,
    /// What bears on people's safety.
    pub risk: HazardFacts,
}

/// Everything that a care sheet says.
#[derive(Debug, Clone)]
pub struct SheetFacts {
    /// The house's name.
    pub house: String,
    /// The house's address, a line each.
    pub address: Vec<String>,
    /// The paper's number.
    pub number: String,
    /// Its revision.
    pub revision: i64,
    /// The local day.
    pub day: NaiveDate,
    /// The species.
    pub species: Species,
    /// Its common name, if it has one.
    pub common_name: Option<String>,
    /// The animal's or lot's own facts.
    pub subject: SubjectFacts,
    /// Care by stage, from its present stage on.
    pub care: Vec<CareStage>,
    /// What lists of law and convention said.
    pub listings: Vec<Listing>,
    /// The text that it is printed with.
    pub text: ChosenText,
    /// What the fields of the text stand for.
    pub figures: TextFigures,
    /// The language of the house.
    pub house_language: Language,
    /// Whether it is only shown, and about no animal.
    pub specimen: bool,
}

/// The life stage of a number out of a cohort: spiderlings, unless somebody measured them larger.
#[must_use]
pub fn lot_life_stage(species: &Species, span_mm: Option<i64>) -> LifeStage {
    span_mm.map_or(LifeStage::Spiderling, |span| species.life_stage(Some(span), false))
}
