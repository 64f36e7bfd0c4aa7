//! Whether cohorts die faster than they should, and what differs where they do.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{Days, NaiveDate};

use crate::house::ids::{CohortId, RackId, SpeciesId};
use crate::reckoning::climate::band::{Needed, Quantity};
use crate::reckoning::ledger::{Bucket, Line, LineKind, Stage, standing};
use crate::reckoning::loss_alarm::{
    Among, Baseline, CauseCount, ClimateDays, Elsewhere, Evidence, FeedingGap, Group, Level, Series, Stratum, Tally, Usual, Verdict,
    Watched, days_of_ledger, judge, seen_before, what_differs,
};
use crate::reckoning::words::LossCause;
use crate::species::model::climate::RackClimate;

/// Days of the window in which what differs is looked for, and days before it that it is held against.
const WINDOW: u64 = 28;
/// See [`WINDOW`].
const BEFORE: u64 = 90;

/// A cohort as its losses are judged.
#[derive(Debug, Clone)]
pub struct Kept {
    /// Its id.
    pub id: CohortId,
    /// Its code.
    pub code: String,
    /// Its species.
    pub species_id: SpeciesId,
    /// The accepted name of that.
    pub species: String,
    /// The cohort at the head of its family: those with the same came from one sac or one batch.
    pub root: CohortId,
    /// The rack that it stands in.
    pub rack: Option<RackId>,
    /// The day from which it is counted.
    pub started_on: NaiveDate,
    /// Its ledger.
    pub lines: Vec<Line>,
    /// Days on which it was fed.
    pub fed: BTreeSet<NaiveDate>,
    /// Days on which somebody could have found losses.
    pub looks: BTreeSet<NaiveDate>,
    /// The last day on which somebody looked into its losses.
    pub looked_into: Option<NaiveDate>,
    /// The most days between feedings by its care profile.
    pub feed_max_days: Option<u32>,
}

/// A cohort with what is to be said of its losses.
#[derive(Debug, Clone)]
pub struct Judged {
    /// Its id.
    pub id: CohortId,
    /// Its code.
    pub code: String,
    /// Its species.
    pub species: String,
    /// How its losses stand.
    pub verdict: Verdict,
    /// What differs, as far as the figures show it; empty while they stand as usual.
    pub differs: Vec<String>,
}

/// One cohort's days at each stage, with what was seen of them in all.
struct Seen {
    stages: BTreeMap<Stage, Series>,
    tallies: BTreeMap<Stage, Tally>,
}

/// Every cohort of the house, with what each went through.
pub struct Losses<'a> {
    kept: &'a [Kept],
    seen: Vec<Seen>,
    /// What was seen of all cohorts of a species together, by stage: what is usual for one of them is this less its own.
    together: BTreeMap<(SpeciesId, Stage), Tally>,
    today: NaiveDate,
}

impl<'a> Losses<'a> {
    /// Adds up every cohort's days.
    #[must_use]
    pub fn new(kept: &'a [Kept], today: NaiveDate) -> Self {
        let seen: Vec<Seen> = kept.iter().map(|cohort| Seen::of(cohort, today)).collect();
        let mut together: BTreeMap<(SpeciesId, Stage), Tally> = BTreeMap::new();
        for (cohort, seen) in kept.iter().zip(&seen) {
            for (stage, tally) in &seen.tallies {
                let sum = together.entry((cohort.species_id, *stage)).or_default();
                *sum = sum.and(*tally);
            }
        }
        Self { kept, seen, together, today }
    }

    /// How the losses of one cohort stand; nothing when there is no such cohort.
    #[must_use]
    pub fn judge(&self, id: CohortId, climate: &[RackClimate]) -> Option<Judged> {
        let at = self.kept.iter().position(|cohort| cohort.id == id)?;
        let (cohort, seen) = (self.kept.get(at)?, self.seen.get(at)?);
        let strata = self.strata(cohort, seen);
        let looks: Vec<NaiveDate> = cohort.looks.iter().copied().collect();
        let verdict = judge(&Watched { strata: &strata, looks: &looks, looked_into: cohort.looked_into }, self.today);
        let differs = if verdict.level == Level::Quiet { Vec::new() } else { what_differs(&self.evidence(cohort, &strata, climate)) };
        Some(Judged { id, code: cohort.code.clone(), species: cohort.species.clone(), verdict, differs })
    }

