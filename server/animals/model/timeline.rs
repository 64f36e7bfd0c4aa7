//! An animal's timeline: everything that is in the book of it, in words.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;

use crate::house::clock::local_date;
use crate::house::ids::MemberId;
use crate::house::text;
use crate::reckoning::condition::Condition;
use crate::reckoning::words::{DutyKind, HoldKind, MealOutcome, MoultState, SpanKind, SpanMethod};

coded_enum! {
    /// What an entry of the timeline is of.
    EntryKind, "kind of entry" {
        Meal = "meal", "meal";
        Moult = "moult", "moult";
        Sign = "sign", "moult check";
        Measurement = "measurement", "measurement";
        Condition = "condition", "condition";
        Move = "move", "move";
        Caution = "caution", "caution";
        Hold = "hold", "hold";
        Duty = "duty", "duty";
        Found = "found", "found";
        Change = "change", "change";
    }
}

crate::text_columns! { EntryKind }

impl EntryKind {
    /// Whether a wrong entry of this kind can be struck out.
    #[must_use]
    pub fn can_be_struck(self) -> bool {
        matches!(self, Self::Meal | Self::Moult | Self::Sign | Self::Measurement | Self::Condition)
    }
}

/// An entry as the statement of the timeline gives it: what its parts mean depends on its kind.
#[derive(Debug, sqlx::FromRow)]
pub struct Raw {
    /// What it is of.
    pub kind: EntryKind,
    /// Its id within its kind.
    pub id: i64,
    /// The local day; none where only the instant is kept.
    pub day: Option<NaiveDate>,
    /// When it was entered.
    pub at: DateTime<Utc>,
    /// When it was made, if it waited for the wireless.
    pub made_at: Option<DateTime<Utc>>,
    /// A coded word.
    pub code: String,
    /// A text.
    pub text: String,
    /// Another text.
    pub more: String,
    /// A number.
    pub number: Option<i64>,
    /// Who entered it.
    pub member_id: Option<MemberId>,
    /// Their name.
    pub who: Option<String>,
    /// Whether a sign-off of a round brought it.
    pub on_round: bool,
    /// Who struck it out, when somebody did.
    pub struck_by: Option<String>,
    /// Whether it was struck out.
    pub struck: bool,
    /// Why.
    pub struck_reason: String,
}

/// An entry in words.
#[derive(Debug, Clone)]
pub struct Entry {
    /// What it is of.
    pub kind: EntryKind,
    /// Its id within its kind.
    pub id: i64,
    /// The local day it is of.
    pub day: NaiveDate,
    /// When it was entered.
    pub at: DateTime<Utc>,
    /// What happened.
    pub words: String,
    /// When it was made and when it reached the book, if it waited for the wireless.
    pub waited: Option<String>,
    /// Who entered it.
    pub member_id: Option<MemberId>,
    /// Their name.
    pub who: Option<String>,
    /// Whether a sign-off of a round brought it.
    pub on_round: bool,
    /// That it was struck out, by whom and why.
    pub struck: Option<String>,
}

impl Entry {
    /// Puts an entry into words.
    #[must_use]
    pub fn of(raw: Raw, zone: Tz) -> Self {
        Self {
            kind: raw.kind,
            id: raw.id,
            day: raw.day.unwrap_or_else(|| local_date(zone, raw.at)),
            at: raw.at,
            words: words(&raw, zone),
            waited: raw.made_at.map(|_| text::heard(&raw.made_at, &raw.at, &zone)),
            struck: raw.struck.then(|| struck(&raw)),
            member_id: raw.member_id,
            who: raw.who,
            on_round: raw.on_round,
        }
    }

    /// Whether it stands and can be struck out.
    #[must_use]
    pub fn can_be_struck(&self) -> bool {
        self.struck.is_none() && self.kind.can_be_struck()
    }
}

/// The entries of one day.
#[derive(Debug)]
pub struct Day {
    /// The day.
    pub day: NaiveDate,
    /// What happened on it, latest first.
    pub entries: Vec<Entry>,
}

