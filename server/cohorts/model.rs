//! Cohorts: spiderlings counted together, from one sac or one bought batch.

pub mod family;
pub mod losses;
pub mod tally;

use chrono::NaiveDate;

pub use tally::CountCheck;

use crate::house::ids::{CohortId, LineId, SacId, ShelfId, SignoffId, SpeciesId};
use crate::reckoning::ledger::{Bucket, Line, LineKind, Stage};
use crate::reckoning::provenance::Source;
use crate::reckoning::provenance::SourceCode;
use crate::reckoning::words::LossCause;
use crate::text_columns;

coded_enum! {
    /// Where a cohort comes from.
    CohortOrigin, "origin" {
        Sac = "sac", "from a sac";
        Bought = "bought", "bought in";
        Split = "split", "split from another cohort";
    }
}

coded_enum! {
    /// How the spiderlings of a cohort are kept.
    Housing, "housing" {
        Communal = "communal", "together in one tub";
        Vials = "vials", "one to a vial";
    }
}

text_columns! { CohortOrigin, Housing }

/// A cohort.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Cohort {
    /// Its id.
    pub id: CohortId,
    /// Its short code, as labels carry it.
    pub code: String,
    /// Its species.
    pub species_id: SpeciesId,
    /// The accepted name of its species.
    pub species: String,
    /// Where it comes from.
    pub origin: CohortOrigin,
    /// The sac, if it came from one.
    pub sac_id: Option<SacId>,
    /// The cohort that it was split from.
    pub parent_cohort_id: Option<CohortId>,
    /// That cohort's code.
    pub parent_code: Option<String>,
    /// The supplier of a bought batch.
    pub supplier: String,
    /// The papers that came with it.
    pub papers: String,
    /// The CITES source code.
    pub source_code: SourceCode,
    /// Whether code O stands beside it.
    pub pre_convention: bool,
    /// The locality or line.
    pub locality: String,
    /// The day from which it is counted.
    pub started_on: NaiveDate,
    /// How the spiderlings are kept.
    pub housing: Housing,
    /// The day they were put into vials.
    pub separated_on: Option<NaiveDate>,
    /// The shelf.
    pub shelf_id: Option<ShelfId>,
    /// The position on the shelf.
    pub position: Option<i64>,
    /// Room, rack and shelf in words.
    pub place: Option<String>,
    /// An estimate of leg span, mm.
    pub span_mm: Option<i64>,
    /// A note.
    pub note: String,
}

impl Cohort {
    /// The source code as papers carry it: `C`, or `C/O` before the Convention.
    #[must_use]
    pub fn source(&self) -> String {
        format!("{}{}", self.source_code.code(), if self.pre_convention { "/O" } else { "" })
    }

    /// The source code with its mark.
    #[must_use]
    pub fn full_source(&self) -> Source {
        Source { code: self.source_code, pre_convention: self.pre_convention }
    }

    /// The species' name with its genus cut to a letter, as labels carry it: `P. regalis`.
    #[must_use]
    pub fn short_species(&self) -> String {
        short_species(&self.species)
    }
}

/// A species' name with its genus cut to a letter: `Poecilotheria regalis` becomes `P. regalis`.
#[must_use]
pub fn short_species(name: &str) -> String {
    match name.split_once(' ') {
        Some((genus, rest)) => format!("{}. {rest}", genus.chars().take(1).collect::<String>()),
        None => name.to_owned(),
    }
}

/// The letters that the codes of a species' cohorts begin with: one of the genus, three of the epithet.
#[must_use]
pub fn code_letters(name: &str) -> String {
    let mut words = name.split_whitespace();
    let genus = words.next().unwrap_or_default().chars().take(1);
    let letters: String = genus.chain(words.next().unwrap_or_default().chars().take(3)).filter(char::is_ascii_alphabetic).collect();
    if letters.is_empty() { "X".to_owned() } else { letters.to_uppercase() }
}

/// Where a new cohort comes from.
#[derive(Debug, Clone)]
pub enum NewOrigin {
    /// A sac.
    Sac(SacId),
    /// A batch that was bought.
    Bought {
        /// From whom.
        supplier: String,
        /// With which papers.
        papers: String,
    },
    /// Another cohort of this house.
    Split(CohortId),
}

/// A checked cohort.
#[derive(Debug, Clone)]
pub struct NewCohort {
    /// Its code; one is made when none is given.
    pub code: Option<String>,
    /// Its species.
    pub species_id: SpeciesId,
    /// Where it comes from.
    pub origin: NewOrigin,
    /// Its source code.
    pub source: Source,
    /// The locality or line; may be empty.
    pub locality: String,
    /// The day from which it is counted.
    pub started_on: NaiveDate,
    /// How the spiderlings are kept.
    pub housing: Housing,
    /// The shelf.
    pub shelf: Option<ShelfId>,
    /// The position on the shelf.
    pub position: Option<i64>,
    /// An estimate of leg span, mm.
    pub span_mm: Option<i64>,
    /// A note; may be empty.
    pub note: String,
    /// How many came in at each stage on the first day.
    pub counts: Vec<(Stage, u32)>,
}

/// A checked line for the ledger.
#[derive(Debug, Clone)]
pub struct NewLine {
    /// The local day that it happened.
    pub day: NaiveDate,
    /// What happened.
    pub kind: LineKind,
    /// Where the quantity leaves.
    pub from: Bucket,
    /// Where it goes.
    pub to: Bucket,
    /// How many.
    pub quantity: u32,
    /// Why they were lost; only on a loss.
    pub cause: Option<LossCause>,
    /// The sign-off that brought it.
    pub signoff: Option<SignoffId>,
    /// A note; may be empty.
    pub note: String,
}

