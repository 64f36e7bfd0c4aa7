//! A tagged animal, and what can be noted of it.

pub mod growth;
pub mod holdback;
pub mod list;
pub mod moults;
pub mod sexing;
pub mod timeline;

use chrono::NaiveDate;

use crate::house::ids::{AnimalId, LineId, PreyKindId, ShelfId, SignoffId, SpeciesId};
use crate::reckoning::condition::Condition;
use crate::reckoning::provenance::{Source, SourceCode};
use crate::reckoning::words::{LifeStage, LossCause, MealOutcome, MoultState, Sex, SexBasis, SpanKind, SpanMethod};
use crate::species;

coded_enum! {
    /// Whether an animal is in the house, and if not, how it left.
    AnimalStatus, "status" {
        Alive = "alive", "alive";
        Dead = "dead", "dead";
        Sold = "sold", "sold";
        Escaped = "escaped", "escaped";
    }
}

coded_enum! {
    /// Where a tagged animal came from.
    Origin, "origin" {
        Cohort = "cohort", "a cohort of this house";
        Bought = "bought", "bought in";
    }
}

crate::text_columns! { AnimalStatus, Origin }

/// A tagged animal as it stands: its own row, its species' name, and what its entries add up to.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Animal {
    /// Its id.
    pub id: AnimalId,
    /// Its tag.
    pub tag: String,
    /// Its species.
    pub species_id: SpeciesId,
    /// Its species' accepted name.
    pub species_name: String,
    /// The least leg span of adults of its species, mm.
    pub adult_span_min_mm: u32,
    /// Where it came from.
    pub origin: Origin,
    /// The ledger line that tagged it, when it came from a cohort.
    pub origin_line_id: Option<LineId>,
    /// Who sold it to the house; empty when nobody did.
    pub supplier: String,
    /// The papers that came with it.
    pub papers: String,
    /// Its CITES source code.
    pub source_code: SourceCode,
    /// Whether it was acquired before its species was listed.
    pub pre_convention: bool,
    /// Where its line comes from.
    pub locality: String,
    /// The day it hatched, where that is known.
    pub born_on: Option<NaiveDate>,
    /// The day it came under this house's care as a tagged animal.
    pub started_on: NaiveDate,
    /// Its sex.
    pub sex: Sex,
    /// What its sex rests on.
    pub sex_basis: SexBasis,
    /// The day it was first seen to be a mature male.
    pub mature_on: Option<NaiveDate>,
    /// Its instar when it came under care, where that is known.
    pub start_instar: Option<i64>,
    /// Whether it is in the house.
    pub status: AnimalStatus,
    /// The day it left.
    pub status_on: Option<NaiveDate>,
    /// Why it was lost.
    pub loss_cause: Option<LossCause>,
    /// Its shelf.
    pub shelf_id: Option<ShelfId>,
    /// Its shelf in words.
    pub place: Option<String>,
    /// Its position on the shelf.
    pub position: Option<i64>,
    /// Inner floor length of its enclosure, mm.
    pub enclosure_length_mm: Option<i64>,
    /// Inner floor width of its enclosure, mm.
    pub enclosure_width_mm: Option<i64>,
    /// Gap from substrate to lid, mm.
    pub fall_gap_mm: Option<i64>,
    /// Why it must be rehoused whatever its size; empty when it need not.
    pub rehouse_note: String,
    /// What else there is to know.
    pub note: String,
    /// Counts the changes of this row, so that a stale page is noticed.
    pub version: i64,
    /// The day of its last moult.
    pub last_moult_on: Option<NaiveDate>,
    /// How many moults are on record.
    pub moults_here: i64,
    /// How many of them came since it was tagged.
    pub moults_since_start: i64,
    /// Its last leg span (DLS), mm.
    pub span_mm: Option<i64>,
    /// How that was taken.
    pub span_method: Option<SpanMethod>,
    /// The day that was taken.
    pub span_on: Option<NaiveDate>,
    /// Its last meal that stands.
    pub last_meal_id: Option<i64>,
    /// The last moult sign that stands.
    pub last_sign_id: Option<i64>,
    /// What was last seen of its moult, and not outdated by a moult since.
    pub moult_state: MoultState,
}

impl Animal {
    /// Its instar now: the one it came with and one for each moult since; none when nobody knows.
    #[must_use]
    pub fn instar(&self) -> Option<i64> {
        self.start_instar.map(|start| start + self.moults_since_start)
    }

    /// Whether it is in the house and alive.
    #[must_use]
    pub fn is_alive(&self) -> bool {
        self.status == AnimalStatus::Alive
    }

