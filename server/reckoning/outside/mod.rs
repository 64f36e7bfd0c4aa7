//! The reckonings as they are run on data from outside: JSON in, JSON out, one entry a reckoning. An entry also says in
//! words what goes in, what comes out, by which formula, and where the formula is from.
//!
//! The shapes are those of the reference files in `tests/oracles`. A field that is not named in the shape is refused,
//! so that a mistyped option is not quietly left out.

mod animals;
mod breeding;
mod calendar;
mod captive_code;
mod common_ancestors;
mod cusum;
mod degree_days;
mod dispatch;
mod enclosure;
mod generation;
mod given;
mod growth;
mod hazard;
mod ledger;
mod life_table;
mod look_ahead;
mod loss_alarm;
mod money;
mod moult_calibration;
mod moult_interval;
mod out_of_range;
mod outing;
mod pedigree;
mod planner;
mod prey;
mod provenance;
mod provenance_chain;
mod psychrometrics;
mod rates;
mod rota;
mod sac_forecast;
mod sale_readiness;
mod scorecard;
mod survival;
mod tag;
mod units;

use given::{Rows, run};

use super::ReckonError;

/// Every reckoning that can be run on data from outside, in the order of the list.
pub(super) const ENTRIES: &[Entry] = &[
    breeding::BREEDING,
    calendar::CALENDAR,
    captive_code::CAPTIVE_CODE,
    tag::CHECK_DIGIT,
    common_ancestors::COMMON_ANCESTORS,
    cusum::CUSUM,
    degree_days::DEGREE_DAYS,
    dispatch::DISPATCH,
    enclosure::ENCLOSURE,
    generation::GENERATION,
    growth::GROWTH,
    hazard::HAZARD,
    survival::KAPLAN_MEIER,
    ledger::LEDGER,
    life_table::LIFE_TABLE,
    survival::LOG_RANK,
    look_ahead::LOOK_AHEAD,
    loss_alarm::LOSS_ALARM,
    money::MONEY,
    moult_calibration::MOULT_CALIBRATION,
    moult_interval::MOULT_INTERVAL,
    out_of_range::OUT_OF_RANGE,
    outing::OUTING,
    pedigree::PEDIGREE,
    planner::PLANNER,
    prey::PREY_FORECAST,
    rates::RATES,
    provenance::PROVENANCE,
    provenance_chain::PROVENANCE_CHAIN,
    psychrometrics::PSYCHROMETRICS,
    rota::ROTA,
    sac_forecast::SAC_FORECAST,
    sale_readiness::SALE_READINESS,
    scorecard::SCORECARD,
    units::UNITS,
];

/// A reckoning that can be run on data from outside.
#[derive(Debug)]
pub struct Entry {
    /// What it is called by; the first is its usual name.
    pub names: &'static [&'static str],
    /// What it is for, in one line.
    pub about: &'static str,
    /// The shape of the input, with units.
    pub input: &'static str,
    /// The shape of the output, with units.
    pub output: &'static str,
    /// How it is reckoned.
    pub formula: &'static str,
    /// Where the formula is from.
    pub source: &'static str,
    /// JSON text in, JSON text out.
    pub(super) run: fn(&str) -> Result<String, ReckonError>,
}

impl Entry {
    /// Its usual name.
    #[must_use]
    pub fn name(&self) -> &'static str {
        self.names.first().copied().unwrap_or_default()
    }

    /// All that is known of it, to be read by people.
    #[must_use]
    pub fn explained(&self) -> String {
        let (_, others) = self.names.split_at(1.min(self.names.len()));
        let also = if others.is_empty() { String::new() } else { format!(" (also: {})", others.join(", ")) };
        format!(
            "{}{also}: {}\n\nInput\n{}\n\nOutput\n{}\n\nFormula\n{}\n\nSource\n{}\n",
            self.name(),
            self.about,
            self.input,
            self.output,
            self.formula,
            self.source
        )
    }
}
