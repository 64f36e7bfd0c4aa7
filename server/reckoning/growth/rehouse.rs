//! When an animal outgrows its enclosure: at which coming moult its span is more than a third of the length
//! (or than the care profile's share of it, [`BoxRules`]), and on which day.
//!
//! Growth by its own fitted ratio, or else by the published range of 1.26 to 1.38 a moult. The days are those of the next
//! moult and, for each moult after it, the days from one moult to the next, added up: the early end by the early ends,
//! the late end by the late ends. That is wider than 80 % when there are several moults (common practice, no source).

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::fit::Fit;
use super::{PLAUSIBLE_RATIO, PRZIBRAM_RATIO, VACHONI_RATIO};
use crate::reckoning::calendar::{days_after, written};
use crate::reckoning::enclosure::BoxRules;
use crate::reckoning::moult::learn::DayWindow;

/// The most moults that are looked ahead; further than that no day means anything.
const MOST_MOULTS: u32 = 20;

/// Why no rehouse was forecast.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum RehouseError {
    /// A span that can't be.
    #[error("the span must be a number of mm above 0 and at most 1000")]
    Span,
    /// An enclosure without a length.
    #[error("the enclosure's length must be at least 1 mm")]
    Length,
}

/// What a forecast of a rehouse rests on.
#[derive(Debug, Clone, Copy)]
pub struct Growing<'a> {
    /// Its leg span now (DLS), mm.
    pub span_mm: f64,
    /// The line through its own spans, if there are enough.
    pub fit: Option<&'a Fit>,
    /// When its next moult is to be expected.
    pub next_moult: DayWindow,
    /// Days from each moult after that to the next: early, as likely before as after, late.
    pub later_days: (u32, u32, u32),
    /// The inner length of its enclosure, mm.
    pub enclosure_length_mm: u32,
    /// The largest usual leg span of an adult of its species, mm: it grows no further.
    pub adult_span_mm: Option<u32>,
    /// How its enclosure is measured.
    pub boxes: BoxRules,
}

/// At which coming moult a rehouse falls due: fewest, likely and most moults, 0 when it is due now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct MoultsAhead {
    /// With the fastest growth.
    pub fewest: u32,
    /// With the likely growth.
    pub likely: u32,
    /// With the slowest growth.
    pub most: u32,
}

/// When a rehouse is to be expected.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RehouseForecast {
    /// At which coming moult; nothing when it is not to be expected within 20 moults or before it is full-grown.
    pub moults: Option<MoultsAhead>,
    /// On which day; nothing when none is to be expected, or when it is due now.
    pub window: Option<DayWindow>,
    /// The likely span after that moult, mm.
    pub span_then_mm: Option<f64>,
    /// Growth per moult: slowest, likely, fastest.
    pub ratios: (f64, f64, f64),
    /// All of it in a sentence.
    pub reason: String,
}

