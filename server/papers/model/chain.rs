//! Where an animal or a number of spiderlings comes from, through all generations on record, with the papers on file.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use crate::house::ids::{AnimalId, CohortId, DocumentId, SacId, SpeciesId, StatementId};
use crate::house::{paths, text};
use crate::reckoning::captive_code::{CodeFacts, Grounds, Stated, generation_number, stated};
use crate::reckoning::pedigree::Generation;
use crate::reckoning::provenance::{Source, SourceCode};
use crate::reckoning::provenance_chain::{Chain, Node, OnFile, Role};
use crate::text_columns;

coded_enum! {
    /// What a paper on file is.
    DocumentKind, "kind of document" {
        Permit = "permit", "permit";
        Certificate = "certificate", "birth certificate by an authority";
        Declaration = "declaration", "breeder's declaration";
        Invoice = "invoice", "invoice";
        Other = "other", "other paper";
    }
}

text_columns! { DocumentKind, Grounds }

impl DocumentKind {
    /// Whether an authority issued it for the very animal or brood.
    #[must_use]
    pub fn official(self) -> bool {
        matches!(self, Self::Permit | Self::Certificate)
    }
}

/// Somebody in a chain: a tagged animal, or spiderlings that are counted together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kin {
    /// An animal.
    Animal(AnimalId),
    /// A cohort.
    Cohort(CohortId),
}

impl Kin {
    /// What it is called by in a chain.
    #[must_use]
    pub fn key(self) -> String {
        match self {
            Self::Animal(id) => format!("animal-{id}"),
            Self::Cohort(id) => format!("cohort-{id}"),
        }
    }

    /// Its own page.
    #[must_use]
    pub fn path(self) -> String {
        match self {
            Self::Animal(id) => paths::animal(&id),
            Self::Cohort(id) => paths::cohort(&id),
        }
    }

    /// The page of its provenance.
    #[must_use]
    pub fn provenance(self) -> String {
        format!("{}?{}", paths::PROVENANCE, self.query())
    }

    /// It as the question of an address: `animal=12`.
    #[must_use]
    pub fn query(self) -> String {
        match self {
            Self::Animal(id) => format!("animal={id}"),
            Self::Cohort(id) => format!("cohort={id}"),
        }
    }

    /// Its ids as columns hold them.
    #[must_use]
    pub fn ids(self) -> (Option<AnimalId>, Option<CohortId>) {
        match self {
            Self::Animal(id) => (Some(id), None),
            Self::Cohort(id) => (None, Some(id)),
        }
    }
}

/// A paper on file.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Document {
    /// Its id.
    pub id: DocumentId,
    /// What it is.
    pub kind: DocumentKind,
    /// Its number; may be empty.
    pub number: String,
    /// Who issued it.
    pub issuer: String,
    /// The day that it bears.
    pub dated_on: NaiveDate,
    /// A note; may be empty.
    pub note: String,
    /// Who put it on file.
    pub made_by_name: String,
    /// Why it was struck out, if it was.
    pub struck: Option<String>,
}

impl Document {
    /// The paper in words, as papers and lists name it.
    #[must_use]
    pub fn words(&self) -> String {
        let number = if self.number.is_empty() { String::new() } else { format!(" no. {}", self.number) };
        format!("{}{number} of {}, {}", self.kind, text::day(&self.dated_on), self.issuer)
    }

    /// It as the reckoning takes it.
    #[must_use]
    pub fn on_file(&self) -> OnFile {
        OnFile { what: self.words(), official: self.kind.official() }
    }
}

/// A paper to put on file.
#[derive(Debug, Clone)]
pub struct NewDocument {
    /// Whose it is.
    pub kin: Kin,
    /// What it is.
    pub kind: DocumentKind,
    /// Its number; may be empty.
    pub number: String,
    /// Who issued it.
    pub issuer: String,
    /// The day that it bears.
    pub dated_on: NaiveDate,
    /// A note; may be empty.
    pub note: String,
}

/// A sac, as a statement of origin tells of it. Its words for parents who are not ours are those of the book.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct SacFacts {
    /// Its id.
    pub id: SacId,
    /// The dam, if she is one of ours.
    pub dam_id: Option<AnimalId>,
    /// What is known of a dam that is not ours.
    pub dam_note: String,
    /// Whether she was mated in the wild.
    pub dam_wild_mated: bool,
    /// The sire, if he is known.
    pub sire_id: Option<AnimalId>,
    /// What else is known of the sire.
    pub sire_note: String,
    /// The day it was laid.
    pub laid_on: NaiveDate,
    /// The day it was pulled.
    pub pulled_on: Option<NaiveDate>,
    /// The day it was opened: the spiderlings were out.
    pub ended_on: Option<NaiveDate>,
}

/// What is known of one in the chain, beside what the reckoning takes.
#[derive(Debug, Clone)]
pub struct KinFacts {
    /// Who.
    pub kin: Kin,
    /// The tag or the cohort's code.
    pub label: String,
    /// Its species.
    pub species_id: SpeciesId,
    /// The locality or line.
    pub locality: String,
    /// The day it came under care.
    pub started_on: NaiveDate,
    /// The sac that it hatched from.
    pub sac: Option<SacFacts>,
}