/// Sorts entries into days, newest first.
#[must_use]
pub fn by_day(mut entries: Vec<Entry>) -> Vec<Day> {
    entries.sort_by_key(|entry| std::cmp::Reverse((entry.day, entry.at, entry.kind, entry.id)));
    let mut days: Vec<Day> = Vec::new();
    for entry in entries {
        match days.last_mut() {
            Some(last) if last.day == entry.day => last.entries.push(entry),
            _ => days.push(Day { day: entry.day, entries: vec![entry] }),
        }
    }
    days
}

fn struck(raw: &Raw) -> String {
    let by = raw.struck_by.as_ref().map_or_else(String::new, |name| format!(" by {name}"));
    if raw.struck_reason.is_empty() { format!("taken back{by}") } else { format!("struck out{by}: {}", raw.struck_reason) }
}

/// The label of a coded word, or the word itself where the list does not know it.
fn label<C: std::str::FromStr + std::fmt::Display>(code: &str) -> String {
    code.parse::<C>().map_or_else(|_| code.to_owned(), |word| word.to_string())
}

fn words(raw: &Raw, zone: Tz) -> String {
    let number = raw.number.unwrap_or(0);
    match raw.kind {
        EntryKind::Meal => {
            let prey = if raw.text.is_empty() { "Prey" } else { raw.text.as_str() };
            format!("{prey} offered: {}", label::<MealOutcome>(&raw.code))
        }
        EntryKind::Moult => {
            let skin = if number == 1 { ", skin kept" } else { "" };
            with_note(format!("Moulted{skin}"), &raw.text)
        }
        EntryKind::Sign => format!("Moult check: {}", label::<MoultState>(&raw.code)),
        EntryKind::Measurement => {
            format!("{}: {}, {}", label::<SpanKind>(&raw.code), text::length(&number), label::<SpanMethod>(&raw.text))
        }
        EntryKind::Condition => with_note(format!("Condition: {}", label::<Condition>(&raw.code)), &raw.text),
        EntryKind::Move => moved(raw),
        EntryKind::Caution => format!("Caution, band {number} at the least: {}", raw.text),
        EntryKind::Hold => held(raw, zone),
        EntryKind::Duty => with_note(format!("{}: {}", label::<DutyKind>(&raw.code), outcome(&raw.more)), &raw.text),
        EntryKind::Found => with_note(text::capitalised(found(&raw.code)), &raw.text),
        EntryKind::Change => raw.text.clone(),
    }
}

fn with_note(words: String, note: &str) -> String {
    if note.is_empty() { words } else { format!("{words}. {note}") }
}

fn moved(raw: &Raw) -> String {
    let size = raw.number.map_or_else(String::new, |length| format!(" {} long", text::length(&length)));
    let rehoused = raw.code == "1";
    match (raw.text == raw.more, rehoused) {
        (true, true) => format!("Rehoused in another box{size}, same place: {}", raw.more),
        (true, false) => format!("Stays at {}", raw.more),
        (false, true) => format!("Rehoused in another box{size}; from {} to {}", raw.text, raw.more),
        (false, false) => format!("From {} to {}", raw.text, raw.more),
    }
}

fn held(raw: &Raw, zone: Tz) -> String {
    let until = raw
        .more
        .parse::<DateTime<Utc>>()
        .map_or_else(|_| "until it is lifted".to_owned(), |until| format!("until {}", text::instant(&until, &zone)));
    with_note(format!("Hold, {}, {until}", label::<HoldKind>(&raw.code)), &raw.text)
}

/// What was found at a stop besides its duty.
fn found(code: &str) -> &str {
    match code {
        "needs-rehouse" => "needs another box",
        "note" => "noted on the round",
        "photo" => "photo to be taken",
        other => other,
    }
}

/// What a sign-off that left no other entry says.
fn outcome(code: &str) -> &str {
    match code {
        "could-not" => "could not be done",
        "found-dead" => "found dead",
        "threat" => "threat display, closed again",
        "aborted" => "broken off, closed again",
        "normal" => "no change",
        other => other,
    }
}
