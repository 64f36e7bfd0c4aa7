//! How a brood fared: hatch rate, survival to the second instar and to sale, days at each stage, losses by cause; against
//! the species' earlier broods, and year by year.
//!
//! A brood is a cohort with all that was split off it, its ledgers as one. Shares of counts have Wilson's limits
//! ([`wilson`]), survival has Greenwood's on the log(−log) scale ([`kaplan_meier`]). Lines that were taken back count for
//! nothing; what was only counted wrong counts neither as come in nor as lost.

mod beside;
mod stages;
mod years;

use std::collections::BTreeMap;

use chrono::{Datelike as _, NaiveDate};
use serde::{Deserialize, Serialize};

use super::ledger::{Bucket, Line, standing};
use super::rates::{Limits, poisson_exact, wilson};
use super::stage::Stage;
use super::survival::{CohortFollowed, Origin, OriginDays, Survival, TaggedEnd, followed_from_ledger, kaplan_meier};
use super::words::LossCause;

pub use beside::{Beside, Measure, Stands, beside};
pub use stages::StageDays;
pub use years::{BestYear, Year, best_year, years};

/// The confidence of every limit.
pub const CONFIDENCE: f64 = 0.95;
/// The first days after the second instar, which are the hardest after separation (common practice, no source).
pub const FIRST_DAYS: u32 = 90;
/// The yearly loss of a cohort of *Grammostola vachoni* in captivity: the one published figure to hold others against
/// (Zoologischer Anzeiger 293: 37-45, 2021).
pub const VACHONI_YEARLY_LOSS: f64 = 0.107;
const DAYS_OF_YEAR: f64 = 365.25;

/// A brood as the books have it.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Brood {
    /// Its code.
    pub code: String,
    /// The day from which it is counted.
    pub started_on: NaiveDate,
    /// When its sac was laid and when it was separated.
    pub days: OriginDays,
    /// Its lines.
    pub lines: Vec<Line>,
    /// What became of its tagged animals.
    pub tagged: Vec<TaggedEnd>,
}

/// A part of a count, with Wilson's 95 % limits.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Share {
    /// How many.
    pub count: u32,
    /// Of how many; at least 1.
    pub of: u32,
    /// The share with its limits, 0 to 1.
    pub limits: Limits,
}

impl Share {
    /// A share; nothing of none.
    #[must_use]
    pub fn of(count: u32, of: u32) -> Option<Self> {
        wilson(count.into(), of.into(), CONFIDENCE).ok().map(|limits| Self { count, of, limits })
    }
}

/// Survival on a day, with Greenwood's 95 % limits.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SurvivalOn {
    /// The day, since the first reached the second instar.
    pub day: u32,
    /// The share alive at its end, 0 to 1.
    pub share: f64,
    /// The limits; nothing while none or once all are lost.
    pub limits: Option<(f64, f64)>,
    /// How many were at risk on that day.
    pub at_risk: u32,
}

/// Deaths of one cause.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OfCause {
    /// The cause.
    pub cause: LossCause,
    /// How many of all deaths.
    pub share: Share,
}

/// Losses a year from the second instar on, once anybody was followed for a year.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Yearly {
    /// How many died.
    pub lost: u32,
    /// Years that all of them together were followed.
    pub animal_years: f64,
    /// The share that dies within a year, 0 to 1: 1 − e^(−rate), with Garwood's limits of the rate.
    pub loss: Limits,
}

/// How a brood fared.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Scorecard {
    /// The brood.
    pub code: String,
    /// The day it is dated by: its sac's laying, or the day from which it is counted.
    pub dated: NaiveDate,
    /// Hatched, of the eggs that hatched or were found bad; nothing when no eggs were counted.
    pub hatched: Option<Share>,
    /// Eggs that may still hatch.
    pub eggs_waiting: u32,
    /// Reached the second instar, of the post-embryos and first instars that did or died; nothing for a brood that came in
    /// later.
    pub to_second: Option<Share>,
    /// How many are still on their way to the second instar.
    pub on_the_way: u32,
    /// Survival to the day by which half of those sold had left.
    pub to_sale: Option<SurvivalOn>,
    /// How many were sold.
    pub sold: u32,
    /// Survival of the first ninety days after the second instar; nothing until somebody was followed so long.
    pub first_days: Option<SurvivalOn>,
    /// Losses a year from the second instar on.
    pub yearly: Option<Yearly>,
    /// Days from one stage to the next.
    pub stages: Vec<StageDays>,
    /// Deaths by cause, the most first.
    pub causes: Vec<OfCause>,
    /// How many escaped: no deaths.
    pub escaped: u32,
    /// How many young there were: hatched, or come in.
    pub young: u32,
    /// The brood followed from the second instar.
    #[serde(skip)]
    pub followed: Option<CohortFollowed>,
}

