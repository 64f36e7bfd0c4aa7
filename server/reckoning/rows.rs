//! Reading lists of bounded length.

use std::fmt;
use std::marker::PhantomData;

use serde::de::{Error, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer};

/// The most rows that one list may have.
pub const MOST_ROWS: usize = 1_000_000;

/// Reads a list of at most [`MOST_ROWS`] rows. A longer one is refused at the first row too many, before it fills the
/// memory.
///
/// # Errors
/// Longer lists, and rows that are not of their kind.
pub fn read<'de, D: Deserializer<'de>, T: Deserialize<'de>>(deserializer: D) -> Result<Vec<T>, D::Error> {
    deserializer.deserialize_seq(RowsVisitor(PhantomData))
}

struct RowsVisitor<T>(PhantomData<T>);

impl<'de, T: Deserialize<'de>> Visitor<'de> for RowsVisitor<T> {
    type Value = Vec<T>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Vec<T>, A::Error> {
        let mut rows = Vec::new();
        while let Some(row) = seq.next_element()? {
            if rows.len() == MOST_ROWS {
                return Err(Error::custom(format_args!("has more than {MOST_ROWS} rows; give fewer")));
            }
            rows.push(row);
        }
        Ok(rows)
    }
}
