//! Counts that were made twice.

use chrono::NaiveDate;

use crate::house::text;
use crate::text_columns;

coded_enum! {
    /// When a cohort was counted twice.
    CountAt, "occasion of a count" {
        Opening = "opening", "Opening of the sac";
        Separation = "separation", "Separation";
    }
}

text_columns! { CountAt }

/// Two counts, a third where those did not agree, and which one was taken.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct CountCheck {
    /// When.
    pub what: CountAt,
    /// The local day.
    pub day: NaiveDate,
    /// The first count.
    pub first: i64,
    /// The second.
    pub second: i64,
    /// The third, if there was one.
    pub third: Option<i64>,
    /// The one that was taken.
    pub accepted: i64,
    /// By how much it differs from the one that it agrees with.
    pub difference: i64,
    /// What the book had before a separation.
    pub book: Option<i64>,
}

impl CountCheck {
    /// In words: `240 and 238 on 1 Apr 2026, taken 238`.
    #[must_use]
    pub fn words(&self) -> String {
        let third = self.third.map(|third| format!(", then {third}")).unwrap_or_default();
        let book = match self.book {
            Some(book) if book != self.accepted => {
                format!("; the book had {book}, the difference of {} is a correction", book.abs_diff(self.accepted))
            }
            Some(_) => "; the book agreed".to_owned(),
            None => String::new(),
        };
        format!("{} and {}{third} on {}: taken {}{book}", self.first, self.second, text::day(&self.day), self.accepted)
    }
}
