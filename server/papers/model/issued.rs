//! Issued papers of every kind, and what to issue.

use chrono::{DateTime, NaiveDate, Utc};

use crate::house::ids::{AnimalId, BuyerId, CohortId, HandoverId, HandoverLineId, IncidentId, PaperId, ProfileId};
use crate::house::paths;
use crate::house::secrets::{LinkKey, random_token, sha256_hex};
use crate::text_columns;

coded_enum! {
    /// What a paper is.
    PaperKind, "kind of paper" {
        CareSheet = "care-sheet", "care sheet";
        OriginStatement = "origin-statement", "statement of origin";
        RiskAcknowledgement = "risk-acknowledgement", "risk acknowledgement";
        HandoverNote = "handover-note", "handover note";
        Receipt = "receipt", "receipt";
        CreditNote = "credit-note", "credit note";
        VialLabels = "vial-labels", "vial labels";
        BoxLabel = "box-label", "box label";
        RehouseCard = "rehouse-card", "rehouse card";
        IncidentReport = "incident-report", "incident report";
        RecallLetter = "recall-letter", "recall letter";
    }
}

text_columns! { PaperKind }

impl PaperKind {
    /// The letter with which the numbers of its kind begin. Each kind counts by itself, and leaves no gap.
    #[must_use]
    pub fn letter(self) -> char {
        match self {
            Self::CareSheet => 'S',
            Self::OriginStatement => 'C',
            Self::RiskAcknowledgement => 'A',
            Self::HandoverNote => 'N',
            Self::Receipt => 'R',
            Self::CreditNote => 'D',
            Self::VialLabels => 'V',
            Self::BoxLabel => 'X',
            Self::RehouseCard => 'H',
            Self::IncidentReport => 'I',
            Self::RecallLetter => 'L',
        }
    }

    /// Whether it names no buyer and belongs to the daily work, so that everybody of the house may open it.
    #[must_use]
    pub fn for_house(self) -> bool {
        matches!(self, Self::VialLabels | Self::RehouseCard | Self::IncidentReport)
    }
}

/// Where a person's part goes into a document.
pub const PERSON: &str = "<!--person-1-->";

/// The whole document: the body with the person's part in its place.
#[must_use]
pub fn whole(body: &[u8], part: Option<&[u8]>) -> Vec<u8> {
    let mark = PERSON.as_bytes();
    let place = body.windows(mark.len()).position(|window| window == mark);
    match (part, place.and_then(|at| Some((body.get(..at)?, body.get(at + mark.len()..)?)))) {
        (Some(part), Some((before, after))) => [before, part, after].concat(),
        _ => body.to_vec(),
    }
}

/// A person's part with a random mark of its own. Without the mark, whoever knows the rest of the paper could find the person
/// again by trying names against the fingerprint, long after the part was erased.
#[must_use]
pub(in crate::papers) fn marked(part: &str) -> String {
    format!("{part}<!--{}-->", random_token())
}

/// A paper as issued.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Paper {
    /// Its id.
    pub id: PaperId,
    /// Its number: `S-2026-0007`.
    pub number: String,
    /// Its revision, from 1.
    pub revision: i64,
    /// What it is.
    pub kind: PaperKind,
    /// The language it is written in.
    pub language: String,
    /// The handover that it was issued with.
    pub handover_id: Option<HandoverId>,
    /// The buyer that it was issued to.
    pub buyer_id: Option<BuyerId>,
    /// The animal that it is about.
    pub animal_id: Option<AnimalId>,
    /// The cohort that it is about.
    pub cohort_id: Option<CohortId>,
    /// The incident that it is about.
    pub incident_id: Option<IncidentId>,
    /// What it is about.
    pub title: String,
    /// Its bytes as issued, with a mark where the person's part goes.
    pub body: Vec<u8>,
    /// The part that names a person; nothing when no person is named, or when they were erased.
    pub person: Option<Vec<u8>>,
    /// Whether a part names (or named) a person.
    pub names_person: bool,
    /// Whether what was known of its buyer was erased.
    pub buyer_erased: bool,
    /// The SHA-256 of the whole document, in hexadecimal.
    pub fingerprint: String,
    /// The address that printed codes begin with, as it was when it was issued.
    pub link_base: String,
    /// The local day it was issued.
    pub issued_on: NaiveDate,
    /// What the secret of the printed link is worked out from; nothing for papers that have no link.
    pub nonce: Option<String>,
}