/// Forecasts the rehouse of an animal.
///
/// # Errors
/// Spans that are no number or out of range; enclosures of no length.
pub fn forecast_rehouse(growing: &Growing<'_>) -> Result<RehouseForecast, RehouseError> {
    if !(growing.span_mm > 0.0 && growing.span_mm <= super::fit::MOST_MM) {
        return Err(RehouseError::Span);
    }
    if growing.enclosure_length_mm == 0 {
        return Err(RehouseError::Length);
    }
    let (ratios, ratio_words) = ratios(growing.fit);
    let (slow, likely, fast) = ratios;
    let length = growing.enclosure_length_mm;
    let none = |reason| RehouseForecast { moults: None, window: None, span_then_mm: None, ratios, reason };
    let boxes = growing.boxes;
    let spans = f64::from(boxes.length_tenths) / 10.0;
    let usual = boxes.length_tenths == 30;
    let (limit, times) = if usual { ("a third".to_owned(), "three".to_owned()) } else { (format!("1 in {spans}"), spans.to_string()) };
    if outgrown(growing.span_mm, length, &boxes) {
        let moults = Some(MoultsAhead { fewest: 0, likely: 0, most: 0 });
        let reason = format!("due now: {:.0} mm is more than {limit} of {length} mm", growing.span_mm);
        return Ok(RehouseForecast { moults, ..none(reason) });
    }
    if let Some(adult) = growing.adult_span_mm.filter(|adult| !boxes.outgrown(*adult, length)) {
        return Ok(none(format!("not to be expected: full-grown at {adult} mm it still has {times} times its span in {length} mm")));
    }
    let Some((moults_likely, span)) = moults_until(growing, likely) else {
        return Ok(none(format!("not to be expected within {MOST_MOULTS} moults {ratio_words}")));
    };
    let until = |ratio| moults_until(growing, ratio).map_or(MOST_MOULTS, |(moults, _)| moults);
    let moults = MoultsAhead { fewest: until(fast), likely: moults_likely, most: until(slow) };
    let window = add_up(growing, moults);
    let reason = format!(
        "at its {} moult, likely on {} ({} to {}): from {:.0} mm {ratio_words} it reaches {span:.0} mm, more than {limit} of {length} mm",
        nth(moults),
        written(window.likely),
        written(window.from),
        written(window.to),
        growing.span_mm
    );
    Ok(RehouseForecast { moults: Some(moults), window: Some(window), span_then_mm: Some(span), ratios, reason })
}

/// Growth per moult (slowest, likely, fastest) and where it is from.
fn ratios(fit: Option<&Fit>) -> ((f64, f64, f64), String) {
    let published = (PRZIBRAM_RATIO, (PRZIBRAM_RATIO * VACHONI_RATIO).sqrt(), VACHONI_RATIO);
    match fit {
        Some(fit) if PLAUSIBLE_RATIO.contains(&fit.ratio) => {
            let (low, high) = fit.ratio_interval_80();
            let (least, most) = (*PLAUSIBLE_RATIO.start(), *PLAUSIBLE_RATIO.end());
            let words = format!("at its own × {:.2} a moult ({} spans)", fit.ratio, fit.spans);
            ((low.clamp(least, fit.ratio), fit.ratio, high.clamp(fit.ratio, most)), words)
        }
        Some(fit) => (published, format!("at the published × 1.26 to × 1.38 a moult (its own × {:.2} is not plausible)", fit.ratio)),
        None => (published, "at the published × 1.26 to × 1.38 a moult".to_owned()),
    }
}

/// The rule is kept in whole mm, as spans are measured.
fn outgrown(span_mm: f64, length_mm: u32, boxes: &BoxRules) -> bool {
    boxes.outgrown(span_mm.round() as u32, length_mm)
}

fn moults_until(growing: &Growing<'_>, ratio: f64) -> Option<(u32, f64)> {
    let mut span = growing.span_mm;
    for moults in 1..=MOST_MOULTS {
        span *= ratio;
        if outgrown(span, growing.enclosure_length_mm, &growing.boxes) {
            return Some((moults, span));
        }
    }
    None
}

fn add_up(growing: &Growing<'_>, moults: MoultsAhead) -> DayWindow {
    let later = |first: NaiveDate, moults: u32, days: u32| days_after(first, days.saturating_mul(moults.saturating_sub(1)));
    let (early, middle, late) = growing.later_days;
    let from = later(growing.next_moult.from, moults.fewest, early);
    let likely = later(growing.next_moult.likely, moults.likely, middle).max(from);
    DayWindow { from, likely, to: later(growing.next_moult.to, moults.most, late).max(likely) }
}

fn nth(moults: MoultsAhead) -> String {
    let words = |moults: u32| match moults {
        1 => "next".to_owned(),
        2 => "second next".to_owned(),
        3 => "third next".to_owned(),
        other => format!("{other}th next"),
    };
    if moults.fewest == moults.most {
        return words(moults.likely);
    }
    format!("{} (earliest the {}, latest the {})", words(moults.likely), words(moults.fewest), words(moults.most))
}
