//! What is true of a simulated animal, whether or not anybody in the house has seen it yet.

use chrono::{Days, NaiveDate};
use rand::RngExt as _;
use rand::rngs::StdRng;

use super::chance::{days_to_moult, normal};
use crate::reckoning::words::LifeStage;

/// The moult ranges of a species in days, by life stage, and how large it gets.
#[derive(Debug, Clone)]
pub(super) struct Kind {
    /// Days between moults of a spiderling, a juvenile and an adult.
    pub moult_days: [(u32, u32); 3],
    /// The least span at which it is adult.
    pub adult_mm: u32,
    /// How large it gets.
    pub largest_mm: u32,
    /// Whether it stands its ground.
    pub defensive: bool,
}

/// One animal's hidden state.
#[derive(Debug, Clone)]
pub(super) struct Life {
    /// Its leg span.
    pub span_mm: u32,
    /// When it moults next.
    pub next_moult: NaiveDate,
    /// From when it refuses food before that.
    pub refuses_from: NaiveDate,
    /// A moult that nobody has found yet.
    pub unseen_moult: Option<NaiveDate>,
    /// When it moulted last, whether or not that has been found.
    pub moulted_on: Option<NaiveDate>,
    /// The day on which it is going to die, for the few that do.
    pub dies_on: Option<NaiveDate>,
    /// How slow it is of its kind: a standard normal number.
    own: f64,
    /// What its species is like.
    pub kind: Kind,
}

impl Life {
    /// An animal that came into the house on a day, somewhere between two moults.
    pub fn begun(span_mm: u32, kind: Kind, day: NaiveDate, rng: &mut StdRng) -> Self {
        let own = normal(rng);
        let mut life = Self { span_mm, next_moult: day, refuses_from: day, unseen_moult: None, moulted_on: None, dies_on: None, own, kind };
        let whole = life.interval(rng);
        life.schedule(day, rng.random_range(whole / 4 + 5..=whole + 5), rng);
        // Some of them die of old age or a failed moult.
        if rng.random_bool(0.13) {
            life.dies_on = day.checked_add_days(Days::new(rng.random_range(60..540)));
        }
        life
    }

    /// Lets the day pass: it may moult and grow.
    pub fn pass(&mut self, day: NaiveDate, rng: &mut StdRng) {
        if day < self.next_moult {
            return;
        }
        self.unseen_moult = Some(day);
        self.moulted_on = Some(day);
        let grown = f64::from(self.span_mm) * rng.random_range(1.14..1.34);
        // Spans are below half a metre, so this fits.
        self.span_mm = (grown.round() as u32).clamp(self.span_mm, self.kind.largest_mm.max(self.span_mm));
        let whole = self.interval(rng);
        self.schedule(day, whole, rng);
    }

    /// Whether it refuses food.
    pub fn refuses(&self, day: NaiveDate) -> bool {
        day >= self.refuses_from || self.unseen_moult.is_some()
    }

    /// Whether nothing of a moult, past or coming, speaks against a journey.
    pub fn may_travel(&self, day: NaiveDate) -> bool {
        !self.refuses(day) && self.moulted_on.is_none_or(|moulted| (day - moulted).num_days() > 40)
    }

    fn stage(&self) -> LifeStage {
        match self.span_mm {
            span if span >= self.kind.adult_mm => LifeStage::Adult,
            0..40 => LifeStage::Spiderling,
            _ => LifeStage::Juvenile,
        }
    }

    fn interval(&self, rng: &mut StdRng) -> u64 {
        let [spiderling, juvenile, adult] = self.kind.moult_days;
        let (least, most) = match self.stage() {
            LifeStage::Spiderling => spiderling,
            LifeStage::Juvenile => juvenile,
            LifeStage::Adult => adult,
        };
        days_to_moult(least.into(), most.max(least).into(), self.own, rng)
    }

    fn schedule(&mut self, day: NaiveDate, in_days: u64, rng: &mut StdRng) {
        let after = |days| day.checked_add_days(Days::new(days)).unwrap_or(day);
        let fast = match self.stage() {
            LifeStage::Spiderling => rng.random_range(3..8),
            LifeStage::Juvenile => rng.random_range(7..18),
            LifeStage::Adult => rng.random_range(18..45),
        };
        self.next_moult = after(in_days.max(2));
        self.refuses_from = after(in_days.saturating_sub(fast).max(1));
    }
}
