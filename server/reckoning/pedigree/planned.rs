//! What speaks against a planned pairing.

use std::fmt;

/// From this kinship on, which is the inbreeding of their young, a pairing is warned of: that of half sibs, 1/8 (Falconer &
/// Mackay 1996, chapter 5). That the line is drawn there is common practice, no source.
pub const CLOSE_KINSHIP: f64 = 0.125;

/// Whether two animals are so closely related that a pairing is warned of.
#[must_use]
pub fn is_close(kinship: f64) -> bool {
    kinship >= CLOSE_KINSHIP
}

/// One side of a planned pairing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Side<'a, Species> {
    /// Its species.
    pub species: Species,
    /// Its locality or line; empty when it is not known.
    pub locality: &'a str,
}

/// A way in which two animals do not belong together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mismatch<'a> {
    /// They are of two species.
    Species,
    /// They are of two localities or lines, or it is known of one of them only: the dam's and the sire's.
    Locality(&'a str, &'a str),
}

/// In what two animals do not belong together (common practice, no source: young of two species or two localities belong to
/// neither, and can't be told from them later).
pub fn mismatches<'a, Species: PartialEq>(dam: &Side<'a, Species>, sire: &Side<'a, Species>) -> Vec<Mismatch<'a>> {
    let species = (dam.species != sire.species).then_some(Mismatch::Species);
    let locality = (dam.locality != sire.locality).then_some(Mismatch::Locality(dam.locality, sire.locality));
    species.into_iter().chain(locality).collect()
}

impl fmt::Display for Mismatch<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let known = |locality: &str| if locality.is_empty() { "not known".to_owned() } else { locality.to_owned() };
        match self {
            Self::Species => f.write_str("These are two species: their young would be hybrids, which nobody should make or sell."),
            Self::Locality(dam, sire) => {
                let (dam, sire) = (known(dam), known(sire));
                write!(f, "Their localities or lines differ ({dam} and {sire}): the young would belong to neither.")
            }
        }
    }
}