impl Scorecard {
    /// Whether all its young have reached the second instar, died or left: only then is survival to it comparable.
    #[must_use]
    pub fn is_through(&self) -> bool {
        self.on_the_way == 0 && self.eggs_waiting == 0 && self.to_second.is_some()
    }

    /// The year that it is dated by.
    #[must_use]
    pub fn year(&self) -> i32 {
        self.dated.year()
    }
}

/// How a brood fared up to today.
#[must_use]
pub fn scorecard(brood: &Brood, today: NaiveDate) -> Scorecard {
    let lines: Vec<&Line> = standing(&brood.lines).into_iter().filter(|line| line.day <= today).collect();
    let (hatched, eggs_waiting) = hatch(&lines);
    let (to_second, on_the_way) = second(&lines);
    let followed = followed_from_ledger(&brood.lines, &brood.tagged, Origin::SecondInstar, brood.days, today).ok();
    let curve = followed.as_ref().and_then(|followed| kaplan_meier(&followed.followed, None).ok());
    let sales = sales(brood, &lines, today);
    let to_sale = curve.as_ref().zip(followed.as_ref()).and_then(|(curve, followed)| sale(curve, &sales, followed.day_zero));
    let (causes, escaped) = deaths(&lines, &brood.tagged, today);
    Scorecard {
        code: brood.code.clone(),
        dated: brood.days.laid.unwrap_or(brood.started_on),
        hatched,
        eggs_waiting,
        to_second,
        on_the_way,
        to_sale,
        sold: sales.values().sum(),
        first_days: curve.as_ref().and_then(|curve| alive_on(curve, FIRST_DAYS)),
        yearly: followed.as_ref().and_then(yearly),
        stages: stages::days(&lines, brood.days.laid),
        causes,
        escaped,
        young: young(&lines),
        followed,
    }
}

/// The share alive after so many years of a yearly loss: (1 − loss)^years.
#[must_use]
pub fn alive_after(yearly_loss: f64, years: f64) -> f64 {
    (1.0 - yearly_loss).powf(years)
}

fn at_least(bucket: Bucket, stage: Stage) -> bool {
    matches!(bucket, Bucket::Stage(at) if at >= stage)
}

fn is_young(bucket: Bucket, below: Stage) -> bool {
    matches!(bucket, Bucket::Stage(at) if at < below)
}

/// What is into the house or only counted wrong.
fn outside(bucket: Bucket) -> bool {
    matches!(bucket, Bucket::In | Bucket::Variance)
}

/// Sums with signs; never below zero.
fn sum<'a>(lines: impl Iterator<Item = &'a &'a Line>, sign: impl Fn(&Line) -> i64) -> u32 {
    let total: i64 = lines.map(|line| sign(line) * i64::from(line.quantity)).sum();
    u32::try_from(total.max(0)).unwrap_or(u32::MAX)
}

/// How many came to a stage or beyond it on their own legs: by a moult, or counted there at first.
fn reached(lines: &[&Line], stage: Stage) -> u32 {
    let way = |bucket: Bucket| outside(bucket) || matches!(bucket, Bucket::Stage(_));
    sum(lines.iter().filter(|line| way(line.from) && way(line.to)), |line| {
        i64::from(at_least(line.to, stage)) - i64::from(at_least(line.from, stage))
    })
}

/// How many stand below a stage.
fn below(lines: &[&Line], stage: Stage) -> u32 {
    sum(lines.iter(), |line| i64::from(is_young(line.to, stage)) - i64::from(is_young(line.from, stage)))
}

/// How many died below a stage and, at first, at or above another.
fn died(lines: &[&Line], from: Stage, to: Stage) -> u32 {
    let between = |bucket: Bucket| at_least(bucket, from) && is_young(bucket, to);
    let died = lines.iter().filter(|line| line.to == Bucket::Lost && line.cause != Some(LossCause::Escape));
    sum(died, |line| i64::from(between(line.from)))
}

/// Hatched of those that did or were found bad. Where no egg was ever counted nobody knows of how many they are.
fn hatch(lines: &[&Line]) -> (Option<Share>, u32) {
    let bad = died(lines, Stage::Egg, Stage::PostEmbryo);
    let waiting = below(lines, Stage::PostEmbryo);
    let any = lines.iter().any(|line| line.to == Bucket::Stage(Stage::Egg));
    let hatched = reached(lines, Stage::PostEmbryo);
    (Share::of(hatched, hatched.saturating_add(bad)).filter(|_| any), waiting)
}

