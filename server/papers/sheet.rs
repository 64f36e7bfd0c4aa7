//! What a care sheet says, drawn once and then frozen. Changing the templates changes sheets to come, never issued ones.

use askama::Template;
use chrono::NaiveDate;

use super::model::{OriginFacts, SheetFacts, SubjectFacts};
use super::wording::{Wording, emergency_lines};
use crate::house::text;
use crate::reckoning::enclosure::settle_days;
use crate::reckoning::hazard::assess;
use crate::reckoning::planner::FeedState;
use crate::reckoning::provenance::SourceCode;
use crate::reckoning::words::{LifeStage, Setae, Sex, SexBasis, World};
use crate::species::model::Species;
use crate::species::model::drawn::{DrawnBlock, DrawnPiece, DrawnText, draw};

/// The language in which the book itself keeps what it says of species: names, listings, temper.
const BOOK: &str = "en";

/// One fact of the animal or lot: its name and its value, and what follows the value in the book's own words.
struct Fact {
    name: &'static str,
    value: String,
    noted: String,
}

#[derive(Template)]
#[template(path = "papers/sheet.html")]
struct Sheet<'a> {
    sheet: &'a SheetFacts,
    w: &'static Wording,
    facts: Vec<Fact>,
    band: i64,
    reasons: Vec<String>,
    cautions: Vec<String>,
    revision: i64,
    settle: (u32, u32),
    old_world: bool,
    setae: bool,
    /// Whom to call first, in each language that the reader may have.
    emergency: Vec<(&'static str, &'static str)>,
    drawn: Option<DrawnText>,
}

impl Sheet<'_> {
    /// What a stretch in the book's own words carries, where the sheet is in another language.
    fn book_language(&self) -> Option<&'static str> {
        (self.w.language.code() != BOOK).then_some(BOOK)
    }

    /// The `lang` and `dir` of the text, where it is in another language than the fixed words.
    fn text_language(&self) -> Option<(&str, &'static str)> {
        let text = self.sheet.text.text.as_ref()?;
        (text.language.code() != self.w.language.code()).then(|| (text.language.code(), text.language.direction()))
    }
}

/// The sheet as a whole HTML document that needs no other file.
///
/// # Errors
/// The template fails.
pub(super) fn render(sheet: &SheetFacts) -> Result<String, askama::Error> {
    let (subject, w) = (&sheet.subject, sheet.wording());
    let text = sheet.text.text.as_ref();
    let mut languages = vec![w.language.code(), sheet.text.wished.primary()];
    languages.extend(text.map(|text| text.language.primary()));
    let document = Sheet {
        facts: if sheet.specimen { Vec::new() } else { subject.facts(w) },
        band: i64::from(subject.hazard.band.level()),
        reasons: (w.reasons)(&subject.risk),
        cautions: (w.cautions)(&subject.risk),
        revision: sheet.care.first().map_or(0, |care| care.revision),
        settle: sheet.settle(),
        old_world: sheet.species.world == World::Old,
        setae: sheet.species.setae != Setae::None,
        emergency: emergency_lines(&languages),
        drawn: text.map(|text| draw(&text.sections, &sheet.figures, &text.language)),
        sheet,
        w,
    };
    document.render()
}

impl SheetFacts {
    /// The fixed words: in the language that was wished for, else in the house's, else in English.
    #[must_use]
    pub fn wording(&self) -> &'static Wording {
        Wording::for_reader(&self.text.wished, &self.house_language)
    }

    /// Days in a new box before the first feed, from the care of its life stage.
    fn settle(&self) -> (u32, u32) {
        let stage = self.subject.life_stage;
        let care = self.care.iter().find(|care| care.stage == stage).map(|care| care.figures.rules);
        care.map_or_else(|| settle_days(stage), |rules| (rules.settle_min_days, rules.settle_max_days))
    }

    /// What the paper is about, as the house's own lists say it: `Brachypelma hamorii, tag 0001K`.
    #[must_use]
    pub fn title(&self) -> String {
        let subject = (Wording::english().subject)(&self.subject.label, self.subject.count);
        format!("{}, {subject}", self.species.accepted_name)
    }

    /// What it is about, in the sheet's own language.
    fn subject_in_words(&self) -> String {
        (self.wording().subject)(&self.subject.label, self.subject.count)
    }
}

