//! Care-sheet texts: their sections, their revisions, and the figures that they take from the care profile.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::Species;
use crate::house::ids::{CareTextId, SpeciesId};
use crate::reckoning::language::Language;
use crate::reckoning::moult::{fast_in, span_or_largest};
use crate::reckoning::words::LifeStage;
use crate::species::starter::StarterCare;
use crate::text_columns;

coded_enum! {
    /// A section of a care-sheet text, in the order that sheets have.
    TextSection, "section" {
        About = "about", "About the animal";
        Housing = "housing", "Housing";
        Climate = "climate", "Temperature and moisture";
        Feeding = "feeding", "Feeding";
        Moulting = "moulting", "Moulting";
        Safety = "safety", "Handling and safety";
        Help = "help", "When to ask for help";
        House = "house", "From this house";
    }
}

impl TextSection {
    /// Whether a text may do without it.
    #[must_use]
    pub fn optional(self) -> bool {
        self == Self::House
    }
}

coded_enum! {
    /// How far a revision has come.
    TextState, "state of a text" {
        Draft = "draft", "draft";
        Sent = "sent", "sent for review";
        Starter = "starter", "starter text, not yet reviewed by this house";
        Reviewed = "reviewed", "reviewed";
    }
}

text_columns! { TextState }

impl TextState {
    /// Whether sheets are printed with it.
    #[must_use]
    pub fn is_printed(self) -> bool {
        matches!(self, Self::Starter | Self::Reviewed)
    }
}

/// The words of every section.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, sqlx::FromRow)]
#[serde(default, deny_unknown_fields)]
pub struct Sections {
    /// About the animal.
    pub about: String,
    /// Housing.
    pub housing: String,
    /// Temperature and moisture.
    pub climate: String,
    /// Feeding.
    pub feeding: String,
    /// Moulting.
    pub moulting: String,
    /// Handling and safety.
    pub safety: String,
    /// When to ask for help.
    pub help: String,
    /// What this house adds; may be empty.
    pub house: String,
}

impl Sections {
    /// The words of one section.
    #[must_use]
    pub fn of(&self, section: TextSection) -> &str {
        match section {
            TextSection::About => &self.about,
            TextSection::Housing => &self.housing,
            TextSection::Climate => &self.climate,
            TextSection::Feeding => &self.feeding,
            TextSection::Moulting => &self.moulting,
            TextSection::Safety => &self.safety,
            TextSection::Help => &self.help,
            TextSection::House => &self.house,
        }
    }

    /// Where the words of one section are put.
    pub fn of_mut(&mut self, section: TextSection) -> &mut String {
        match section {
            TextSection::About => &mut self.about,
            TextSection::Housing => &mut self.housing,
            TextSection::Climate => &mut self.climate,
            TextSection::Feeding => &mut self.feeding,
            TextSection::Moulting => &mut self.moulting,
            TextSection::Safety => &mut self.safety,
            TextSection::Help => &mut self.help,
            TextSection::House => &mut self.house,
        }
    }
}

/// A revision of a species' text in a language.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct CareText {
    /// Its id.
    pub id: CareTextId,
    /// Its species.
    pub species_id: SpeciesId,
    /// Its language.
    pub language: Language,
    /// Its number among those of the species in the language, from 1.
    pub number: i64,
    /// How far it has come.
    pub state: TextState,
    /// Who wrote it last; nobody for a starter text.
    pub author: Option<String>,
    /// The day on which it was last written at.
    pub written_on: NaiveDate,
    /// Who reviewed it.
    pub reviewer: Option<String>,
    /// When.
    pub reviewed_on: Option<NaiveDate>,
    /// Whether its own writer reviewed it, because nobody else was there who could.
    pub alone: bool,
    /// What the reviewer asked for when it came back; may be empty.
    pub remark: String,
    /// For changes: the version that was read.
    pub version: i64,
    /// Its words.
    #[sqlx(flatten)]
    pub sections: Sections,
}

impl CareText {
    /// The revision as people speak of it: `revision 3 in English`.
    #[must_use]
    pub fn in_words(&self) -> String {
        format!("revision {} in {}", self.number, self.language.name())
    }
}

/// A revision as lists show it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct CareTextLine {
    /// Its id.
    pub id: CareTextId,
    /// Its species.
    pub species_id: SpeciesId,
    /// The species' accepted name.
    pub accepted_name: String,
    /// Its language.
    pub language: Language,
    /// Its number.
    pub number: i64,
    /// How far it has come.
    pub state: TextState,
    /// Who wrote it last; nobody for a starter text.
    pub author: Option<String>,
    /// When.
    pub written_on: NaiveDate,
    /// Who reviewed it.
    pub reviewer: Option<String>,
    /// When.
    pub reviewed_on: Option<NaiveDate>,
}

/// The text that a sheet is printed with, and whether it is in the language that was wished for.
#[derive(Debug, Clone)]
pub struct ChosenText {
    /// The language that was wished for: the buyer's, or the house's.
    pub wished: Language,
    /// The text; nothing where the species has none that may be printed.
    pub text: Option<CareText>,
}

impl ChosenText {
    /// Whether the text is in another language than was wished for.
    #[must_use]
    pub fn fell_back(&self) -> bool {
        self.text.as_ref().is_some_and(|text| text.language.primary() != self.wished.primary())
    }
}

/// A figure that a text takes from the book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Figure {
    /// The least, in tenths.
    pub least_tenths: i64,
    /// The most, in tenths; the same for a single figure.
    pub most_tenths: i64,
    /// What it rests on, as the profile says.
    pub basis: String,
}

