//! The fixed words of care sheets, language by language. A language is either there with every word or not at all: each word is a
//! field, so that the compiler finds one that is missing.

mod english;
mod german;

use chrono::NaiveDate;

use crate::papers::model::OriginFacts;
use crate::reckoning::hazard::HazardFacts;
use crate::reckoning::language::Language;
use crate::reckoning::provenance::SourceCode;
use crate::reckoning::stage::Stage;
use crate::reckoning::words::{Habit, LifeStage, Moisture, Sex, SexBasis, SpanMethod, Venom};
use crate::species::model::StageCare;
use crate::species::model::text::{CareText, TextSection};

/// A language that the fixed words of sheets are there in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tongue {
    /// English.
    English,
    /// German.
    German,
}

impl Tongue {
    /// Every one.
    pub const ALL: [Self; 2] = [Self::English, Self::German];

    /// Its tag.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::English => "en",
            Self::German => "de",
        }
    }
}

macro_rules! wording {
    ($($(#[doc = $doc:literal])+ $word:ident,)+) => {
        /// The fixed words of a sheet in a language.
        pub struct Wording {
            /// The language.
            pub language: Tongue,
            $($(#[doc = $doc])+ pub $word: &'static str,)+
            /// A day: `4 March 2026`.
            pub day: fn(NaiveDate) -> String,
            /// A day with its weekday.
            pub long_day: fn(NaiveDate) -> String,
            /// What the paper is about: `tag 0001K`, `40 of cohort BHAM-26-1`.
            pub subject: fn(&str, Option<u32>) -> String,
            /// A range: `4 to 6`, in words.
            pub range: fn(i64, i64) -> String,
            /// The heading of a section.
            pub section: fn(TextSection) -> &'static str,
            /// A band, 0 to 3.
            pub band: fn(u8) -> &'static str,
            /// Why an animal is in its band.
            pub reasons: fn(&HazardFacts) -> Vec<String>,
            /// What a person must know before opening.
            pub cautions: fn(&HazardFacts) -> Vec<String>,
            /// A life stage.
            pub life_stage: fn(LifeStage) -> &'static str,
            /// A stage.
            pub stage: fn(Stage) -> String,
            /// A sex and what it rests on.
            pub sex: fn(Sex, SexBasis) -> String,
            /// A leg span: its length, how it was taken, whether over a cohort, and when.
            pub span: fn(&str, Option<SpanMethod>, bool, Option<NaiveDate>) -> String,
            /// Where an animal or lot comes from.
            pub origin: fn(&OriginFacts) -> String,
            /// A source code, and whether it is pre-Convention.
            pub source: fn(SourceCode, bool) -> String,
            /// How the species lives, and how its ground is kept.
            pub lives: fn(Habit, Moisture) -> String,
            /// A venom concern.
            pub venom: fn(Venom) -> &'static str,
            /// Days in the new box before food.
            pub water_and_food: fn(u32, u32) -> String,
            /// How often food is given and when the rest is taken out.
            pub feed: fn(u32, u32, u32) -> String,
            /// How often something is done.
            pub every: fn(u32) -> String,
            /// The usual days between moults.
            pub moults: fn(u32, u32) -> String,
            /// Temperature and humidity.
            pub climate: fn((i32, i32), (u32, u32)) -> String,
            /// Which revision the text is, by whom, and who reviewed it.
            pub text_line: fn(&CareText) -> String,
            /// That the text is in another language than was wished for.
            pub fell_back: fn(&Language, &CareText) -> String,
            /// That there is no text in any language.
            pub no_text: fn(&Language) -> String,
        }

        impl Wording {
            /// Every plain word with its name, to hold the languages against each other.
            #[must_use]
            pub fn words(&self) -> Vec<(&'static str, &'static str)> {
                vec![$((stringify!($word), self.$word),)+]
            }
        }
    };
}

wording! {
    /// What the paper is.
    care_sheet,
    /// Before its number.
    number,
    /// Before its revision.
    revision,
    /// Before the day it was issued.
    issued,
    /// Before a band's number.
    band_word,
    /// After a band's number in the cautions.
    of_bands,
    /// The foot of every page: whom to call first.
    emergency,
    /// A sheet, in the foot.
    sheet,
    /// Heading.
    cautions_heading,
    /// Before the reasons of a band.
    why,
    /// Before the temper.
    temper,
    /// Keep it locked; what to do at a threat posture.
    lock,
    /// How setae are kept off.
    setae,
    /// Before the venom concern.
    venom_concern,
    /// What a band is not.
    band_basis,
    /// Heading.
    after_heading,
    /// Whom to call.
    call,
    /// What the sheet is not.
    no_advice,
    /// Before the scientific name that callers are to be told.
    tell_name,
    /// After it.
    tell_time,
    /// What asks for the emergency number at once.
    at_once,
    /// That cramps may come late.
    late_cramps,
    /// Setae in an eye.
    setae_eye,
    /// Heading, for one animal.
    this_animal,
    /// Heading, for several.
    these_animals,
    /// Row: species.
    species,
    /// Row: cohort.
    cohort,
    /// Row: how many.
    how_many,
    /// Row: tag.
    tag,
    /// Row: stage.
    stage_row,
    /// When the instar is not known.
    instar_unknown,
    /// How stages are counted.
    stage_counted,
    /// Row: sex.
    sex_row,
    /// Row: leg span.
    span_row,
    /// When there is no leg span.
    not_measured,
    /// Row: origin.
    origin_row,
    /// Row: source.
    source_row,
    /// Row: locality or line.
    locality_row,
    /// Row: last moult.
    last_moult,
    /// Row: last meal.
    last_meal,
    /// Row: next meal.
    next_meal,
    /// When nothing is known.
    none_on_record,
    /// When no meal is planned.
    not_planned,
    /// When the next meal depends on something.
    ask_the_house,
    /// Heading.
    settling_heading,
    /// The new box.
    new_box,
    /// After a moult.
    after_moult,
    /// Sun, draught, hands.
    no_sun,
    /// No vertebrates, no wild insects.
    no_vertebrates,
    /// Before a basis.
    basis,
    /// Common practice.
    common_practice,
    /// Heading of the text.
    text_heading,
    /// The footnote of common practice.
    practice_note,
    /// Before what other figures rest on.
    basis_note,
    /// Heading of the figures.
    care_heading,
    /// Between the words on how it lives and the size.
    adults_reach,
    /// After the size.
    leg_span,
    /// Before the range.
    from,
    /// Before the care profile's revision.
    care_profile,
    /// Beside the present stage.
    now,
    /// Row: food.
    food_row,
    /// Row: water.
    water_row,
    /// Row: climate.
    climate_row,
    /// Row: ground.
    ground_row,
    /// Row: air.
    air_row,
    /// Row: hide and room.
    hide_row,
    /// Row: moults.
    moults_row,
    /// Row: cleaning.
    cleaning_row,
    /// Row: basis.
    basis_row,
    /// Heading.
    law_heading,
    /// No listing.
    no_listing,
    /// Before the first day of a listing.
    listed_from,
    /// Before a listing's source.
    listing_source,
    /// Before the day on which a listing was looked up.
    last_checked,
    /// A listing that was not verified.
    not_verified,
    /// What source codes are, and what the sheet is not.
    source_codes,
    /// Heading.
    handed_over,
    /// Column.
    for_house,
    /// Column.
    received_by,
    /// Column.
    day_column,
    /// A sheet that is only shown, never issued.
    specimen,
}

impl std::fmt::Debug for Wording {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "the words of sheets in {}", self.language.code())
    }
}

impl Wording {
    /// The words in a tongue.
    #[must_use]
    pub fn in_tongue(tongue: Tongue) -> &'static Self {
        match tongue {
            Tongue::English => &english::WORDS,
            Tongue::German => &german::WORDS,
        }
    }

    /// The words in English.
    #[must_use]
    pub fn english() -> &'static Self {
        &english::WORDS
    }

    /// The words in a language, if they are there.
    #[must_use]
    pub fn of(language: &Language) -> Option<&'static Self> {
        Tongue::ALL.into_iter().find(|tongue| tongue.code() == language.primary()).map(Self::in_tongue)
    }

    /// The words for a reader: in the reader's language, else in the house's, else in English.
    #[must_use]
    pub fn for_reader(wished: &Language, house: &Language) -> &'static Self {
        Self::of(wished).or_else(|| Self::of(house)).unwrap_or_else(Self::english)
    }

    /// The heading of a section of the text.
    #[must_use]
    pub fn heading(&self, section: &TextSection) -> &'static str {
        (self.section)(*section)
    }

    /// A day, for templates.
    #[must_use]
    pub fn date(&self, day: &NaiveDate) -> String {
        (self.day)(*day)
    }

    /// Temperature and humidity of a stage, for templates.
    #[must_use]
    pub fn climate_of(&self, care: &StageCare) -> String {
        (self.climate)((care.day_min_c, care.day_max_c), (care.rh_min, care.rh_max))
    }
}

