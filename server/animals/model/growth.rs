//! The leg spans of one animal, one for each skin.

use chrono::NaiveDate;

use crate::reckoning::growth::fit::{Fit, Span, fit};
use crate::reckoning::words::SpanMethod;

/// A leg span that was taken.
#[derive(Debug, Clone, Copy, sqlx::FromRow)]
pub struct SpanTaken {
    /// The local day.
    pub day: NaiveDate,
    /// Its leg span (DLS), mm.
    pub mm: i64,
    /// Measured or estimated.
    pub method: SpanMethod,
    /// The moults in our care up to that day.
    pub moults: i64,
}

/// An animal's spans by skin: the last taken in each, a measured one before an estimated one.
#[derive(Debug, Clone)]
pub struct Spans {
    /// The spans, each with the number of its skin: the instar where it is known, else the moults in our care.
    pub by_skin: Vec<(u32, SpanTaken)>,
    /// Whether the numbers are instars.
    pub instars: bool,
}

impl Spans {
    /// Sorts spans by skin. Without the instar that it began with, skins are numbered by the moults in our care.
    #[must_use]
    pub fn new(taken: &[SpanTaken], start_instar: Option<i64>) -> Self {
        let mut by_skin: std::collections::BTreeMap<u32, SpanTaken> = std::collections::BTreeMap::new();
        for span in taken {
            let Ok(skin) = u32::try_from(start_instar.unwrap_or(0) + span.moults) else { continue };
            let better = by_skin.get(&skin).is_none_or(|kept| span.method == SpanMethod::Measured || kept.method == SpanMethod::Estimated);
            if better {
                by_skin.insert(skin, *span);
            }
        }
        Self { by_skin: by_skin.into_iter().collect(), instars: start_instar.is_some() }
    }

    /// The line through them; nothing while there are fewer than three.
    #[must_use]
    pub fn fit(&self) -> Option<Fit> {
        // Leg spans are below half a metre.
        let spans: Vec<Span> = self.by_skin.iter().map(|(skin, span)| Span { instar: *skin, mm: span.mm as f64 }).collect();
        fit(&spans).ok()
    }
}
