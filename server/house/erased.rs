//! The journal of erasures: a file beside the database that names who was erased, by number alone. A backup that was made before
//! an erasure still holds the person; the journal is what erases them again when such a backup comes back.
//!
//! One line each: the seal of the house's first audit row, the buyer's number, and the instant. The seal is the same in every copy of
//! one house's book, so that the numbers of another house are never met; and a number that was given again to somebody who came
//! after that instant is not meant.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{ErrorKind, Write as _};
use std::path::{Path, PathBuf};

use anyhow::Context as _;
use chrono::{DateTime, Utc};

use super::ids::BuyerId;

/// One erasure.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Erased {
    /// The seal of the first audit row of the house.
    pub house: String,
    /// The buyer's number.
    pub buyer: BuyerId,
    /// When they were erased.
    pub at: DateTime<Utc>,
}

/// The journal of a data folder.
#[must_use]
pub fn file(data: &Path) -> PathBuf {
    data.join("erased.journal")
}

/// The copy of the journal that stands beside a backup.
#[must_use]
pub fn beside_backup(backup: &Path) -> PathBuf {
    let mut name = backup.as_os_str().to_owned();
    name.push(".erased");
    PathBuf::from(name)
}

/// Reads a journal; one that is not there holds nothing.
///
/// # Errors
/// A file that can't be read, or a line that is no erasure: nobody may be forgotten silently.
pub fn read(journal: &Path) -> anyhow::Result<BTreeSet<Erased>> {
    let text = match fs::read_to_string(journal) {
        Ok(text) => text,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(BTreeSet::new()),
        Err(error) => return Err(error).with_context(|| format!("cannot read {}", journal.display())),
    };
    let line = |(at, line): (usize, &str)| {
        erased(line).with_context(|| format!("line {} of {} is damaged: mend it, or take it from a backup", at + 1, journal.display()))
    };
    text.lines().enumerate().filter(|(_, text)| !text.trim().is_empty()).map(line).collect()
}

fn erased(line: &str) -> Option<Erased> {
    let mut parts = line.split(' ');
    let (house, buyer, at) = (parts.next()?, parts.next()?, parts.next()?);
    let seal = house.len() == 64 && house.bytes().all(|letter| letter.is_ascii_hexdigit());
    (seal && parts.next().is_none()).then_some(Erased { house: house.to_owned(), buyer: buyer.parse().ok()?, at: at.parse().ok()? })
}

/// Adds erasures to the journal of a data folder. The file is written whole and then put in place, so that it is never half
/// written; what stands there already is written once.
///
/// # Errors
/// A journal that can't be read or written.
pub fn join(data: &Path, more: &BTreeSet<Erased>) -> anyhow::Result<()> {
    let journal = file(data);
    let known = read(&journal)?;
    if more.is_subset(&known) {
        return Ok(());
    }
    let line = |one: &Erased| format!("{} {} {}\n", one.house, one.buyer, one.at.to_rfc3339());
    let text: String = known.union(more).map(line).collect();
    let arriving = data.join("erased.arriving");
    let mut file = File::create(&arriving).with_context(|| format!("cannot write in {}", data.display()))?;
    file.write_all(text.as_bytes())?;
    file.sync_all()?;
    fs::rename(&arriving, &journal)?;
    File::open(data)?.sync_all()?;
    Ok(())
}