impl NewLine {
    fn new(day: NaiveDate, kind: LineKind, from: Bucket, to: Bucket, quantity: u32) -> Self {
        Self { day, kind, from, to, quantity, cause: None, signoff: None, note: String::new() }
    }

    /// So many came in at a stage.
    #[must_use]
    pub fn received(day: NaiveDate, stage: Stage, quantity: u32) -> Self {
        Self::new(day, LineKind::Received, Bucket::In, Bucket::Stage(stage), quantity)
    }

    /// So many moulted on.
    #[must_use]
    pub fn moulted(day: NaiveDate, from: Stage, to: Stage, quantity: u32) -> Self {
        Self::new(day, LineKind::Moulted, Bucket::Stage(from), Bucket::Stage(to), quantity)
    }

    /// So many were lost.
    #[must_use]
    pub fn lost(day: NaiveDate, stage: Stage, quantity: u32, cause: LossCause) -> Self {
        Self { cause: Some(cause), ..Self::new(day, LineKind::Lost, Bucket::Stage(stage), Bucket::Lost, quantity) }
    }

    /// So many were sold.
    #[must_use]
    pub fn sold(day: NaiveDate, stage: Stage, quantity: u32) -> Self {
        Self::new(day, LineKind::Sold, Bucket::Stage(stage), Bucket::Sold, quantity)
    }

    /// So many became animals of their own.
    #[must_use]
    pub fn tagged(day: NaiveDate, stage: Stage, quantity: u32) -> Self {
        Self::new(day, LineKind::Tagged, Bucket::Stage(stage), Bucket::Tagged, quantity)
    }

    /// So many left for another cohort.
    #[must_use]
    pub fn moved(day: NaiveDate, stage: Stage, quantity: u32) -> Self {
        Self::new(day, LineKind::Moved, Bucket::Stage(stage), Bucket::Moved, quantity)
    }

    /// With a note.
    #[must_use]
    pub fn with_note(self, note: impl Into<String>) -> Self {
        Self { note: note.into(), ..self }
    }

    /// Brought by a sign-off.
    #[must_use]
    pub fn by_signoff(self, signoff: Option<SignoffId>) -> Self {
        Self { signoff, ..self }
    }
}

/// A line as it stands in the ledger.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct EnteredLine {
    /// Its id.
    pub id: LineId,
    /// The day that it happened.
    pub day: NaiveDate,
    /// What happened.
    pub kind: LineKind,
    /// From where.
    pub from_bucket: Bucket,
    /// To where.
    pub to_bucket: Bucket,
    /// How many.
    pub quantity: u32,
    /// Why they were lost.
    pub cause: Option<LossCause>,
    /// The line that it takes back.
    pub reverses_id: Option<LineId>,
    /// The line that takes it back.
    pub reversed_by: Option<LineId>,
    /// For arrivals from another cohort: the line by which they left it.
    pub moved_line_id: Option<LineId>,
    /// How many animals it tagged.
    pub animals: i64,
    /// Whether a handover brought it.
    pub at_handover: bool,
    /// A note.
    pub note: String,
    /// Who entered it.
    pub member_name: Option<String>,
}

impl EnteredLine {
    /// The line as the reckoning takes it.
    #[must_use]
    pub fn line(&self) -> Line {
        Line {
            id: self.id.0,
            day: self.day,
            from: self.from_bucket,
            to: self.to_bucket,
            quantity: self.quantity,
            kind: self.kind,
            cause: self.cause,
            reverses: self.reverses_id.map(|id| id.0),
        }
    }

    /// Whether it can be taken back from the cohort's page.
    #[must_use]
    pub fn reversible(&self) -> bool {
        self.kind != LineKind::Reversal && self.reversed_by.is_none() && self.animals == 0 && !self.at_handover
    }
}

/// How many stand at a stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, sqlx::FromRow)]
pub struct StageCount {
    /// The stage.
    pub stage: Stage,
    /// How many.
    pub quantity: i64,
}

/// What a cohort in vials did with a meal.
#[derive(Debug, Clone)]
pub struct NewCohortMeal {
    /// The local day.
    pub day: NaiveDate,
    /// What was offered.
    pub prey: String,
    /// How many took it.
    pub took: u32,
    /// How many refused it, the prey taken out.
    pub refused: u32,
    /// In how many vials it was left in.
    pub left_in: u32,
    /// The sign-off that brought it.
    pub signoff: Option<SignoffId>,
}

/// Another place for a cohort.
#[derive(Debug, Clone)]
pub struct NewCohortMove {
    /// The local day.
    pub day: NaiveDate,
    /// The shelf.
    pub shelf: Option<ShelfId>,
    /// The position on the shelf.
    pub position: Option<i64>,
    /// The sign-off that brought it.
    pub signoff: Option<SignoffId>,
}

/// Spiderlings to be made animals of their own.
#[derive(Debug, Clone)]
pub struct NewTags {
    /// The local day.
    pub day: NaiveDate,
    /// The stage at which they are.
    pub stage: Stage,
    /// How many.
    pub quantity: u32,
    /// Their shelf.
    pub shelf: Option<ShelfId>,
    /// A note; may be empty.
    pub note: String,
}

/// Spiderlings to be counted as a cohort of their own.
#[derive(Debug, Clone)]
pub struct NewSplit {
    /// The local day.
    pub day: NaiveDate,
    /// The stage at which they are.
    pub stage: Stage,
    /// How many.
    pub quantity: u32,
    /// The new cohort's code; one is made when none is given.
    pub code: Option<String>,
    /// Its shelf.
    pub shelf: Option<ShelfId>,
    /// Its position on the shelf.
    pub position: Option<i64>,
    /// A note; may be empty.
    pub note: String,
}