/// A provenance as it was gathered and judged.
#[derive(Debug, Clone)]
pub struct Provenance {
    /// Whose.
    pub subject: Kin,
    /// Everybody as the reckoning takes them.
    pub nodes: Vec<Node>,
    /// The chain, and what is missing.
    pub chain: Chain,
    /// The captive generation of each, with its reason.
    pub generations: BTreeMap<String, (Generation, String)>,
    /// What else is known of each.
    pub facts: BTreeMap<String, KinFacts>,
}

/// One row of the table of ancestors.
#[derive(Debug, Clone)]
pub struct ChainRow {
    /// How many generations back.
    pub back: u32,
    /// What it is to the one after it: `dam of animal 0001K`.
    pub role: String,
    /// Its name in words.
    pub name: String,
    /// Its captive generation.
    pub generation: String,
    /// Its source code.
    pub source: String,
    /// Its papers on file; for those bred in this house that have none of their own, that they were.
    pub papers: Vec<String>,
    /// Whether it came from outside.
    pub acquired: bool,
    /// What is missing of it.
    pub missing: Vec<String>,
    /// Who it is.
    pub kin: Kin,
}

impl Provenance {
    /// The node of a key.
    #[must_use]
    pub fn node(&self, key: &str) -> Option<&Node> {
        self.nodes.iter().find(|node| node.id == key)
    }

    /// The subject's generation, with its reason.
    #[must_use]
    pub fn generation(&self) -> (Generation, String) {
        self.generations.get(&self.subject.key()).cloned().unwrap_or_default()
    }

    /// The cohort in which the subject was first counted, or the subject itself.
    #[must_use]
    pub fn root(&self) -> Option<&KinFacts> {
        let mut key = self.subject.key();
        for _ in 0..self.nodes.len() {
            match self.node(&key).and_then(|node| node.out_of.clone()) {
                Some(before) => key = before,
                None => break,
            }
        }
        self.facts.get(&key)
    }

    /// The sac that the subject hatched from, if it hatched here.
    #[must_use]
    pub fn sac(&self) -> Option<&SacFacts> {
        self.root()?.sac.as_ref()
    }

    /// The source code that papers give of the subject, with its reason; `grounds`: what a lead states of its breeding stock.
    #[must_use]
    pub fn stated(&self, grounds: Option<Grounds>) -> Stated {
        let key = self.subject.key();
        let root = self.root().map(|root| root.kin.key()).unwrap_or_default();
        let on_file = |key: &str| self.node(key).is_some_and(|node| !node.papers.is_empty());
        // A provenance always holds its subject; without one nothing is claimed.
        let unknown = Source { code: SourceCode::Unknown, pre_convention: false };
        stated(&CodeFacts {
            recorded: self.node(&key).map_or(unknown, |node| node.source),
            bred_here: self.sac().is_some(),
            generation: generation_number(self.generation().0),
            dam_mated_in_wild: self.sac().is_some_and(|sac| sac.dam_wild_mated),
            grounds,
            has_papers: on_file(&key) || on_file(&root),
        })
    }

    /// The rows of the table of ancestors, each animal and brood once.
    #[must_use]
    pub fn rows(&self) -> Vec<ChainRow> {
        self.chain
            .steps
            .iter()
            .filter_map(|step| {
                let (node, facts) = (self.node(&step.id)?, self.facts.get(&step.id)?);
                let of = step.of.as_ref().and_then(|of| self.node(of)).map(|of| of.name.as_str());
                let role = match (step.role, of) {
                    (Role::OutOf, Some(of)) => format!("{of} came out of it"),
                    (role, Some(of)) => format!("{role} of {of}"),
                    (_, None) => "itself".to_owned(),
                };
                Some(ChainRow {
                    back: step.back,
                    role,
                    name: node.name.clone(),
                    generation: self
                        .generations
                        .get(&step.id)
                        .map_or_else(|| "unknown".to_owned(), |(generation, _)| generation.to_string()),
                    source: source_code(node.source),
                    papers: node.papers.iter().map(|paper| paper.what.clone()).collect(),
                    acquired: node.acquired(),
                    missing: self.chain.missing.iter().filter(|gap| gap.about == step.id).map(|gap| gap.text.clone()).collect(),
                    kin: facts.kin,
                })
            })
            .collect()
    }
}

/// A source code as papers carry it: `C`, or `C/O` before the Convention.
#[must_use]
pub fn source_code(source: Source) -> String {
    format!("{}{}", source.code.code(), if source.pre_convention { "/O" } else { "" })
}

/// A lead's statement on the breeding stock of a species or a line.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct StockStatement {
    /// Its id.
    pub id: StatementId,
    /// The species' accepted name.
    pub species: String,
    /// The line that it is said of; empty: every one of the species.
    pub line: String,
    /// The ground.
    pub grounds: Grounds,
    /// Why, in the lead's words.
    pub why: String,
    /// The day.
    pub stated_on: NaiveDate,
    /// Who.
    pub stated_by_name: String,
    /// Why it was withdrawn; empty while it stands.
    pub withdrawn_why: String,
}

/// A statement to record.
#[derive(Debug, Clone)]
pub struct NewStatement {
    /// The species.
    pub species: SpeciesId,
    /// The line; empty: every one of the species.
    pub line: String,
    /// The ground.
    pub grounds: Grounds,
    /// Why.
    pub why: String,
}
