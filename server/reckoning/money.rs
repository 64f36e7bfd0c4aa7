//! Money: totals of a document with tax, in whole minor units of one currency (cents, pence).
//!
//! All arithmetic is on whole numbers and exact until a tax is rounded: once for the document, or once for each line
//! if the house says so, half to even (ISO/IEC 60559, round to nearest, ties to even). Net and tax always add up to gross.

use std::cmp::Ordering;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// The most decimals of a tax rate.
pub const MOST_DECIMALS: usize = 6;
/// Parts of a percent in which a rate is kept: ten to the power of [`MOST_DECIMALS`].
const PARTS: u128 = 1_000_000;

/// A line of a document.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Line {
    /// How many.
    pub quantity: u32,
    /// The price of one, in minor units.
    pub unit_minor: u64,
}

/// A tax rate from 0 to 100 %, with up to six decimals, kept exactly.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct TaxRate {
    /// Millionths of a percent.
    parts: u128,
}

coded_enum! {
    /// What the tax is rounded for.
    Rounding, "rounding" {
        Document = "document", "once for the document";
        PerLine = "line", "once for each line";
    }
}

/// Why there is no total.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MoneyError {
    /// A rate that is not written as a number of percent.
    #[error("“{given}” is not a tax rate; write percent in figures, such as 20 or 7.7", given = .0.escape_debug())]
    NotARate(String),
    /// A negative rate.
    #[error("a tax rate can't be negative")]
    Negative,
    /// A rate above 100 %.
    #[error("a tax rate can't be over 100 %")]
    Over,
    /// A rate with too many decimals.
    #[error("a tax rate has at most {MOST_DECIMALS} decimals")]
    TooManyDecimals,
    /// Amounts too large to be kept. The place counts from 0; none when it is the sum that is too large.
    #[error("the total is too large; give smaller prices or quantities")]
    TooLarge {
        /// The line that is too large by itself.
        at: Option<usize>,
    },
}

impl FromStr for TaxRate {
    type Err = MoneyError;

    fn from_str(given: &str) -> Result<Self, MoneyError> {
        let not_a_rate = || MoneyError::NotARate(given.chars().take(40).collect());
        let figures = |text: &str| !text.is_empty() && text.bytes().all(|letter| letter.is_ascii_digit());
        let (whole, decimals) = match given.strip_prefix('-').unwrap_or(given).split_once('.') {
            Some((whole, decimals)) if figures(decimals) => (whole, decimals),
            Some(_) => return Err(not_a_rate()),
            None => (given.strip_prefix('-').unwrap_or(given), ""),
        };
        if !figures(whole) {
            return Err(not_a_rate());
        }
        if given.starts_with('-') {
            return Err(MoneyError::Negative);
        }
        if decimals.len() > MOST_DECIMALS {
            return Err(MoneyError::TooManyDecimals);
        }
        // More figures than a number can hold are over 100 as well.
        let parts: u128 = format!("{whole}{decimals:0<MOST_DECIMALS$}").parse().map_err(|_| MoneyError::Over)?;
        if parts > 100 * PARTS { Err(MoneyError::Over) } else { Ok(Self { parts }) }
    }
}

impl TaxRate {
    /// The tax on an amount without tax, rounded half to even.
    fn on_net(self, net: u128) -> u128 {
        half_to_even(net * self.parts, 100 * PARTS)
    }

    /// The tax within an amount that includes it, rounded half to even: gross × p / (100 + p).
    fn within_gross(self, gross: u128) -> u128 {
        half_to_even(gross * self.parts, 100 * PARTS + self.parts)
    }
}

/// The totals of a document, in minor units.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Totals {
    /// Without tax.
    pub net_minor: i64,
    /// The tax.
    pub tax_minor: i64,
    /// With tax: net and tax together.
    pub gross_minor: i64,
    /// The sum of each line as priced, in the order given.
    pub lines_minor: Vec<i64>,
    /// How the tax was reckoned, in words.
    pub summary: String,
}

/// The totals of lines under one tax rate.
///
/// # Errors
/// Totals that are too large.
pub fn totals(lines: &[Line], tax: TaxRate, prices_include_tax: bool, rounding: Rounding) -> Result<Totals, MoneyError> {
    let tax_of = |amount| if prices_include_tax { tax.within_gross(amount) } else { tax.on_net(amount) };
    let (mut sum, mut tax_by_line, mut lines_minor) = (0, 0, Vec::with_capacity(lines.len()));
    for (at, line) in lines.iter().enumerate() {
        let amount = u128::from(line.quantity) * u128::from(line.unit_minor);
        lines_minor.push(kept(amount).ok_or(MoneyError::TooLarge { at: Some(at) })?);
        // No overflow: each amount and each sum is kept in 63 bits of 128.
        sum += amount;
        tax_by_line += tax_of(amount);
        kept(sum).ok_or(MoneyError::TooLarge { at: None })?;
    }
    let tax_minor = match rounding {
        Rounding::Document => tax_of(sum),
        Rounding::PerLine => tax_by_line,
    };
    let (net, gross) = if prices_include_tax { (sum - tax_minor, sum) } else { (sum, sum + tax_minor) };
    let too_large = MoneyError::TooLarge { at: None };
    let (net_minor, gross_minor) = kept(net).zip(kept(gross)).ok_or(too_large)?;
    let included = if prices_include_tax { "within the prices" } else { "on top of the prices" };
    Ok(Totals {
        net_minor,
        tax_minor: gross_minor - net_minor,
        gross_minor,
        lines_minor,
        summary: format!("{} % tax {included}, rounded half to even {rounding}", tax.written()),
    })
}

impl TaxRate {
    /// The rate in percent, without needless noughts.
    pub fn written(self) -> String {
        let (whole, rest) = (self.parts / PARTS, self.parts % PARTS);
        format!("{whole}.{rest:0MOST_DECIMALS$}").trim_end_matches('0').trim_end_matches('.').to_owned()
    }
}

fn kept(amount: u128) -> Option<i64> {
    i64::try_from(amount).ok()
}

/// A quotient rounded to the nearest whole number, a half to the even one.
fn half_to_even(dividend: u128, divisor: u128) -> u128 {
    let (whole, rest) = (dividend / divisor, dividend % divisor);
    match (rest * 2).cmp(&divisor) {
        Ordering::Less => whole,
        Ordering::Equal => whole + whole % 2,
        Ordering::Greater => whole + 1,
    }
}