    /// A cohort's stages, each with what is usual for its species there.
    fn strata(&self, cohort: &Kept, seen: &Seen) -> Vec<Stratum> {
        let stages = seen.stages.iter();
        stages.map(|(&stage, days)| Stratum { stage, days: days.clone(), baseline: self.baseline(cohort, seen, stage, days) }).collect()
    }

    /// What is usual for a cohort at a stage: from what all others of its species have seen there, and from its own past.
    fn baseline(&self, cohort: &Kept, seen: &Seen, stage: Stage, days: &Series) -> Baseline {
        let all = self.together.get(&(cohort.species_id, stage)).copied().unwrap_or_default();
        let others = all.less(seen.tallies.get(&stage).copied().unwrap_or_default());
        Baseline::new(stage, seen_before(days, others, self.today))
    }

    fn evidence(&self, cohort: &Kept, strata: &[Stratum], climate: &[RackClimate]) -> Evidence {
        let from = back(self.today, WINDOW - 1);
        let in_rack = |other: &Kept| cohort.rack.is_some() && other.rack == cohort.rack;
        let rack_name = climate.iter().find(|rack| Some(rack.rack.id) == cohort.rack).map(|rack| rack.rack.name.clone());
        Evidence {
            causes: self.causes(cohort, strata, from),
            rack: rack_name.and_then(|name| self.group(cohort, format!("rack {name}"), in_rack, from)),
            sac: self.group(cohort, "the same sac or batch".to_owned(), |other| other.root == cohort.root, from),
            climate: climate.iter().find(|rack| Some(rack.rack.id) == cohort.rack).and_then(|rack| climate_days(rack, from)),
            feeding: feeding_gap(cohort, from, self.today),
        }
    }

    /// Losses by cause at the stages that were at risk in the window: in it, and all others of the species with what this
    /// cohort lost before it.
    fn causes(&self, cohort: &Kept, strata: &[Stratum], from: NaiveDate) -> Vec<CauseCount> {
        let stages: BTreeSet<Stage> =
            strata.iter().filter(|stratum| stratum.days.tally(from, self.today).exposure > 0).map(|stratum| stratum.stage).collect();
        let mut counts: BTreeMap<LossCause, (u32, u32)> = BTreeMap::new();
        for other in self.kept.iter().filter(|other| other.species_id == cohort.species_id) {
            for line in standing(&other.lines).into_iter().filter(|line| line.kind == LineKind::Lost && line.day <= self.today) {
                let (Bucket::Stage(stage), Some(cause)) = (line.from, line.cause) else { continue };
                if !stages.contains(&stage) {
                    continue;
                }
                let count = counts.entry(cause).or_default();
                let of = if other.id == cohort.id && line.day >= from { &mut count.0 } else { &mut count.1 };
                *of = of.saturating_add(line.quantity);
            }
        }
        counts.into_iter().map(|(cause, (lost, usual))| CauseCount { cause, lost, usual }).collect()
    }

    /// The other cohorts that share something with this one, against all that do not; nothing when none does.
    fn group(&self, cohort: &Kept, name: String, shares: impl Fn(&Kept) -> bool, from: NaiveDate) -> Option<Group> {
        let (mut inside, mut outside): (Option<(u64, Usual)>, (u64, f64)) = (None, (0, 0.0));
        for (other, seen) in self.kept.iter().zip(&self.seen).filter(|(other, _)| other.id != cohort.id) {
            for (stage, days) in &seen.stages {
                let tally = days.tally(from, self.today);
                if tally.exposure == 0 {
                    continue;
                }
                let usual = self.baseline(other, seen, *stage, days).usual(tally.exposure);
                if shares(other) {
                    inside = Some(inside.map_or((tally.lost, usual), |(lost, so_far)| (lost + tally.lost, so_far.and(usual))));
                } else {
                    outside = (outside.0 + tally.lost, outside.1 + usual.mean);
                }
            }
        }
        let (lost, usual) = inside?;
        let count = |lost: u64| u32::try_from(lost).unwrap_or(u32::MAX);
        let elsewhere = (outside.1 > 0.0).then_some(Elsewhere { lost: count(outside.0), usual: outside.1 });
        Some(Group { name, lost: count(lost), usual, elsewhere })
    }
}

