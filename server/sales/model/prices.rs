//! The house's money, its price lists, and which price is meant for an animal or a lot.

use chrono::NaiveDate;

use crate::house::ids::{PriceId, PriceListId, SpeciesId};
use crate::house::money::Currency;
use crate::reckoning::money::{MoneyError, Rounding, TaxRate};
use crate::reckoning::stage::Stage;
use crate::reckoning::words::Sex;
use crate::text_columns;

coded_enum! {
    /// The sex that a price is for.
    PriceSex, "sex of a price" {
        Any = "any", "any sex";
        Female = "female", "female";
        Male = "male", "male";
        Unknown = "unknown", "not sexed";
    }
}

text_columns! { PriceSex, Rounding }

impl PriceSex {
    /// Whether it is for an animal of this sex.
    #[must_use]
    pub fn takes(self, sex: Sex) -> bool {
        match self {
            Self::Any => true,
            Self::Female => sex == Sex::Female,
            Self::Male => sex == Sex::Male,
            Self::Unknown => sex == Sex::Unknown,
        }
    }
}

/// The house's currency and tax.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Terms {
    /// The currency's code.
    pub currency: String,
    /// Its decimals.
    pub decimals: u32,
    /// What the tax is called.
    pub tax_name: String,
    /// Its rate in percent, as typed.
    pub tax_percent: String,
    /// Whether prices include it.
    pub prices_include_tax: bool,
    /// What it is rounded for.
    pub rounding: Rounding,
    /// The seller's tax number, as receipts print it; may be empty.
    pub tax_number: String,
    /// How many days an order keeps its stock unless somebody says otherwise.
    pub reserve_days: u32,
    /// For changes: the version that was read.
    pub version: i64,
}

impl Terms {
    /// The currency.
    #[must_use]
    pub fn currency(&self) -> Currency {
        Currency { code: self.currency.clone(), decimals: self.decimals }
    }

    /// The tax rate.
    ///
    /// # Errors
    /// What is stored is no rate.
    pub fn rate(&self) -> Result<TaxRate, MoneyError> {
        self.tax_percent.parse()
    }
}

/// Checked terms of trade.
#[derive(Debug, Clone)]
pub struct NewTerms {
    /// The currency.
    pub currency: Currency,
    /// What the tax is called.
    pub tax_name: String,
    /// Its rate.
    pub tax: TaxRate,
    /// Whether prices include it.
    pub prices_include_tax: bool,
    /// What it is rounded for.
    pub rounding: Rounding,
    /// The seller's tax number; may be empty.
    pub tax_number: String,
    /// How many days an order keeps its stock.
    pub reserve_days: u32,
}

/// A price list.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct PriceList {
    /// Its id.
    pub id: PriceListId,
    /// Its currency's code.
    pub currency: String,
    /// That currency's decimals.
    pub decimals: u32,
    /// The day from which it holds; none while it is a draft.
    pub valid_from: Option<NaiveDate>,
    /// Who published it, or else made it.
    pub by_name: Option<String>,
    /// A note.
    pub note: String,
    /// How many prices are on it.
    pub prices: i64,
}

impl PriceList {
    /// The currency.
    #[must_use]
    pub fn currency(&self) -> Currency {
        Currency { code: self.currency.clone(), decimals: self.decimals }
    }
}

/// What a price is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PriceClass {
    /// A stage.
    Stage(Stage),
    /// Leg spans (DLS) from one to another, mm, both included.
    Size(u32, u32),
}

/// A checked price.
#[derive(Debug, Clone, Copy)]
pub struct NewPrice {
    /// Its species.
    pub species: SpeciesId,
    /// What it is for.
    pub class: PriceClass,
    /// Of which sex.
    pub sex: PriceSex,
    /// How many are in the pack; 1 for a single.
    pub pack_of: u32,
    /// The price of one pack, in minor units.
    pub amount_minor: i64,
}

/// A price as lists show it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Price {
    /// Its id.
    pub id: PriceId,
    /// Its species.
    pub species_id: SpeciesId,
    /// The species' accepted name.
    pub species: String,
    /// The stage, when it is for one.
    pub stage: Option<Stage>,
    /// The least leg span, when it is for a range, mm.
    pub from_mm: Option<u32>,
    /// The greatest.
    pub to_mm: Option<u32>,
    /// Of which sex.
    pub sex: PriceSex,
    /// How many are in the pack.
    pub pack_of: u32,
    /// The price of one pack, in minor units.
    pub amount_minor: i64,
}

/// What bears on the price of an animal or a lot.
#[derive(Debug, Clone, Copy)]
pub struct Priced {
    /// Its species.
    pub species: SpeciesId,
    /// Its stage, where known.
    pub stage: Option<Stage>,
    /// Its leg span, where known, mm.
    pub span_mm: Option<u32>,
    /// Its sex.
    pub sex: Sex,
}

impl Price {
    /// What it is for, in words: `second instar`, `50–80 mm, female`, `second instar, pack of 5`.
    #[must_use]
    pub fn words(&self) -> String {
        let class = match (self.stage, self.from_mm, self.to_mm) {
            (Some(stage), ..) => stage.label(),
            (None, Some(from), Some(to)) => format!("{from}–{to} mm"),
            _ => String::new(),
        };
        let sex = if self.sex == PriceSex::Any { String::new() } else { format!(", {}", self.sex) };
        let pack = if self.pack_of == 1 { String::new() } else { format!(", pack of {}", self.pack_of) };
        format!("{class}{sex}{pack}")
    }

    fn fits(&self, priced: &Priced) -> bool {
        let class = match (self.stage, self.from_mm, self.to_mm) {
            (Some(stage), ..) => priced.stage == Some(stage),
            (None, Some(from), Some(to)) => priced.span_mm.is_some_and(|span| (from..=to).contains(&span)),
            _ => false,
        };
        class && self.species_id == priced.species && self.sex.takes(priced.sex)
    }

    /// The nearest fit comes first: its own sex before any, then a size before a stage, then the narrower range.
    fn rank(&self) -> (bool, bool, u32) {
        let width = self.to_mm.zip(self.from_mm).map_or(0, |(to, from)| to - from);
        (self.sex == PriceSex::Any, self.stage.is_some(), width)
    }
}

/// The price of a pack of this many of what is priced; nothing when the list has none.
#[must_use]
pub fn price_for<'a>(prices: &'a [Price], priced: &Priced, pack_of: u32) -> Option<&'a Price> {
    prices.iter().filter(|price| price.pack_of == pack_of && price.fits(priced)).min_by_key(|price| price.rank())
}
