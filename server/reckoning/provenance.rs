//! Source codes for spiders (CITES Res. Conf. 12.3; wording as in 50 CFR 23.24) and what a brood may be called.
//! This records and checks consistency; it does not decide law.

use serde::{Deserialize, Serialize};

coded_enum! {
    /// A CITES source code that a spider can have.
    SourceCode, "source code" {
        Wild = "W", "taken from the wild";
        Ranched = "R", "ranched from eggs or young taken from the wild";
        Captive = "C", "bred in captivity";
        Born = "F", "born in captivity";
        Unknown = "U", "source unknown";
        Seized = "I", "confiscated or seized";
    }
}

/// A source code, with whether the specimen is pre-Convention (code O beside it).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// The code.
    pub code: SourceCode,
    /// Acquired before the species was listed.
    pub pre_convention: bool,
}

/// Why a source was not accepted.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SourceError {
    /// Nothing given.
    #[error("give a source code: W, R, C, F, U or I")]
    Empty,
    /// A real code that no spider can have.
    #[error("code {code} is not for spiders: {why}")]
    NotForSpiders {
        /// The code.
        code: char,
        /// What it is for.
        why: &'static str,
    },
    /// O without another code.
    #[error("code O (pre-Convention) is used together with another code, such as C/O")]
    PreConventionAlone,
    /// More than one code beside O.
    #[error("give one source code, and O beside it if the animal is pre-Convention")]
    SeveralCodes,
    /// Not a source code.
    #[error("“{0}” is not a CITES source code; use W, R, C, F, U or I (trade words such as CB or WC are not codes)")]
    NotACode(String),
    /// A wild-mated dam's brood called bred or born in captivity.
    #[error("the dam was mated in the wild, so her brood is W or R, never {0}")]
    WildMated(&'static str),
}

/// Reads a source as typed: one code, with `O` beside it for pre-Convention (`C`, `C/O`, `O C`).
///
/// # Errors
/// A, Y, X and D, which no spider can have; O alone; several codes; anything else.
pub fn check_source(typed: &str) -> Result<Source, SourceError> {
    let capitals = typed.to_uppercase();
    let mut code = None;
    let mut pre_convention = false;
    for word in capitals.split(|c: char| c.is_whitespace() || "/,+&".contains(c)).filter(|word| !word.is_empty()) {
        if word == "O" {
            pre_convention = true;
        } else if code.replace(one_code(word)?).is_some() {
            return Err(SourceError::SeveralCodes);
        }
    }
    match (code, pre_convention) {
        (Some(code), pre_convention) => Ok(Source { code, pre_convention }),
        (None, true) => Err(SourceError::PreConventionAlone),
        (None, false) => Err(SourceError::Empty),
    }
}

fn one_code(word: &str) -> Result<SourceCode, SourceError> {
    let refused = |code, why| Err(SourceError::NotForSpiders { code, why });
    match word {
        "A" => refused('A', "it is for artificially propagated plants"),
        "Y" => refused('Y', "it is for plants of assisted production"),
        "X" => refused('X', "it is for specimens taken at sea"),
        "D" => refused('D', "it is for Appendix I animals from registered operations, and no spider is on Appendix I"),
        other => other.parse().map_err(|_| SourceError::NotACode(other.chars().take(40).collect())),
    }
}

/// Whether a brood may carry a source code, given where its dam was mated (CITES Notification 1998/14).
///
/// # Errors
/// C and F for the brood of a dam that was mated in the wild.
pub fn check_brood(code: SourceCode, dam_mated_in_wild: bool) -> Result<(), SourceError> {
    match code {
        SourceCode::Captive | SourceCode::Born if dam_mated_in_wild => Err(SourceError::WildMated(code.code())),
        _ => Ok(()),
    }
}
