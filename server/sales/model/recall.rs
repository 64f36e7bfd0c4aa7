//! Recalls: from one animal or cohort to what is related to it, and to whoever has it now.

use chrono::{DateTime, NaiveDate, Utc};

use crate::house::ids::{AnimalId, BuyerId, CohortId, HandoverId, HandoverLineId, PaperId, RecallId};
use crate::reckoning::stage::Stage;
use crate::text_columns;

coded_enum! {
    /// Why related animals are looked for.
    RecallReason, "reason of a recall" {
        Nematodes = "nematodes", "nematodes were found";
        Mites = "mites", "mites were found";
        WrongSpecies = "wrong-species", "the species was named wrongly";
        Illness = "illness", "an illness was seen";
        Other = "other", "something else was found";
    }
}

coded_enum! {
    /// How something is related to what a recall began with.
    Relation, "relation in a recall" {
        Itself = "itself", "where the recall began";
        Mate = "mate", "cohort mate";
        Descendant = "descendant", "descendant";
        Rack = "rack", "on the same rack";
    }
}

coded_enum! {
    /// Where something was when the recall was made.
    Fate, "whereabouts in a recall" {
        Here = "here", "in the house";
        Dead = "dead", "dead";
        Escaped = "escaped", "escaped";
        Sold = "sold", "sold";
        Returned = "returned", "sold, and came back";
    }
}

coded_enum! {
    /// What was done to reach a buyer.
    ContactKind, "step of a recall" {
        Letter = "letter", "written to";
        Reached = "reached", "reached";
        NotReached = "not-reached", "not reached";
    }
}

text_columns! { RecallReason, Relation, Fate, ContactKind }

/// Where a recall begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// At an animal.
    Animal(AnimalId),
    /// At a cohort.
    Cohort(CohortId),
}

impl Origin {
    /// The animal, if it is one.
    #[must_use]
    pub fn animal(self) -> Option<AnimalId> {
        if let Self::Animal(id) = self { Some(id) } else { None }
    }

    /// The cohort, if it is one.
    #[must_use]
    pub fn cohort(self) -> Option<CohortId> {
        if let Self::Cohort(id) = self { Some(id) } else { None }
    }

    /// As the audit trail names it.
    #[must_use]
    pub fn words(self) -> String {
        match self {
            Self::Animal(id) => format!("animal {id}"),
            Self::Cohort(id) => format!("cohort {id}"),
        }
    }
}

/// How far a recall reaches.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Scope {
    /// Cohort mates: the cohort that it came out of, up to the head of the splits, all that was split off that, and every animal that was
    /// tagged out of any of them.
    pub mates: bool,
    /// The young of all generations: its own, or with cohort mates, those of all the mates.
    pub descent: bool,
    /// What stands on the same rack today.
    pub rack: bool,
}

impl Scope {
    /// In words.
    #[must_use]
    pub fn words(&self) -> String {
        let parts =
            [(self.mates, "cohort mates"), (self.descent, "the young of all generations"), (self.rack, "what stands on the same rack")];
        let chosen: Vec<&str> = parts.into_iter().filter(|(chosen, _)| *chosen).map(|(_, words)| words).collect();
        if chosen.is_empty() { "nothing else".to_owned() } else { chosen.join(", ") }
    }
}

/// A checked recall.
#[derive(Debug, Clone)]
pub struct NewRecall {
    /// Where it begins.
    pub origin: Origin,
    /// How far it reaches.
    pub scope: Scope,
    /// Why.
    pub reason: RecallReason,
    /// What was found, in the house's words.
    pub words: String,
}

/// Something that a recall finds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewFound {
    /// The animal, if it is one.
    pub animal: Option<AnimalId>,
    /// The cohort, if it is a number out of one.
    pub cohort: Option<CohortId>,
    /// How many.
    pub quantity: u32,
    /// How it is related.
    pub relation: Relation,
    /// Over how many generations.
    pub generation: u32,
    /// Whether it is certainly related: not when one of several males may be the sire.
    pub certain: bool,
    /// Where it is.
    pub fate: Fate,
    /// The place, while it is in the house.
    pub place: String,
    /// The line by which it left.
    pub line: Option<HandoverLineId>,
}

