//! What is sent and how it arrives, what comes back, and what is credited for it.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};

use crate::house::ids::{AnimalId, ArrivalId, BuyerId, CohortId, HandoverId, HandoverLineId, PaperId, ShelfId};
use crate::house::money::Currency;
use crate::reckoning::dispatch::{self, Forecast, Rules, degrees};
use crate::reckoning::money::TaxRate;
use crate::reckoning::stage::Stage;
use crate::reckoning::units::Unit;
use crate::text_columns;

coded_enum! {
    /// Why something is credited.
    CreditWhy, "reason of a credit" {
        Returned = "returned", "brought back";
        DeadOnArrival = "dead-on-arrival", "dead on arrival";
        Injured = "injured", "injured on arrival";
        Goodwill = "goodwill", "goodwill";
    }
}

text_columns! { CreditWhy }

/// The house's rules for the road. All are common practice, no source.
#[derive(Debug, Clone, Copy, sqlx::FromRow)]
pub struct RoadRules {
    /// No dispatch below this, tenths of a degree Celsius.
    pub lowest_tenths: i64,
    /// No dispatch above this.
    pub highest_tenths: i64,
    /// Below this a heat pack goes in.
    pub pack_below_tenths: i64,
    /// Below this a heat pack is for whoever packs to judge.
    pub pack_judge_tenths: i64,
    /// The weekdays of dispatch: bit 0 is Monday.
    pub weekdays: u8,
    /// Hours after arrival within which a claim counts.
    pub claim_hours: i64,
    /// Days in quarantine of what a buyer brings back.
    pub return_hold_days: i64,
    /// Days apart of what comes back from an outing.
    pub outing_hold_days: i64,
    /// For changes: the version that was read.
    pub version: i64,
}

impl RoadRules {
    /// Those of dispatch, as the reckoning takes them.
    #[must_use]
    pub fn dispatch(&self) -> Rules {
        Rules {
            lowest: self.lowest_tenths,
            highest: self.highest_tenths,
            pack_below: self.pack_below_tenths,
            pack_judge: self.pack_judge_tenths,
            weekdays: self.weekdays,
        }
    }

    /// The weekdays of dispatch in words.
    #[must_use]
    pub fn days(&self) -> String {
        dispatch::days(self.weekdays)
    }
}

/// A checked journey.
#[derive(Debug, Clone)]
pub struct NewJourney {
    /// Who carries it.
    pub carrier: String,
    /// The day it goes.
    pub day: NaiveDate,
    /// The unit of the forecasts.
    pub unit: Unit,
    /// The forecast here, tenths of the unit.
    pub here: Forecast,
    /// The forecast at the other end.
    pub there: Forecast,
    /// A note; may be empty.
    pub note: String,
}

/// A journey as it is planned.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Journey {
    /// Who carries it.
    pub carrier: String,
    /// The day it goes.
    pub day: NaiveDate,
    /// The code of the unit of the forecasts.
    pub unit: String,
    /// The lowest forecast here, tenths of the unit.
    pub here_low: i64,
    /// The highest forecast here.
    pub here_high: i64,
    /// The lowest forecast at the other end.
    pub there_low: i64,
    /// The highest forecast at the other end.
    pub there_high: i64,
    /// A note.
    pub note: String,
    /// Who planned it.
    pub member_name: Option<String>,
}

impl Journey {
    /// The unit of the forecasts.
    #[must_use]
    pub fn unit(&self) -> Unit {
        self.unit.parse().unwrap_or(Unit::Celsius)
    }

    /// As the reckoning takes it.
    #[must_use]
    pub fn facts(&self) -> dispatch::Journey {
        dispatch::Journey {
            day: self.day,
            unit: self.unit(),
            here: Forecast { low: self.here_low, high: self.here_high },
            there: Forecast { low: self.there_low, high: self.there_high },
        }
    }

    /// The forecast here in words.
    #[must_use]
    pub fn here(&self) -> String {
        format!("{} to {}", degrees(self.here_low, self.unit()), degrees(self.here_high, self.unit()))
    }

    /// The forecast at the other end in words.
    #[must_use]
    pub fn there(&self) -> String {
        format!("{} to {}", degrees(self.there_low, self.unit()), degrees(self.there_high, self.unit()))
    }
}

/// Something that is to be sent or was sent, as the list shows it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Sent {
    /// The handover.
    pub handover_id: HandoverId,
    /// Its buyer.
    pub buyer_id: BuyerId,
    /// Their name.
    pub buyer_name: String,
    /// Who carries it.
    pub carrier: Option<String>,
    /// The day it is planned for, or went.
    pub day: Option<NaiveDate>,
    /// How many animals are in it.
    pub animals: i64,
    /// When it arrived.
    pub arrived_at: Option<DateTime<Utc>>,
    /// How many arrived dead.
    pub dead: i64,
    /// How many arrived injured.
    pub injured: i64,
}

