//! The table of what is sold: packs and prices as fields, with the totals beneath.

use serde::Deserialize;

use crate::house::errors::AppError;
use crate::house::forms::{Check, Mistakes};
use crate::house::money::Currency;
use crate::reckoning::money::Totals;
use crate::sales::model::{SaleLine, Terms, totals};
use crate::sales::store::sale_lines::LineChange;

/// A row of the table, with what was typed into it.
pub(super) struct Row {
    pub(super) line: SaleLine,
    pub(super) packs: String,
    pub(super) price: String,
}

/// The lines, their totals, and the money they are in.
pub(super) struct LineTable {
    pub(super) rows: Vec<Row>,
    pub(super) terms: Option<Terms>,
    pub(super) totals: Option<Totals>,
    /// Why there is no total.
    pub(super) no_total: Option<String>,
    /// How much less than by the list is asked.
    pub(super) discount: i64,
    /// How many lines have no price.
    pub(super) unpriced: usize,
}

/// What was typed into the table.
#[derive(Debug, Default, Clone, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct LinesForm {
    line: Vec<String>,
    packs: Vec<String>,
    price: Vec<String>,
}

impl LinesForm {
    /// The changes, and every mistake by the line it is in.
    pub(super) fn check(&self, lines: &[SaleLine], terms: Option<&Terms>) -> Result<Vec<LineChange>, Mistakes> {
        let mut check = Check::new();
        let mut changes = Vec::new();
        for (at, typed) in self.line.iter().enumerate() {
            let Some(line) = lines.iter().find(|line| line.id.to_string() == *typed) else {
                check.add("", "A line was taken off meanwhile. Look at the list again first.");
                continue;
            };
            let price = self.price.get(at).map_or("", |price| price.trim());
            let unit_minor = match terms {
                _ if price.is_empty() => None,
                None => {
                    check.add("price", "The house has no currency yet: an owner sets it first.");
                    continue;
                }
                Some(terms) => match terms.currency().read(price) {
                    Ok(minor) => Some(minor),
                    Err(why) => {
                        check.add("price", format!("{}: {why}", line.words()));
                        continue;
                    }
                },
            };
            let packs = match self.packs.get(at).map(|packs| packs.trim()).filter(|_| line.animal_id.is_none()) {
                None => None,
                Some(typed) => match typed.parse::<u32>().ok().filter(|packs| (1..=3000 / line.pack_of).contains(packs)) {
                    Some(packs) => Some(packs),
                    None => {
                        check.add("packs", format!("{}: enter a whole number from 1 to {}.", line.words(), 3000 / line.pack_of));
                        continue;
                    }
                },
            };
            changes.push(LineChange { id: line.id, packs, unit_minor });
        }
        if check.ok() { Ok(changes) } else { Err(check.mistakes()) }
    }

    fn typed(&self, line: &SaleLine, of: &[String]) -> Option<String> {
        let place = self.line.iter().position(|id| *id == line.id.to_string())?;
        of.get(place).cloned()
    }
}

impl LineTable {
    /// The table, with what was typed over what stands.
    pub(super) fn of(lines: Vec<SaleLine>, terms: Option<Terms>, typed: &LinesForm) -> Self {
        let currency = terms.as_ref().map(Terms::currency);
        let reckoned = terms.as_ref().map(|terms| totals(&lines, terms));
        let (totals, no_total) = match reckoned {
            Some(Ok(totals)) => (totals, None),
            Some(Err(why)) => (None, Some(crate::house::text::sentence(&why))),
            None => (None, None),
        };
        Self {
            discount: lines.iter().filter_map(SaleLine::discount_minor).sum(),
            unpriced: lines.iter().filter(|line| line.unit_minor.is_none()).count(),
            rows: lines.into_iter().map(|line| row(line, currency.as_ref(), typed)).collect(),
            terms,
            totals,
            no_total,
        }
    }

    /// The house's currency; for a house without prices, none.
    pub(super) fn currency(&self) -> Option<Currency> {
        self.terms.as_ref().map(Terms::currency)
    }

    /// The tax as the total names it: `VAT 20 %`.
    pub(super) fn tax_words(&self) -> String {
        self.terms.as_ref().map_or_else(String::new, |terms| format!("{} {} %", terms.tax_name, terms.tax_percent))
    }
}

fn row(line: SaleLine, currency: Option<&Currency>, typed: &LinesForm) -> Row {
    let price = line.unit_minor.zip(currency).map_or_else(String::new, |(minor, currency)| currency.figure(&minor));
    let packs = line.packs.to_string();
    Row { packs: typed.typed(&line, &typed.packs).unwrap_or(packs), price: typed.typed(&line, &typed.price).unwrap_or(price), line }
}

/// What a refused change says, for pages that show the form again.
pub(super) fn refused(error: AppError) -> Result<(u16, Mistakes), AppError> {
    match error {
        AppError::Refused(mistakes) => Ok((422, mistakes)),
        AppError::Conflict(why) => Ok((409, Mistakes::one("", why))),
        other => Err(other),
    }
}
