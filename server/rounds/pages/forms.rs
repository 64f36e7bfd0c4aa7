//! What is typed on a duty's own page, and the checks that turn it into a sign-off.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::Deserialize;

use crate::animals::model::{Enclosure, NewSpan};
use crate::house::forms::{Check, Mistakes};
use crate::house::ids::{MemberId, ShelfId};
use crate::reckoning::stage::Stage;
use crate::reckoning::who_may::Part;
use crate::reckoning::words::{DutyKind, LossCause, SpanKind};
use crate::rounds::model::{Assessed, Detail, Duty, FromStock, Group, NewSignoff, Outcome};

/// The most that one field of a count takes.
const MOST: u32 = 5000;

/// One tap, or one of the rarer ends: could not, found dead, threat.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct QuickForm {
    pub(super) outcome: String,
    pub(super) why: String,
    pub(super) cause: String,
    pub(super) stage: String,
    pub(super) quantity: String,
    pub(super) from_stock: String,
}

impl QuickForm {
    pub(super) fn check(&self, duty: &Duty) -> Result<NewSignoff, Mistakes> {
        let mut check = Check::new();
        let outcome: Option<Outcome> = check.choice("outcome", &self.outcome);
        let note = check.optional_text("why", &self.why, 400);
        let from_stock = from_stock(&mut check, &self.from_stock);
        let detail = match outcome {
            Some(Outcome::FoundDead) => self.death(duty, &mut check),
            Some(outcome) if outcome.meal().is_some() => Some(Detail::Offered { from_stock, prey: String::new() }),
            _ => Some(Detail::None),
        };
        match (outcome, note, detail) {
            (Some(outcome), Some(note), Some(detail)) if check.ok() => {
                Ok(NewSignoff { note, ..NewSignoff::plain(duty.id, outcome) }.with(detail))
            }
            _ => Err(check.mistakes()),
        }
    }

    fn death(&self, duty: &Duty, check: &mut Check) -> Option<Detail> {
        let cause: Option<LossCause> = check.choice("cause", &self.cause);
        if duty.cohort_id.is_none() {
            return cause.map(Detail::Death);
        }
        let stage: Option<Stage> = check.choice("stage", &self.stage);
        let quantity = check.whole("quantity", &self.quantity, 1..=MOST);
        let dead = vec![(stage?, quantity?, cause?)];
        Some(Detail::Group(Group { dead, ..Group::default() }))
    }
}

/// A moult that was found.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct MoultForm {
    pub(super) day: String,
    pub(super) skin_kept: String,
    pub(super) span_mm: String,
    pub(super) span_method: String,
    pub(super) note: String,
}

impl MoultForm {
    pub(super) fn check(&self, duty: &Duty, today: NaiveDate) -> Result<NewSignoff, Mistakes> {
        let mut check = Check::new();
        let day = check.day("day", &self.day, today);
        let mm = check.optional_whole("span_mm", &self.span_mm, 1..=400);
        let method = if mm.is_some() { check.choice("span_method", &self.span_method) } else { None };
        let note = check.optional_text("note", &self.note, 400);
        let span = mm.zip(method).map(|(mm, method)| NewSpan { kind: SpanKind::LegSpan, mm, method });
        match (day, note) {
            (Some(day), Some(note)) if check.ok() => {
                let moult = Detail::Moult { day, skin_kept: self.skin_kept == "yes", span };
                Ok(NewSignoff { note, ..NewSignoff::plain(duty.id, Outcome::Moulted) }.with(moult))
            }
            _ => Err(check.mistakes()),
        }
    }
}

/// A cohort's figures: one line for each stage at which it stands.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct GroupForm {
    pub(super) prey: String,
    pub(super) from_stock: String,
    pub(super) took: String,
    pub(super) refused: String,
    pub(super) left_in: String,
    pub(super) stage: Vec<String>,
    pub(super) dead: Vec<String>,
    pub(super) cause: Vec<String>,
    pub(super) moulted: Vec<String>,
}

impl GroupForm {
    pub(super) fn check(&self, duty: &Duty) -> Result<NewSignoff, Mistakes> {
        let mut check = Check::new();
        let prey = check.optional_text("prey", &self.prey, 120).unwrap_or_default();
        let mut group = Group { prey, from_stock: from_stock(&mut check, &self.from_stock), ..Group::default() };
        if duty.kind == DutyKind::Feed {
            group.took = count(&mut check, "took", &self.took);
            group.refused = count(&mut check, "refused", &self.refused);
            group.left_in = count(&mut check, "left_in", &self.left_in);
        }
        for (line, stage) in self.stage.iter().enumerate() {
            let Some(stage) = check.choice::<Stage>("stage", stage) else { continue };
            let dead = count(&mut check, "dead", at(&self.dead, line));
            if dead > 0 {
                group.dead.extend(check.choice("cause", at(&self.cause, line)).map(|cause: LossCause| (stage, dead, cause)));
            }
            let moulted = count(&mut check, "moulted", at(&self.moulted, line));
            if moulted > 0 {
                group.moulted.push((stage, moulted));
            }
        }
        let found = !group.dead.is_empty() || !group.moulted.is_empty();
        if check.ok() && !found && duty.kind == DutyKind::MoultCheck {
            check.add("moulted", "Say how many moulted or were dead; if none, use “No change” on the round.");
        }
        if !check.ok() {
            return Err(check.mistakes());
        }
        Ok(NewSignoff::plain(duty.id, Outcome::Counts).with(Detail::Group(group)))
    }

