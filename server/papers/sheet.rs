//! What a care sheet says, drawn once and then frozen. Changing the templates changes sheets to come, never issued ones.

use askama::Template;

use super::model::{SheetFacts, SubjectFacts};
use crate::house::errors::AppError;
use crate::house::text;
use crate::reckoning::calendar::written;
use crate::reckoning::enclosure::settle_days;
use crate::reckoning::words::{Setae, Sex, World};

/// One fact of the animal or lot: its name and its value.
struct Fact {
    name: &'static str,
    value: String,
}

#[derive(Template)]
#[template(path = "papers/sheet.html")]
struct Sheet<'a> {
    sheet: &'a SheetFacts,
    title: String,
    facts: Vec<Fact>,
    band: i64,
    revision: i64,
    settle: (u32, u32),
    old_world: bool,
    setae: bool,
}

/// The sheet as a whole HTML document that needs no other file.
///
/// # Errors
/// The template fails.
pub(super) fn render(sheet: &SheetFacts) -> Result<String, AppError> {
    let subject = &sheet.subject;
    let document = Sheet {
        title: sheet.title(),
        facts: subject.facts(),
        band: i64::from(subject.hazard.band.level()),
        revision: sheet.care.first().map_or(0, |care| care.revision),
        settle: sheet.settle(),
        old_world: sheet.species.world == World::Old,
        setae: sheet.species.setae != Setae::None,
        sheet,
    };
    Ok(document.render()?)
}

impl SheetFacts {
    /// Days in a new box before the first feed, from the care of its life stage.
    fn settle(&self) -> (u32, u32) {
        let stage = self.subject.life_stage;
        let care = self.care.iter().find(|care| care.stage == stage).map(|care| care.figures.rules);
        care.map_or_else(|| settle_days(stage), |rules| (rules.settle_min_days, rules.settle_max_days))
    }

    /// What the paper is about: `Brachypelma hamorii, tag 0001K`.
    #[must_use]
    pub fn title(&self) -> String {
        format!("{}, {}", self.species.accepted_name, self.subject.words())
    }
}

impl SubjectFacts {
    /// The animal or lot in words: `tag 0001K`, `40 of cohort BHAM-26-1`.
    fn words(&self) -> String {
        match self.count {
            Some(count) => format!("{count} of cohort {}", self.label),
            None => format!("tag {}", self.label),
        }
    }

    fn facts(&self) -> Vec<Fact> {
        let mut facts = Vec::new();
        let mut add = |name, value: String| facts.push(Fact { name, value });
        match self.count {
            Some(count) => {
                add("Cohort", self.label.clone());
                add("How many", count.to_string());
            }
            None => add("Tag", self.label.clone()),
        }
        add("Stage", self.stage_in_words());
        add("Sex", self.sex_in_words());
        add("Leg span (DLS)", self.span_in_words());
        add("Origin", self.origin.clone());
        add("Source", self.source_in_words());
        if !self.locality.is_empty() {
            add("Locality or line", self.locality.clone());
        }
        add("Last moult", self.last_moult.map_or_else(|| "none on record".to_owned(), written));
        add("Last meal taken", self.meal_in_words());
        add("Next meal due", self.next_feed.clone());
        facts
    }

    fn stage_in_words(&self) -> String {
        match self.stage {
            Some(stage) => format!("{}, {stage} (moults counted since the post-embryo)", self.life_stage),
            None => format!("{}; instar not known", self.life_stage),
        }
    }

    fn sex_in_words(&self) -> String {
        match self.sex {
            Sex::Unknown => "not sexed".to_owned(),
            sexed => format!("{sexed}; basis: {}", self.sex_basis),
        }
    }

    fn span_in_words(&self) -> String {
        let Some(span) = self.span_mm else { return "not measured".to_owned() };
        let method = self.span_method.map_or_else(String::new, |method| format!(", {method}"));
        let day = self.span_on.map_or_else(String::new, |day| format!(" on {}", written(day)));
        let each = if self.count.is_some() { " over the cohort" } else { "" };
        format!("{}{method}{each}{day}", text::length(&span))
    }

    fn source_in_words(&self) -> String {
        let code = self.source.code();
        match self.pre_convention {
            true => format!("{code}/O: {}, acquired before the species was listed", self.source),
            false => format!("{code}: {}", self.source),
        }
    }

    fn meal_in_words(&self) -> String {
        match self.last_meal {
            Some(day) if self.last_prey.is_empty() => written(day),
            Some(day) => format!("{}: {}", written(day), self.last_prey),
            None => "none on record".to_owned(),
        }
    }
}