impl SubjectFacts {
    /// What a specimen is about: an adult of the species for the cautions, every stage for the care.
    #[must_use]
    pub fn of_nobody(species: &Species, day: NaiveDate) -> Self {
        let risk = species.hazard_facts(LifeStage::Adult, Vec::new());
        Self {
            label: "–".to_owned(),
            count: None,
            life_stage: LifeStage::Spiderling,
            stage: None,
            sex: Sex::Unknown,
            sex_basis: SexBasis::None,
            origin: OriginFacts::Bought { since: day },
            source: SourceCode::Unknown,
            pre_convention: false,
            locality: String::new(),
            span_mm: None,
            span_method: None,
            span_on: None,
            last_moult: None,
            last_meal: None,
            last_prey: String::new(),
            next_feed: None,
            hazard: assess(&risk),
            risk,
        }
    }

    fn facts(&self, w: &Wording) -> Vec<Fact> {
        let mut facts = Vec::new();
        let mut add = |name, value: String, noted: String| facts.push(Fact { name, value, noted });
        match self.count {
            Some(count) => {
                add(w.cohort, self.label.clone(), String::new());
                add(w.how_many, count.to_string(), String::new());
            }
            None => add(w.tag, self.label.clone(), String::new()),
        }
        add(w.stage_row, self.stage_in_words(w), String::new());
        add(w.sex_row, (w.sex)(self.sex, self.sex_basis), String::new());
        let span = |span| (w.span)(&text::length(&span), self.span_method, self.count.is_some(), self.span_on);
        add(w.span_row, self.span_mm.map_or_else(|| w.not_measured.to_owned(), span), String::new());
        add(w.origin_row, (w.origin)(&self.origin), String::new());
        add(w.source_row, (w.source)(self.source, self.pre_convention), String::new());
        if !self.locality.is_empty() {
            add(w.locality_row, String::new(), self.locality.clone());
        }
        add(w.last_moult, self.last_moult.map_or_else(|| w.none_on_record.to_owned(), w.day), String::new());
        let colon = |day: String, more: &str| if more.is_empty() { day } else { format!("{day}: ") };
        match self.last_meal {
            Some(day) => add(w.last_meal, colon((w.day)(day), &self.last_prey), self.last_prey.clone()),
            None => add(w.last_meal, w.none_on_record.to_owned(), String::new()),
        }
        let (day, reason) = self.next_feed_in_words(w);
        add(w.next_meal, day, reason);
        facts
    }

    fn stage_in_words(&self, w: &Wording) -> String {
        let life = (w.life_stage)(self.life_stage);
        match self.stage {
            Some(stage) => format!("{life}, {} ({})", (w.stage)(stage), w.stage_counted),
            None => format!("{life}; {}", w.instar_unknown),
        }
    }

    /// The day, and why in the words of the book, which speaks English only.
    fn next_feed_in_words(&self, w: &Wording) -> (String, String) {
        let english = w.language.code() == BOOK;
        match &self.next_feed {
            Some(FeedState::Due { due_on: day, reason, .. } | FeedState::NotBefore { day: Some(day), reason }) if english => {
                (format!("{}: ", (w.day)(*day)), reason.clone())
            }
            Some(FeedState::NotBefore { day: None, reason }) if english => (String::new(), reason.clone()),
            Some(FeedState::Due { due_on: day, .. } | FeedState::NotBefore { day: Some(day), .. }) => ((w.day)(*day), String::new()),
            Some(FeedState::NotBefore { day: None, .. }) => (w.ask_the_house.to_owned(), String::new()),
            None => (w.not_planned.to_owned(), String::new()),
        }
    }
}