    /// What was typed for one line of a column.
    pub(super) fn typed<'a>(&'a self, column: &'a [String], line: &usize) -> &'a str {
        at(column, *line)
    }
}

fn at(column: &[String], line: usize) -> &str {
    column.get(line).map_or("", String::as_str)
}

/// What a meal takes from stock: nothing chosen is what is usual.
fn from_stock(check: &mut Check, typed: &str) -> FromStock {
    match typed.trim() {
        "none" => FromStock::Nothing,
        typed => check.optional_choice("from_stock", typed).map_or(FromStock::Usual, FromStock::Kind),
    }
}

/// A count; nothing typed is none.
fn count(check: &mut Check, field: &'static str, typed: &str) -> u32 {
    check.optional_whole(field, typed, 0..=MOST).unwrap_or(0)
}

/// A full count.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct CountForm {
    pub(super) stage: Vec<String>,
    pub(super) counted: Vec<String>,
}

impl CountForm {
    pub(super) fn check(&self, duty: &Duty) -> Result<NewSignoff, Mistakes> {
        let mut check = Check::new();
        let mut counted = BTreeMap::new();
        for (line, stage) in self.stage.iter().enumerate() {
            let stage = check.choice::<Stage>("counted", stage);
            let number = check.whole("counted", at(&self.counted, line), 0..=MOST);
            counted.extend(stage.zip(number));
        }
        if check.ok() && counted.is_empty() {
            check.add("counted", "Enter what you counted at each stage.");
        }
        if !check.ok() {
            return Err(check.mistakes());
        }
        Ok(NewSignoff::plain(duty.id, Outcome::Counts).with(Detail::Count(counted)))
    }

    /// What was typed for a line, or what the book has.
    pub(super) fn typed<'a>(&'a self, line: &usize, book: &'a str) -> &'a str {
        self.counted.get(*line).map_or(book, String::as_str)
    }
}

/// Work with hands in: a rehouse, or a sac that is taken from its dam.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct HandsForm {
    pub(super) length_mm: String,
    pub(super) width_mm: String,
    pub(super) fall_gap_mm: String,
    pub(super) shelf: String,
    pub(super) position: String,
    pub(super) pulled: String,
    pub(super) note: String,
    pub(super) ticked: Vec<String>,
    pub(super) size_known: String,
    pub(super) size_why: String,
    pub(super) second: String,
    pub(super) pin: String,
    pub(super) assessed: String,
    pub(super) assessment: String,
    pub(super) assessment_note: String,
}

impl HandsForm {
    pub(super) fn check(&self, duty: &Duty) -> Result<NewSignoff, Mistakes> {
        let mut check = Check::new();
        let note = check.optional_text("note", &self.note, 400);
        let second: Option<MemberId> = check.optional_choice("second", &self.second);
        let detail = if duty.kind == DutyKind::Rehouse { self.rehouse(&mut check) } else { Some(self.pulled()) };
        match (note, detail) {
            (Some(note), Some(detail)) if check.ok() => {
                let checklist = self.ticked.clone();
                Ok(NewSignoff { note, second, checklist, ..NewSignoff::plain(duty.id, Outcome::Done) }.with(detail))
            }
            _ => Err(check.mistakes()),
        }
    }

    fn pulled(&self) -> Detail {
        if self.pulled == "yes" { Detail::Pulled } else { Detail::None }
    }

    fn rehouse(&self, check: &mut Check) -> Option<Detail> {
        let length_mm = check.whole("length_mm", &self.length_mm, 10..=3000);
        let width_mm = check.optional_whole("width_mm", &self.width_mm, 10..=3000);
        let fall_gap_mm = check.optional_whole("fall_gap_mm", &self.fall_gap_mm, 0..=3000);
        let shelf: Option<ShelfId> = check.optional_choice("shelf", &self.shelf);
        let position = check.optional_whole("position", &self.position, 1..=999);
        let despite = if self.size_known == "yes" { check.text("size_why", &self.size_why, 300)? } else { String::new() };
        let assessed = self.assessed(check);
        Some(Detail::Rehouse { enclosure: Enclosure { length_mm: length_mm?, width_mm, fall_gap_mm }, shelf, position, despite, assessed })
    }

    /// Whether one of the two was assessed, and how it went.
    fn assessed(&self, check: &mut Check) -> Option<Assessed> {
        let who: Part = check.optional_choice("assessed", &self.assessed)?;
        let outcome = check.choice("assessment", &self.assessment);
        let note = check.optional_text("assessment_note", &self.assessment_note, 400);
        Some(Assessed { who, outcome: outcome?, note: note? })
    }

    /// Whether the page asks for a reason why the box is used all the same.
    pub(super) fn asks_size(&self, mistakes: &Mistakes) -> bool {
        self.size_known == "yes" || ["size_known", "size_why"].iter().any(|field| !mistakes.of(field).is_empty())
    }

    /// Whether a line of the list was ticked.
    pub(super) fn has(&self, tool: &str) -> bool {
        self.ticked.iter().any(|ticked| ticked == tool)
    }
}