impl Figure {
    fn whole(least: impl Into<i64>, most: impl Into<i64>, basis: &str) -> Self {
        Self { least_tenths: least.into() * 10, most_tenths: most.into() * 10, basis: basis.to_owned() }
    }

    /// The figure as a language writes it: `4–6`, `2,5–5`, `24`.
    #[must_use]
    pub fn in_language(&self, language: &Language) -> String {
        let one = |tenths: i64| match tenths % 10 {
            0 => (tenths / 10).to_string(),
            rest => format!("{}{}{}", tenths / 10, if language.decimal_point() { '.' } else { ',' }, rest.abs()),
        };
        match self.least_tenths == self.most_tenths {
            true => one(self.least_tenths),
            false => format!("{}–{}", one(self.least_tenths), one(self.most_tenths)),
        }
    }
}

/// The figures of common practice that texts give beyond the profile are marked with this field.
pub const PRACTICE: &str = "practice";
/// The field for the species' scientific name.
pub const NAME: &str = "name";
/// Before another scientific name, so that it is set and read aloud as one: `latin:Brachypelma smithi`.
const LATIN: &str = "latin:";
/// What figures rest on that nobody has published.
pub const COMMON_PRACTICE: &str = "common practice, no source";

/// The kinds of figures that a text can take from the profile's stages, with what they are.
const OF_STAGES: [(&str, &str); 9] = [
    ("feed", "days between meals"),
    ("uneaten", "hours until uneaten prey is out"),
    ("moult", "days between moults"),
    ("moult-months", "months between moults"),
    ("fast", "days without food after a moult"),
    ("temperature", "day temperature, °C"),
    ("humidity", "relative humidity, %"),
    ("water", "days between waterings"),
    ("settle", "days in a new box before food"),
];

/// What the fields of a text stand for: the species and its care.
#[derive(Debug, Clone)]
pub struct TextFigures {
    care: StarterCare,
    span_mm: (u32, u32),
    name: String,
}

impl TextFigures {
    /// Those of a species with its care.
    #[must_use]
    pub fn of(species: &Species, care: StarterCare) -> Self {
        Self { care, span_mm: (species.adult_span_min_mm, species.adult_span_max_mm), name: species.accepted_name.clone() }
    }

    /// The figure that a field stands for; nothing for a field that is none.
    #[must_use]
    pub fn figure(&self, field: &str) -> Option<Figure> {
        if field == "size" {
            let (least, most) = self.span_mm;
            return Some(Figure { least_tenths: least.into(), most_tenths: most.into(), basis: COMMON_PRACTICE.to_owned() });
        }
        let (kind, stage) = field.split_once('.')?;
        let stage: LifeStage = stage.parse().ok()?;
        let care = self.care.of(stage);
        let (least, most): (i64, i64) = match kind {
            "feed" => (care.feed_min_days.into(), care.feed_max_days.into()),
            "uneaten" => (care.uneaten_hours.into(), care.uneaten_hours.into()),
            "moult" => (care.moult_min_days.into(), care.moult_max_days.into()),
            // Months are counted as 30.4 days, as the profiles count them.
            "moult-months" => (months(care.moult_min_days), months(care.moult_max_days)),
            "fast" => {
                let span = if stage == LifeStage::Adult { self.span_mm.1 } else { span_or_largest(None, stage).min(self.span_mm.1) };
                let fast = fast_in(&self.care.whole.fast, span);
                (fast.min_days.into(), fast.max_days.into())
            }
            "temperature" => (care.day_min_c.into(), care.day_max_c.into()),
            "humidity" => (care.rh_min.into(), care.rh_max.into()),
            "water" => (care.water_days.into(), care.water_days.into()),
            "settle" => (care.rules.settle_min_days.into(), care.rules.settle_max_days.into()),
            _ => return None,
        };
        Some(Figure::whole(least, most, &care.basis))
    }

    /// The scientific name that a field stands for: the species' own, or the one that is written out in it.
    #[must_use]
    pub fn latin<'a>(&'a self, field: &'a str) -> Option<&'a str> {
        if field == NAME {
            return Some(&self.name);
        }
        let name = field.strip_prefix(LATIN)?.trim();
        let letters = name.chars().all(|letter| letter.is_ascii_alphabetic() || letter == ' ' || letter == '.');
        (letters && name.starts_with(|first: char| first.is_ascii_uppercase())).then_some(name)
    }

    /// Whether a text may hold a field of this name.
    #[must_use]
    pub fn knows(&self, field: &str) -> bool {
        field == PRACTICE || self.latin(field).is_some() || self.figure(field).is_some()
    }

    /// Every field that a text may hold, with what it stands for and what it prints now in a language.
    #[must_use]
    pub fn list(&self, language: &Language) -> Vec<(String, String, String)> {
        let mut list = vec![
            (NAME.to_owned(), "the scientific name".to_owned(), self.name.clone()),
            (format!("{LATIN}Genus species"), "another scientific name, as written after the colon".to_owned(), "Genus species".to_owned()),
            (PRACTICE.to_owned(), "the mark of common practice, after a figure that is written out".to_owned(), "*".to_owned()),
        ];
        let mut add = |field: String, what: String| {
            if let Some(figure) = self.figure(&field) {
                list.push((field, what, figure.in_language(language)));
            }
        };
        add("size".to_owned(), "leg span of adults, cm".to_owned());
        for (kind, what) in OF_STAGES {
            for stage in LifeStage::ALL {
                add(format!("{kind}.{}", stage.code()), format!("{what}, {stage}"));
            }
        }
        list
    }
}

fn months(days: u32) -> i64 {
    (i64::from(days) * 10 + 152) / 304
}