    /// Whether it is known to be a mature male.
    #[must_use]
    pub fn is_mature(&self) -> bool {
        self.sex_basis == SexBasis::Mature || self.mature_on.is_some()
    }

    /// The part of life that its care follows.
    #[must_use]
    pub fn life_stage(&self) -> LifeStage {
        species::model::life_stage(self.span_mm, self.is_mature(), self.adult_span_min_mm)
    }
}

/// Where a new animal comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NewOrigin {
    /// One of those that a ledger line tagged.
    Cohort(LineId),
    /// Bought in.
    Bought {
        /// From whom.
        supplier: String,
        /// With which papers.
        papers: String,
    },
}

/// A checked new animal. Begin with [`NewAnimal::new`] and fill in what is known.
#[derive(Debug, Clone)]
pub struct NewAnimal {
    /// Its tag as normalised; none: one is made.
    pub tag: Option<String>,
    /// Its species.
    pub species: SpeciesId,
    /// Where it comes from.
    pub origin: NewOrigin,
    /// Its source code.
    pub source: Source,
    /// Where its line comes from.
    pub locality: String,
    /// The day it hatched.
    pub born_on: Option<NaiveDate>,
    /// The day it comes under care as a tagged animal.
    pub started_on: NaiveDate,
    /// Its sex.
    pub sex: Sex,
    /// What that rests on; [`SexBasis::None`] for the unsexed.
    pub sex_basis: SexBasis,
    /// Its instar on the day it starts.
    pub instar: Option<i64>,
    /// Its length on the day it starts.
    pub span: Option<NewSpan>,
    /// Its shelf.
    pub shelf: Option<ShelfId>,
    /// Its position on the shelf.
    pub position: Option<i64>,
    /// Its enclosure.
    pub enclosure: Option<Enclosure>,
    /// What else there is to know.
    pub note: String,
}

impl NewAnimal {
    /// An animal of which only the most needful is known.
    #[must_use]
    pub fn new(species: SpeciesId, origin: NewOrigin, source: Source, started_on: NaiveDate) -> Self {
        Self {
            tag: None,
            species,
            origin,
            source,
            locality: String::new(),
            born_on: None,
            started_on,
            sex: Sex::Unknown,
            sex_basis: SexBasis::None,
            instar: None,
            span: None,
            shelf: None,
            position: None,
            enclosure: None,
            note: String::new(),
        }
    }
}

/// The inner measures of an enclosure, mm.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Enclosure {
    /// Floor length.
    pub length_mm: i64,
    /// Floor width, where somebody took it.
    pub width_mm: Option<i64>,
    /// Gap from substrate to lid, where somebody took it.
    pub fall_gap_mm: Option<i64>,
}

/// A length that was taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NewSpan {
    /// Of what.
    pub kind: SpanKind,
    /// In mm.
    pub mm: i64,
    /// How.
    pub method: SpanMethod,
}

/// How well fed an animal looked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NewCondition {
    /// The local day.
    pub day: NaiveDate,
    /// The score.
    pub condition: Condition,
    /// The widths of abdomen and carapace that it was reckoned from, in tenths of a millimetre.
    pub widths: Option<(u32, u32)>,
}

/// An offer of prey.
#[derive(Debug, Clone)]
pub struct NewMeal {
    /// The local day.
    pub day: NaiveDate,
    /// What was offered; empty when nobody said.
    pub prey: String,
    /// What became of it.
    pub outcome: MealOutcome,
    /// The sign-off that brought it.
    pub signoff: Option<SignoffId>,
}

/// What a meal takes from the stock of prey.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Offer {
    /// The kind and size.
    pub kind: PreyKindId,
    /// How many at a meal.
    pub each: u32,
    /// Pre-killed or cut: what is refused does not go back.
    pub killed: bool,
}

/// A moult.
#[derive(Debug, Clone)]
pub struct NewMoult {
    /// The local day.
    pub day: NaiveDate,
    /// Whether the shed skin was kept.
    pub skin_kept: bool,
    /// What else was seen.
    pub note: String,
    /// A length taken after it.
    pub span: Option<NewSpan>,
    /// The sign-off that brought it.
    pub signoff: Option<SignoffId>,
}

/// A move to another place, or into another enclosure, or both.
#[derive(Debug, Clone)]
pub struct NewMove {
    /// The local day.
    pub day: NaiveDate,
    /// Where it stands from now on.
    pub shelf: Option<ShelfId>,
    /// Its position on the shelf.
    pub position: Option<i64>,
    /// Whether it went into another enclosure.
    pub rehoused: bool,
    /// The other enclosure's measures.
    pub enclosure: Option<Enclosure>,
    /// The sign-off that brought it.
    pub signoff: Option<SignoffId>,
}
