//! Totals of a document with tax.

use serde::Deserialize;

use super::{Entry, Rows, run};
use crate::reckoning::ReckonError;
use crate::reckoning::money::{Line, MoneyError, Rounding, Totals, totals};

pub(super) const MONEY: Entry = Entry {
    names: &["money"],
    about: "net, tax and gross of a document's lines",
    input: r#"{"lines": [{"quantity": 3, "unit_minor": 1250}], "tax_percent": "7.7", "prices_include_tax": false, "rounding": "document"}
Prices are in whole minor units (cents, pence) of one currency; the rate is a text of at most six decimals, from 0 to 100; the tax is
rounded once for the "document" (so without "rounding") or for each "line"."#,
    output: r#"{"net_minor", "tax_minor", "gross_minor", "lines_minor", "summary"}: whole minor units; net + tax = gross always"#,
    formula: "tax = net × p / 100, or gross × p / (100 + p) where prices include it, in whole numbers, rounded half to even.",
    source: "arithmetic; rounding to nearest, ties to even: ISO/IEC 60559",
    run: |text| run(text, reckon),
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Given {
    lines: Rows<Line>,
    tax_percent: String,
    prices_include_tax: bool,
    #[serde(default = "once")]
    rounding: Rounding,
}

fn once() -> Rounding {
    Rounding::Document
}

fn reckon(given: Given) -> Result<Totals, ReckonError> {
    let tax = given.tax_percent.parse().map_err(|error| ReckonError::field("tax_percent", error))?;
    totals(&given.lines, tax, given.prices_include_tax, given.rounding).map_err(|error| {
        let field = match error {
            MoneyError::TooLarge { at: Some(at) } => format!("lines[{at}]"),
            _ => "lines".to_owned(),
        };
        ReckonError::field(field, error)
    })
}
