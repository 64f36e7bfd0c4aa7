//! What the house sets for its papers.

use chrono::NaiveDate;

use crate::house::ids::{LabelSheetId, LawPlaceId};
use crate::reckoning::label_grid::Grid;

/// The settings of papers.
#[derive(Debug, Clone, PartialEq, Eq, sqlx::FromRow)]
pub struct PaperSettings {
    /// The house's registration with an authority; may be empty.
    pub registration: String,
    /// The house's telephone; may be empty.
    pub telephone: String,
    /// The terms of live arrival.
    pub arrival_terms: String,
    /// The least age of whoever takes an animal of band 2; 0: none is asked for.
    pub least_age_2: i64,
    /// The same for band 3.
    pub least_age_3: i64,
    /// The least temperature on box labels, °C.
    pub box_min_c: i64,
    /// The greatest.
    pub box_max_c: i64,
    /// For changes: the version that was read.
    pub version: i64,
}

impl PaperSettings {
    /// The age that a band asks for; 0: none.
    #[must_use]
    pub fn least_age(&self, band: i64) -> i64 {
        match band {
            ..=1 => 0,
            2 => self.least_age_2,
            _ => self.least_age_3.max(self.least_age_2),
        }
    }
}

/// What law is said to ask for at a place.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct LawPlace {
    /// Its id.
    pub id: LawPlaceId,
    /// The place.
    pub place: String,
    /// What is known.
    pub text: String,
    /// The day it was written.
    pub made_on: NaiveDate,
}

/// A saved sheet of labels.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct LabelSheet {
    /// Its id.
    pub id: LabelSheetId,
    /// Its name.
    pub name: String,
    #[sqlx(flatten)]
    grid: GridRow,
}

#[derive(Debug, Clone, sqlx::FromRow)]
struct GridRow {
    page_width: i64,
    page_height: i64,
    margin_left: i64,
    margin_top: i64,
    columns: i64,
    rows: i64,
    label_width: i64,
    label_height: i64,
    gap_x: i64,
    gap_y: i64,
}

impl LabelSheet {
    /// Its measures.
    #[must_use]
    pub fn grid(&self) -> Grid {
        let row = &self.grid;
        Grid {
            page_width: row.page_width,
            page_height: row.page_height,
            margin_left: row.margin_left,
            margin_top: row.margin_top,
            columns: row.columns,
            rows: row.rows,
            label_width: row.label_width,
            label_height: row.label_height,
            gap_x: row.gap_x,
            gap_y: row.gap_y,
        }
    }
}
