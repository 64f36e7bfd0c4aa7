//! How days, instants, lengths, counts and bands are written. One formatter for each, used by every page and paper.

use chrono::{DateTime, Datelike as _, NaiveDate, Utc};
use chrono_tz::Tz;

use unicode_normalization::UnicodeNormalization as _;

use crate::reckoning::hazard::Band;

/// A day: `29 Mar 2026`.
#[must_use]
pub fn day(day: &NaiveDate) -> String {
    day.format("%-d %b %Y").to_string()
}

/// A day, or a dash.
#[must_use]
pub fn day_or_dash(given: &Option<NaiveDate>) -> String {
    given.as_ref().map_or_else(|| "–".to_owned(), day)
}

/// A day with its weekday: `Sunday 29 March 2026`.
#[must_use]
pub fn long_day(day: &NaiveDate) -> String {
    day.format("%A %-d %B %Y").to_string()
}

/// A day as fields and files hold it: `2026-03-29`.
#[must_use]
pub fn iso_day(day: &NaiveDate) -> String {
    day.format("%Y-%m-%d").to_string()
}

/// A day against today: `today`, `yesterday`, `in 3 days`, `12 days ago`.
#[must_use]
pub fn from_today(day: &NaiveDate, today: &NaiveDate) -> String {
    match day.num_days_from_ce() - today.num_days_from_ce() {
        0 => "today".to_owned(),
        1 => "tomorrow".to_owned(),
        -1 => "yesterday".to_owned(),
        ahead @ 2.. => format!("in {ahead} days"),
        behind => format!("{} days ago", -behind),
    }
}

/// An instant in the site's zone: `29 Mar 2026, 14:02`.
#[must_use]
pub fn instant(instant: &DateTime<Utc>, zone: &Tz) -> String {
    instant.with_timezone(zone).format("%-d %b %Y, %H:%M").to_string()
}

/// The hour of an instant in the site's zone: `14:02`.
#[must_use]
pub fn hour(instant: &DateTime<Utc>, zone: &Tz) -> String {
    instant.with_timezone(zone).format("%H:%M").to_string()
}

/// When something was done, and when the book heard of it if that was later: `21:14 (reached the book 21:40)`.
#[must_use]
pub fn heard(made_at: &Option<DateTime<Utc>>, at: &DateTime<Utc>, zone: &Tz) -> String {
    let Some(made_at) = made_at else { return hour(at, zone) };
    let same_day = made_at.with_timezone(zone).date_naive() == at.with_timezone(zone).date_naive();
    let reached = if same_day { hour(at, zone) } else { instant(at, zone) };
    format!("{} (reached the book {reached})", hour(made_at, zone))
}

/// A length: millimetres below 100 mm, else centimetres: `66 mm`, `12.5 cm`.
#[must_use]
pub fn length(mm: &i64) -> String {
    if *mm < 100 {
        format!("{mm} mm")
    } else if mm % 10 == 0 {
        format!("{} cm", mm / 10)
    } else {
        format!("{}.{} cm", mm / 10, mm % 10)
    }
}

/// A temperature from tenths of a degree: `24.5 °C`.
#[must_use]
pub fn celsius(tenths: &i64) -> String {
    let sign = if *tenths < 0 { "−" } else { "" };
    format!("{sign}{}.{} °C", tenths.abs() / 10, tenths.abs() % 10)
}

/// A share from 0 to 1 in percent: `78 %`, and with one decimal place below 10 %.
#[must_use]
pub fn percent(share: &f64) -> String {
    let percent = share * 100.0;
    if percent < 9.95 && percent > 0.0 { format!("{percent:.1} %") } else { format!("{percent:.0} %") }
}

/// A share from 0 to 1 as a column shows it whose head says percent: `78`, or `78.4` with one decimal place; a dash for none.
#[must_use]
pub fn percent_figure(share: Option<f64>, places: usize) -> String {
    share.map_or_else(|| "–".to_owned(), |share| format!("{:.places$}", share * 100.0))
}

/// A count with its noun: `1 spiderling`, `40 spiderlings`.
#[must_use]
pub fn count(number: &i64, one: &str, many: &str) -> String {
    format!("{number} {}", if *number == 1 { one } else { many })
}

/// A time of work: `45 s`, `12 min`, `1 h 05 min`.
#[must_use]
pub fn work(seconds: &i64) -> String {
    match (seconds + 30) / 60 {
        0 => format!("{seconds} s"),
        minutes @ 1..60 => format!("{minutes} min"),
        minutes => format!("{} h {:02} min", minutes / 60, minutes % 60),
    }
}

/// A hazard band in a word.
#[must_use]
pub fn band(band: &i64) -> &'static str {
    Band::at(*band).word()
}

/// The mark that stands beside a band's word, so that it is told by shape and not by colour alone.
#[must_use]
pub fn band_mark(band: &i64) -> &'static str {
    Band::at(*band).mark()
}

/// What a level of clearance stands for.
#[must_use]
pub fn clearance(level: &i64) -> String {
    if *level == 0 { "no clearance needed".to_owned() } else { format!("clearance {level}") }
}

/// With a capital first.
#[must_use]
pub fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| format!("{}{}", first.to_uppercase(), letters.as_str()))
}

/// What a rule says of an entry, as a sentence: a capital first, a full stop last.
#[must_use]
pub fn sentence(said: &impl std::fmt::Display) -> String {
    let text = capitalised(&said.to_string());
    if text.is_empty() { text } else { format!("{text}.") }
}

/// A text as searches compare it: compatibility forms, capitals and the accents of European scripts make no difference.
/// Normalisation is NFKC of Unicode Standard Annex #15; capitals are folded as Unicode's CaseFolding.txt has them in full
/// (`ß` as `ss`, every form of sigma alike).
#[must_use]
pub fn searchable(text: &str) -> String {
    let is_accent = |letter: &char| ('\u{300}'..='\u{36f}').contains(letter);
    let bare: String = text.nfkd().filter(|letter| !is_accent(letter)).nfkc().collect();
    let folded: String = bare.chars().flat_map(char::to_uppercase).flat_map(char::to_lowercase).nfkc().collect();
    folded.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The digits of a telephone number, of whatever script, without a trunk prefix in brackets.
#[must_use]
pub fn digits(text: &str) -> String {
    let plain: String = text.nfkc().collect();
    plain.replace("(0)", "").chars().filter_map(digit).collect()
}

/// A decimal digit of the scripts that telephone numbers are written in: Latin, Arabic, Persian, Devanagari.
fn digit(letter: char) -> Option<char> {
    let zero =
        ['0', '\u{660}', '\u{6f0}', '\u{966}'].into_iter().find(|zero| (*zero as u32..*zero as u32 + 10).contains(&(letter as u32)))?;
    char::from_digit(letter as u32 - zero as u32, 10)
}

/// Keeps spreadsheets from taking a cell for a formula: one that begins like one, and is no number, gets an apostrophe before it.
#[must_use]
pub fn guarded(cell: String) -> String {
    let formula = cell.starts_with(['=', '+', '-', '@', '\t', '\r']);
    if formula && cell.parse::<f64>().is_err() { format!("'{cell}") } else { cell }
}