/// Reached the second instar, of the young that did or died before it.
fn second(lines: &[&Line]) -> (Option<Share>, u32) {
    let (second, first) = (Stage::Instar(2), Stage::PostEmbryo);
    let came_young = lines.iter().any(|line| matches!(line.to, Bucket::Stage(stage) if stage < second && stage >= first));
    let waiting = below(lines, second).saturating_sub(below(lines, first));
    // Those that came in at the second instar or beyond it never stood the test.
    let came_late = sum(lines.iter().filter(|line| outside(line.from) || outside(line.to)), |line| {
        i64::from(at_least(line.to, second)) - i64::from(at_least(line.from, second))
    });
    let reached = reached(lines, second).saturating_sub(came_late);
    let share = Share::of(reached, reached.saturating_add(died(lines, first, second)));
    (share.filter(|_| came_young), waiting)
}

/// How many young there were: come in, less bad eggs and eggs that wait.
fn young(lines: &[&Line]) -> u32 {
    reached(lines, Stage::PostEmbryo)
}

/// How many were sold on each day, tagged ones too.
fn sales(brood: &Brood, lines: &[&Line], today: NaiveDate) -> BTreeMap<NaiveDate, u32> {
    let mut sales: BTreeMap<NaiveDate, u32> = BTreeMap::new();
    let untagged = lines.iter().filter(|line| line.to == Bucket::Sold).map(|line| (line.day, line.quantity));
    let tagged = brood.tagged.iter().filter_map(|end| end.left_on).filter(|day| *day <= today).map(|day| (day, 1));
    for (day, count) in untagged.chain(tagged) {
        let sold = sales.entry(day).or_default();
        *sold = sold.saturating_add(count);
    }
    sales
}

/// Survival to the first day by which half of those sold had left.
fn sale(curve: &Survival, sales: &BTreeMap<NaiveDate, u32>, day_zero: NaiveDate) -> Option<SurvivalOn> {
    let all: u64 = sales.values().map(|count| u64::from(*count)).sum();
    let mut so_far = 0;
    let middle = sales.iter().find_map(|(day, count)| {
        so_far += u64::from(*count);
        (so_far * 2 >= all).then_some(*day)
    })?;
    let day = u32::try_from((middle - day_zero).num_days()).ok()?;
    Some(SurvivalOn { day, share: curve.at(day), limits: curve.limits_at(day), at_risk: curve.at_risk_on(day) })
}

/// Survival on a day, once anybody was followed so long.
fn alive_on(curve: &Survival, day: u32) -> Option<SurvivalOn> {
    let over = curve.last_day >= day || curve.at(curve.last_day) <= 0.0;
    over.then(|| SurvivalOn { day, share: curve.at(day), limits: curve.limits_at(day), at_risk: curve.at_risk_on(day) })
}

/// A rate of the first weeks says nothing of a year, so there is none until somebody was followed for one.
fn yearly(followed: &CohortFollowed) -> Option<Yearly> {
    if followed.followed.ends.iter().all(|end| end.day < 365) {
        return None;
    }
    let ends: u64 = followed.followed.ends.iter().map(|end| u64::from(end.day) * u64::from(end.count)).sum();
    let entries: u64 = followed.followed.entries.iter().map(|entry| u64::from(entry.day) * u64::from(entry.count)).sum();
    let animal_years = ends.saturating_sub(entries) as f64 / DAYS_OF_YEAR;
    let rate = poisson_exact(followed.lost.into(), animal_years, CONFIDENCE).ok()?;
    let share = |rate: f64| -(-rate).exp_m1();
    let loss = Limits { estimate: share(rate.estimate), lower: share(rate.lower), upper: share(rate.upper) };
    Some(Yearly { lost: followed.lost, animal_years, loss })
}

/// Deaths by cause, in the ledger and of tagged animals, and how many escaped.
fn deaths(lines: &[&Line], tagged: &[TaggedEnd], today: NaiveDate) -> (Vec<OfCause>, u32) {
    let mut counts: BTreeMap<LossCause, u32> = BTreeMap::new();
    let untagged = lines.iter().filter(|line| line.to == Bucket::Lost).filter_map(|line| Some((line.cause?, line.quantity)));
    let tagged = tagged.iter().filter_map(|end| end.died_on).filter(|(day, _)| *day <= today).map(|(_, cause)| (cause, 1));
    for (cause, count) in untagged.chain(tagged) {
        let lost = counts.entry(cause).or_default();
        *lost = lost.saturating_add(count);
    }
    let escaped = counts.remove(&LossCause::Escape).unwrap_or(0);
    let all = counts.values().fold(0, |sum: u32, count| sum.saturating_add(*count));
    let mut causes: Vec<OfCause> =
        counts.into_iter().filter_map(|(cause, count)| Share::of(count, all).map(|share| OfCause { cause, share })).collect();
    causes.sort_by_key(|of| (std::cmp::Reverse(of.share.count), of.cause));
    (causes, escaped)
}