/// What was found of a line on arrival.
#[derive(Debug, Clone, Copy, sqlx::FromRow)]
pub struct ArrivalLine {
    /// The line of the handover.
    pub handover_line_id: HandoverLineId,
    /// How many were alive and sound.
    pub alive: u32,
    /// How many were injured.
    pub injured: u32,
    /// How many were dead.
    pub dead: u32,
}

/// How a handover arrived, as it stands.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Arrival {
    /// Its id.
    pub id: ArrivalId,
    /// When it arrived.
    pub arrived_at: DateTime<Utc>,
    /// When the buyer told of a loss.
    pub claimed_at: Option<DateTime<Utc>>,
    /// Within how many hours a claim counts, as the rule stood.
    pub claim_hours: i64,
    /// A note.
    pub note: String,
    /// Who entered it.
    pub member_name: Option<String>,
    /// Line by line.
    #[sqlx(skip)]
    pub lines: Vec<ArrivalLine>,
}

impl Arrival {
    /// Whether a claim came within the house's hours; nothing when there was none.
    #[must_use]
    pub fn in_time(&self) -> Option<bool> {
        self.claimed_at.map(|claimed| claimed - self.arrived_at <= TimeDelta::hours(self.claim_hours))
    }

    /// What was found of a line.
    #[must_use]
    pub fn of(&self, line: &HandoverLineId) -> Option<ArrivalLine> {
        self.lines.iter().find(|found| found.handover_line_id == *line).copied()
    }
}

/// A checked arrival.
#[derive(Debug, Clone)]
pub struct NewArrival {
    /// When it arrived.
    pub arrived_at: DateTime<Utc>,
    /// When the buyer told of a loss.
    pub claimed_at: Option<DateTime<Utc>>,
    /// A note; may be empty.
    pub note: String,
    /// Every line of the handover.
    pub lines: Vec<ArrivalLine>,
}

/// A checked return.
#[derive(Debug, Clone)]
pub struct NewReturn {
    /// The line of the handover by which it left.
    pub line: HandoverLineId,
    /// How many come back.
    pub quantity: u32,
    /// The stage at which they are now; for a number out of a cohort.
    pub stage: Option<Stage>,
    /// The local day.
    pub day: NaiveDate,
    /// Why.
    pub reason: String,
    /// How it looks; may be empty.
    pub condition: String,
    /// The last day of its quarantine.
    pub quarantine_until: NaiveDate,
    /// Its shelf.
    pub shelf: Option<ShelfId>,
}

/// What came back, as the handover shows it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Returned {
    /// The line by which it had left.
    pub handover_line_id: HandoverLineId,
    /// The animal, if it is one.
    pub animal_id: Option<AnimalId>,
    /// The cohort that it is counted in now, if it is a number.
    pub cohort_id: Option<CohortId>,
    /// The tag, or that cohort's code.
    pub label: String,
    /// How many.
    pub quantity: u32,
    /// The day.
    pub day: NaiveDate,
    /// Why.
    pub reason: String,
    /// How it looked.
    pub condition: String,
    /// Who took it back.
    pub member_name: Option<String>,
}

/// What was charged for a line and what has been credited of it so far, in minor units.
#[derive(Debug, Clone, Copy, PartialEq, Eq, sqlx::FromRow)]
pub struct Credited {
    /// The line of the handover.
    pub handover_line_id: HandoverLineId,
    /// What was charged for the whole line; none while nobody has said.
    pub charged_minor: Option<i64>,
    /// What has been credited of it.
    pub credited_minor: i64,
}

/// A line of a credit note, checked.
#[derive(Debug, Clone, Copy)]
pub struct NewCreditLine {
    /// The line of the handover.
    pub line: HandoverLineId,
    /// For how many of it.
    pub quantity: u32,
    /// Why.
    pub why: CreditWhy,
    /// What was charged for the whole line, in minor units.
    pub charged_minor: i64,
    /// What is credited, in minor units as the line was priced.
    pub amount_minor: i64,
}

/// A checked credit note.
#[derive(Debug, Clone)]
pub struct NewCredit {
    /// The tax rate of the sale.
    pub tax: TaxRate,
    /// Its lines.
    pub lines: Vec<NewCreditLine>,
    /// What the buyer reads beside it; may be empty, and names nobody.
    pub note: String,
}

/// A credit note that was issued.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct CreditNote {
    /// The paper.
    pub paper_id: PaperId,
    /// Its number.
    pub number: String,
    /// The currency.
    pub currency: String,
    /// The tax rate, in percent.
    pub tax_percent: String,
    /// Without tax, in minor units.
    pub net_minor: i64,
    /// The tax.
    pub tax_minor: i64,
    /// With tax.
    pub gross_minor: i64,
    /// The local day it was issued.
    pub issued_on: NaiveDate,
}

impl CreditNote {
    /// With tax, as pages write it.
    #[must_use]
    pub fn amount(&self) -> String {
        let currency = Currency::of(&self.currency).unwrap_or(Currency { code: self.currency.clone(), decimals: 2 });
        currency.amount(&self.gross_minor)
    }
}