/// Whom to call first, in languages that have no other words here.
const EMERGENCY: [(&str, &str); 5] = [
    ("cs", "Po kousnutí nebo zasažení oka žahavými chloupky: nejprve volejte tísňovou linku, toxikologické středisko nebo lékaře."),
    (
        "es",
        "Tras una mordedura, o pelos urticantes en un ojo: llame primero al número de emergencias local, a un centro de toxicología o a un médico.",
    ),
    (
        "fr",
        "Après une morsure, ou des poils urticants dans un œil : appelez d'abord le numéro d'urgence local, un centre antipoison ou un médecin.",
    ),
    ("it", "Dopo un morso, o peli urticanti in un occhio: chiamare prima il numero di emergenza locale, un centro antiveleni o un medico."),
    ("nl", "Na een beet, of brandharen in een oog: bel eerst het plaatselijke alarmnummer, een antigifcentrum of een arts."),
];

/// Whom to call first, in each of these languages that the line is there in: each once, with its tag.
#[must_use]
pub fn emergency_lines(languages: &[&str]) -> Vec<(&'static str, &'static str)> {
    let mut lines: Vec<(&'static str, &'static str)> = Vec::new();
    for language in languages {
        let words = Tongue::ALL.into_iter().find(|tongue| tongue.code() == *language);
        let line = words.map(|tongue| (tongue.code(), Wording::in_tongue(tongue).emergency));
        let line = line.or_else(|| EMERGENCY.iter().find(|(tag, _)| tag == language).copied());
        if let Some(line) = line.filter(|line| !lines.contains(line)) {
            lines.push(line);
        }
    }
    lines
}
