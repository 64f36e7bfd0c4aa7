//! Short tags with a check character, so that a mistyped label is caught: ISO/IEC 7064 MOD 37,36.
//! The check finds every single wrong character and nearly every swap of two neighbours.

use serde::Serialize;

/// The letters of a tag's body: digits and capitals without the look-alikes I, L, O and U.
const ALPHABET: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
/// The fewest characters of a body.
const SHORTEST_BODY: usize = 4;
/// Longer entries are not searched for slips of the finger.
const LONGEST_TYPED: usize = 24;
/// Characters that are taken for one another on a label or a keyboard.
const LOOK_ALIKES: [(char, char); 14] = [
    ('0', 'O'),
    ('0', 'D'),
    ('0', 'Q'),
    ('O', 'Q'),
    ('O', 'D'),
    ('1', 'I'),
    ('1', 'L'),
    ('I', 'L'),
    ('5', 'S'),
    ('8', 'B'),
    ('2', 'Z'),
    ('6', 'G'),
    ('U', 'V'),
    ('4', 'A'),
];

/// A body that has no check character: empty, or with something other than 0-9 and A-Z in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a tag is made of the characters 0-9 and A-Z, at least one")]
pub struct NotATag;

coded_enum! {
    /// What may have gone wrong in typing a tag.
    CorrectionKind, "kind of correction" {
        LookAlike = "look-alike", "a look-alike";
        Swapped = "swapped", "two neighbours swapped";
        Other = "other", "another character";
    }
}

/// One change that would make a mistyped tag hold.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Correction {
    /// The suspect character's place, counted from 1; the first of the two for a swap.
    pub position: usize,
    /// The character as typed.
    pub typed: char,
    /// The character that may have been meant.
    pub meant: char,
    /// What may have gone wrong.
    pub kind: CorrectionKind,
    /// The whole tag with the change.
    pub tag: String,
}

fn value_of(character: char) -> Option<u32> {
    if character.is_ascii_lowercase() { None } else { character.to_digit(36) }
}

fn remainder(body: impl Iterator<Item = char>) -> Option<u32> {
    body.map(value_of).try_fold(36, |product, value| {
        let sum = (product + value?) % 36;
        Some((if sum == 0 { 36 } else { sum }) * 2 % 37)
    })
}

/// The check character to append to a body (ISO/IEC 7064 MOD 37,36).
///
/// # Errors
/// An empty body, or one with anything but 0-9 and A-Z.
pub fn check_character(body: &str) -> Result<char, NotATag> {
    if body.is_empty() {
        return Err(NotATag);
    }
    let product = remainder(body.chars()).ok_or(NotATag)?;
    let check = char::from_digit((37 - product) % 36, 36).ok_or(NotATag)?;
    Ok(check.to_ascii_uppercase())
}

/// Whether a whole code, check character included, holds.
pub fn holds(code: &str) -> bool {
    let mut body = code.chars();
    body.next_back().is_some_and(|check| check_character(body.as_str()) == Ok(check))
}

/// The tag of a running number: at least four characters of body, then the check character.
/// Different numbers have different tags.
pub fn from_serial(serial: u64) -> String {
    let mut body = Vec::new();
    let mut rest = serial;
    while rest > 0 || body.len() < SHORTEST_BODY {
        body.push(ALPHABET.get((rest % 32) as usize).map_or('0', |letter| char::from(*letter)));
        rest /= 32;
    }
    let body: String = body.into_iter().rev().collect();
    let check = check_character(&body).ok();
    body.chars().chain(check).collect()
}

/// A tag as typed or scanned, brought to the form it is kept in: capitals, without spaces and hyphens.
pub fn normalise(typed: &str) -> String {
    typed.chars().filter(|c| !c.is_whitespace() && *c != '-').flat_map(char::to_uppercase).collect()
}

/// The changes that would make a mistyped tag hold, likeliest first: look-alikes, then two neighbours swapped, then
/// any one other character; within each, tags that this house could have made come first. Empty for a tag that holds, is too long, or has more than one impossible character.
pub fn corrections(typed: &str) -> Vec<Correction> {
    let characters: Vec<char> = normalise(typed).chars().collect();
    let length = characters.len();
    if !(2..=LONGEST_TYPED).contains(&length) || holds(&characters.iter().collect::<String>()) {
        return Vec::new();
    }
    let mut found = Vec::new();
    for &(one, other) in &LOOK_ALIKES {
        for (seen, meant) in [(one, other), (other, one)] {
            for (index, _) in characters.iter().enumerate().filter(|(_, character)| **character == seen) {
                offer(&mut found, &characters, index, meant, CorrectionKind::LookAlike);
            }
        }
    }
    for index in 1..length {
        offer_swap(&mut found, &characters, index - 1);
    }
    for index in 0..length {
        for meant in ('0'..='9').chain('A'..='Z') {
            offer(&mut found, &characters, index, meant, CorrectionKind::Other);
        }
    }
    found.sort_by_key(|correction| (correction.kind, !is_of_the_house(&correction.tag), correction.position));
    found
}

/// Whether a tag could have been made by [`from_serial`].
fn is_of_the_house(tag: &str) -> bool {
    let body = tag.chars().count().saturating_sub(1);
    body >= SHORTEST_BODY && tag.chars().take(body).all(|letter| ALPHABET.iter().any(|ours| char::from(*ours) == letter))
}

fn offer(found: &mut Vec<Correction>, characters: &[char], index: usize, meant: char, kind: CorrectionKind) {
    let Some(&typed) = characters.get(index) else {
        return;
    };
    let tag: String = characters.iter().enumerate().map(|(at, character)| if at == index { meant } else { *character }).collect();
    keep(found, Correction { position: index + 1, typed, meant, kind, tag });
}

fn offer_swap(found: &mut Vec<Correction>, characters: &[char], index: usize) {
    let (Some(&typed), Some(&meant)) = (characters.get(index), characters.get(index + 1)) else {
        return;
    };
    let mut swapped = characters.to_vec();
    swapped.swap(index, index + 1);
    let tag = swapped.into_iter().collect();
    keep(found, Correction { position: index + 1, typed, meant, kind: CorrectionKind::Swapped, tag });
}

fn keep(found: &mut Vec<Correction>, correction: Correction) {
    if holds(&correction.tag) && found.iter().all(|earlier| earlier.tag != correction.tag) {
        found.push(correction);
    }
}