/// A recall as lists show it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Recall {
    /// Its id.
    pub id: RecallId,
    /// The animal that it began with.
    pub animal_id: Option<AnimalId>,
    /// The cohort that it began with.
    pub cohort_id: Option<CohortId>,
    /// The animal's tag or the cohort's code.
    pub label: String,
    /// Its species.
    pub species: String,
    /// Whether it reached to cohort mates.
    pub mates: bool,
    /// Whether it reached to the young.
    pub descent: bool,
    /// Whether it reached to the rack.
    pub rack: bool,
    /// Why.
    pub reason: RecallReason,
    /// What was found, in the house's words.
    pub words: String,
    /// How many rows it found.
    pub found: i64,
    /// Its day.
    pub day: NaiveDate,
    /// Who made it.
    pub made_by_name: String,
    /// When.
    pub made_at: DateTime<Utc>,
}

impl Recall {
    /// How far it reached.
    #[must_use]
    pub fn scope(&self) -> Scope {
        Scope { mates: self.mates, descent: self.descent, rack: self.rack }
    }

    /// What it began with, in words.
    #[must_use]
    pub fn subject(&self) -> String {
        if self.animal_id.is_some() { format!("tag {}", self.label) } else { format!("cohort {}", self.label) }
    }
}

/// A row of what a recall found, as pages show it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Found {
    /// The animal, if it is one.
    pub animal_id: Option<AnimalId>,
    /// The cohort, if it is a number out of one.
    pub cohort_id: Option<CohortId>,
    /// The animal's tag or the cohort's code.
    pub label: String,
    /// Its species.
    pub species: String,
    /// How many.
    pub quantity: u32,
    /// How it is related.
    pub relation: Relation,
    /// Over how many generations.
    pub generation: u32,
    /// Whether it is certainly related.
    pub certain: bool,
    /// Where it was.
    pub fate: Fate,
    /// The place, while it was in the house.
    pub place: String,
    /// The stage that was sold, of a number out of a cohort.
    pub stage: Option<Stage>,
    /// The handover by which it left.
    pub handover_id: Option<HandoverId>,
    /// Its day.
    pub handed_over_on: Option<NaiveDate>,
    /// The buyer.
    pub buyer_id: Option<BuyerId>,
    /// The number of its care sheet.
    pub sheet: Option<String>,
}

impl Found {
    /// What it is, in words.
    #[must_use]
    pub fn words(&self) -> String {
        match (self.animal_id, self.stage) {
            (Some(_), _) => format!("tag {}", self.label),
            (None, Some(stage)) => format!("{} out of cohort {}, {stage}", self.quantity, self.label),
            (None, None) => format!("{} out of cohort {}", self.quantity, self.label),
        }
    }

    /// How it is related, in words.
    #[must_use]
    pub fn related(&self) -> String {
        let generation = match (self.relation, self.generation) {
            (Relation::Descendant, 1) => ", first generation".to_owned(),
            (Relation::Descendant, 2) => ", second generation".to_owned(),
            (Relation::Descendant, generation) => format!(", generation {generation}"),
            _ => String::new(),
        };
        let doubt = if self.certain { "" } else { ", not certain: several males may be the sire" };
        format!("{}{generation}{doubt}", self.relation)
    }
}

/// A step taken to reach a buyer.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Contact {
    /// The buyer.
    pub buyer_id: BuyerId,
    /// What was done.
    pub what: ContactKind,
    /// The letter.
    pub paper_id: Option<PaperId>,
    /// Its number.
    pub paper: Option<String>,
    /// The day.
    pub day: NaiveDate,
    /// A note.
    pub note: String,
    /// Who did it.
    pub member_name: String,
}

/// A buyer whom a recall concerns, with what they have and what was done to reach them.
#[derive(Debug, Clone)]
pub struct Concerned {
    /// The buyer.
    pub buyer: super::Buyer,
    /// What they were handed over.
    pub found: Vec<Found>,
    /// What was done to reach them, in its order.
    pub contacts: Vec<Contact>,
}

impl Concerned {
    /// The letter, if one was printed.
    #[must_use]
    pub fn letter(&self) -> Option<&Contact> {
        self.contacts.iter().find(|contact| contact.what == ContactKind::Letter)
    }

    /// Whether they were reached: the last word counts.
    #[must_use]
    pub fn outcome(&self) -> Option<ContactKind> {
        self.contacts.iter().rev().map(|contact| contact.what).find(|what| *what != ContactKind::Letter)
    }
}
