//! When a new sexing may take the place of the one in the book. A weak basis never overwrites a strong one.

use crate::reckoning::words::{Sex, SexBasis};

/// What is to become of a new sexing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verdict {
    /// It is better founded than what is in the book.
    Accept,
    /// It is as well founded, and contradicts: somebody must say that they looked again.
    Confirm(String),
    /// It is not taken, and why.
    Refuse(String),
}

/// Holds a new sexing against the one in the book. Bases are ordered from the weakest to the strongest: suspected from the
/// ventral view or shape, the shed skin, a mature male's palps (common practice, no source).
#[must_use]
pub fn judge(known: (Sex, SexBasis), new: (Sex, SexBasis)) -> Verdict {
    let ((sex, basis), (new_sex, new_basis)) = (known, new);
    match new_sex {
        Sex::Unknown => return Verdict::Refuse("Say which sex it is. A sexing that was wrong is withdrawn by the lead.".to_owned()),
        Sex::Female if new_basis == SexBasis::Mature => {
            return Verdict::Refuse("Palpal bulbs are a mature male's: a female is sexed from her shed skin.".to_owned());
        }
        Sex::Female | Sex::Male => {}
    }
    if new_basis == SexBasis::None {
        return Verdict::Refuse("Say what the sex rests on.".to_owned());
    }
    match new_basis.cmp(&basis) {
        std::cmp::Ordering::Greater => Verdict::Accept,
        std::cmp::Ordering::Equal if new_sex == sex => Verdict::Refuse(format!("It is in the book as {sex}, {basis}, already.")),
        std::cmp::Ordering::Equal => Verdict::Confirm(format!(
            "It is in the book as {sex} on the same basis ({basis}). If you looked again and are sure, tick the box."
        )),
        std::cmp::Ordering::Less => {
            Verdict::Refuse(format!("It is in the book as {sex}, {basis}. That is a stronger basis than {new_basis}, so it stays."))
        }
    }
}