impl Seen {
    fn of(cohort: &Kept, today: NaiveDate) -> Self {
        let stages: BTreeSet<Stage> = cohort
            .lines
            .iter()
            .filter_map(|line| if let Bucket::Stage(stage) = line.to { Some(stage) } else { None })
            .filter(|stage| *stage > Stage::Egg)
            .collect();
        let first = cohort.lines.iter().map(|line| line.day).min().unwrap_or(cohort.started_on);
        // The ledger was accepted line by line, so its days are in order.
        let series = |stage: &Stage| Series::new(days_of_ledger(&cohort.lines, Among::Stage(*stage), first, today)).unwrap_or_default();
        let stages: BTreeMap<Stage, Series> = stages.iter().map(|stage| (*stage, series(stage))).collect();
        let tallies = stages.iter().map(|(stage, days)| (*stage, days.tally(first, today))).collect();
        Self { stages, tallies }
    }
}

fn back(day: NaiveDate, days: u64) -> NaiveDate {
    day.checked_sub_days(Days::new(days)).unwrap_or(day)
}

/// Days on which a rack was out of what it needs, in the window and before it: of the quantity that was out on most.
fn climate_days(rack: &RackClimate, from: NaiveDate) -> Option<ClimateDays> {
    let needed = rack.needed.as_ref()?;
    [Quantity::Celsius, Quantity::Humidity].into_iter().filter_map(|of| out_of(rack, needed.of(of), of, from)).max_by_key(|days| days.out)
}

fn out_of(rack: &RackClimate, needed: &Needed, of: Quantity, from: NaiveDate) -> Option<ClimateDays> {
    let Needed::Band { low, high } = needed else { return None };
    let earliest = back(from, BEFORE);
    let mut days: BTreeMap<NaiveDate, Out> = BTreeMap::new();
    for reading in rack.readings.iter().filter(|reading| reading.day >= earliest) {
        let Some(value) = reading.value(of) else { continue };
        let out = days.entry(reading.day).or_default();
        out.below |= value < low.value;
        out.above |= value > high.value;
    }
    let (window, before): (Vec<_>, Vec<_>) = days.into_iter().partition(|(day, _)| *day >= from);
    let count = |days: &[(NaiveDate, Out)], below: bool| {
        days.iter().filter(|(_, out)| if below { out.below } else { out.above }).count().try_into().unwrap_or(u32::MAX)
    };
    let all = |days: &[(NaiveDate, Out)]| u32::try_from(days.len()).unwrap_or(u32::MAX);
    let below = count(&window, true) >= count(&window, false);
    let what = if below { format!("below {}", of.written(low.value)) } else { format!("above {}", of.written(high.value)) };
    Some(ClimateDays { what, out: count(&window, below), of: all(&window), out_before: count(&before, below), of_before: all(&before) })
}

/// On which side a rack was out of what it needs on a day.
#[derive(Default)]
struct Out {
    below: bool,
    above: bool,
}

/// The longest time between feedings that reaches into the window.
fn feeding_gap(cohort: &Kept, from: NaiveDate, today: NaiveDate) -> Option<FeedingGap> {
    let before = cohort.fed.range(..from).next_back().copied();
    let fed: Vec<NaiveDate> = before.into_iter().chain(cohort.fed.range(from..=today).copied()).collect();
    let ends = fed.iter().skip(1).copied().chain([today]);
    let longest = fed.iter().zip(ends).map(|(one, next)| (next - *one).num_days()).max()?;
    Some(FeedingGap { longest: u32::try_from(longest).unwrap_or(0), usual_most: cohort.feed_max_days? })
}