impl Paper {
    /// The whole document.
    #[must_use]
    pub fn document(&self) -> Vec<u8> {
        whole(&self.body, self.person.as_deref())
    }

    /// Whether the part that named its buyer is gone, because they were erased.
    #[must_use]
    pub fn person_is_gone(&self) -> bool {
        self.names_person && self.person.is_none() && self.buyer_erased
    }

    /// Whether the bytes are still those that were issued. Nobody can tell once the person's part was erased.
    #[must_use]
    pub fn is_as_issued(&self) -> bool {
        sha256_hex(&self.document()) == self.fingerprint
    }

    /// The address that is printed on it as a code: the buyer's page by its first link, or the page that verifies papers.
    #[must_use]
    pub fn printed_address(&self, key: &LinkKey) -> String {
        match &self.nonce {
            Some(nonce) => format!("{}{}", self.link_base, paths::sheet(&key.token(nonce))),
            None => format!("{}{}", self.link_base, paths::verify(&self.number, &self.fingerprint)),
        }
    }
}

/// A paper as lists show it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct PaperLine {
    /// Its id.
    pub id: PaperId,
    /// Its number.
    pub number: String,
    /// What it is.
    pub kind: PaperKind,
    /// What it is about.
    pub title: String,
    /// The local day it was issued.
    pub issued_on: NaiveDate,
    /// The handover that it was issued with.
    pub handover_id: Option<HandoverId>,
    /// The line of the handover that it belongs to.
    pub handover_line_id: Option<HandoverLineId>,
    /// The address that buyers' links began with when it was issued.
    pub link_base: String,
    /// What the secret of its open link is worked out from.
    pub nonce: Option<String>,
    /// When that link was made.
    pub linked_at: Option<DateTime<Utc>>,
    /// Whether it has, or once had, a buyer's link.
    pub has_link: bool,
}

impl PaperLine {
    /// The page that opens it for whoever may see it.
    #[must_use]
    pub fn path(&self) -> String {
        if self.kind.for_house() { paths::house_paper(&self.id) } else { paths::paper(&self.id) }
    }

    /// Whether somebody may open it: those who sell every paper, others those that name no buyer.
    #[must_use]
    pub fn opens_for(&self, sells: &bool) -> bool {
        *sells || self.kind.for_house()
    }
}

/// What a paper belongs to: whoever of these lists it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct About {
    /// The handover.
    pub handover: Option<HandoverId>,
    /// Its line.
    pub line: Option<HandoverLineId>,
    /// The buyer.
    pub buyer: Option<BuyerId>,
    /// The animal.
    pub animal: Option<AnimalId>,
    /// The cohort.
    pub cohort: Option<CohortId>,
    /// The incident.
    pub incident: Option<IncidentId>,
}

/// A paper that is ready to be frozen.
#[derive(Debug, Clone)]
pub struct NewPaper {
    /// What it is.
    pub kind: PaperKind,
    /// Its number, as its body says it.
    pub number: String,
    /// What it belongs to.
    pub about: About,
    /// The revision of the care profile that it tells of.
    pub profile: Option<ProfileId>,
    /// The language it is written in.
    pub language: String,
    /// What it is about, in words that name no person.
    pub title: String,
    /// The document, with [`PERSON`] where a person's part goes.
    pub body: String,
    /// That part: HTML that names a person.
    pub person: Option<String>,
    /// Whether the buyer opens it by a link of their own.
    pub link: bool,
}

/// A paper that was just issued.
#[derive(Debug, Clone)]
pub struct Issued {
    /// Its id.
    pub id: PaperId,
    /// Its number.
    pub number: String,
    /// Its fingerprint.
    pub fingerprint: String,
}
