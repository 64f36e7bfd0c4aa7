//! Finds a species by any name it has been known by. A name that may mean two species is never taken silently.

use std::collections::BTreeSet;

use unicode_normalization::{UnicodeNormalization, char::is_combining_mark};

use crate::house::ids::SpeciesId;

/// Most spellings that are suggested for a name nobody knows.
const NEAR_LIMIT: usize = 5;

coded_enum! {
    /// What kind of name a species is known by.
    NameKind, "kind of name" {
        Accepted = "accepted", "accepted name";
        Former = "former", "former name";
        Trade = "trade", "trade name";
        Common = "common", "common name";
    }
}

/// A name that the house knows, and whose it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KnownName {
    /// The species that bears the name.
    pub species_id: SpeciesId,
    /// The name as written.
    pub name: String,
    /// What kind of name it is.
    pub kind: NameKind,
    /// Why the name may mean another species, where it may.
    pub ambiguous_note: Option<String>,
}

/// What a typed name turned out to be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NameMatch {
    /// The accepted name of a species.
    Accepted(SpeciesId),
    /// A former, trade or common name of exactly one species: say so, and show its accepted name.
    Former {
        /// The species.
        id: SpeciesId,
        /// The name as the house has it written.
        name: String,
        /// What kind of name it is.
        kind: NameKind,
    },
    /// A name that may mean several species: ask.
    Ambiguous {
        /// The species in the library that it may mean. It may also mean one that is not in the library.
        candidates: Vec<SpeciesId>,
        /// Why it is ambiguous, in words.
        note: String,
    },
    /// No such name.
    Unknown {
        /// Species with a name spelled nearly so, nearest first; none is taken without asking.
        near: Vec<SpeciesId>,
    },
}

/// Folds a name for comparison: lower case, no accents, quotes or stops, single spaces.
///
/// "Mello-Leitão" becomes "mello leitao", and "P.  Vittata" becomes "p vittata".
pub fn normalise(name: &str) -> String {
    let folded: String = name
        .nfkd()
        .filter(|c| !is_combining_mark(*c) && !is_quote(*c))
        .flat_map(char::to_lowercase)
        .map(|c| if c.is_alphanumeric() { c } else { ' ' })
        .collect();
    folded.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Finds whose name was typed. A genus may be cut to its first letter ("P. vittata").
pub fn find(typed: &str, known: &[KnownName]) -> NameMatch {
    let wanted = normalise(typed);
    if wanted.is_empty() {
        return NameMatch::Unknown { near: Vec::new() };
    }
    let matches: Vec<&KnownName> = known.iter().filter(|entry| spellings(entry, &wanted).any(|s| s == wanted)).collect();
    let candidates: BTreeSet<SpeciesId> = matches.iter().map(|entry| entry.species_id).collect();
    if let Some(note) = ambiguity(&matches, &candidates) {
        return NameMatch::Ambiguous { candidates: candidates.into_iter().collect(), note };
    }
    // The kinds are ordered, so an accepted name comes before any other of the same species.
    match matches.iter().min_by_key(|entry| entry.kind) {
        Some(entry) if entry.kind == NameKind::Accepted => NameMatch::Accepted(entry.species_id),
        Some(entry) => NameMatch::Former { id: entry.species_id, name: entry.name.clone(), kind: entry.kind },
        None => NameMatch::Unknown { near: near(&wanted, known) },
    }
}

fn is_quote(c: char) -> bool {
    matches!(c, '"' | '\'' | '`' | '´' | '‘' | '’' | '‚' | '‛' | '“' | '”' | '„' | '«' | '»')
}

/// The spellings under which a known name answers: cut to an initial only when the typed genus is.
fn spellings(entry: &KnownName, wanted: &str) -> impl Iterator<Item = String> {
    let full = normalise(&entry.name);
    let typed_initial = wanted.split_once(' ').is_some_and(|(genus, _)| genus.chars().count() == 1);
    let short = (typed_initial && entry.kind != NameKind::Common).then(|| abbreviated(&full)).flatten();
    std::iter::once(full).chain(short)
}

fn abbreviated(normalised: &str) -> Option<String> {
    let (genus, rest) = normalised.split_once(' ')?;
    Some(format!("{} {rest}", genus.chars().next()?))
}

/// Why these matches may not be taken as one species, if they may not.
fn ambiguity(matches: &[&KnownName], candidates: &BTreeSet<SpeciesId>) -> Option<String> {
    let notes: BTreeSet<&str> = matches.iter().filter_map(|entry| entry.ambiguous_note.as_deref()).collect();
    if !notes.is_empty() {
        return Some(notes.into_iter().collect::<Vec<_>>().join("; "));
    }
    (candidates.len() > 1).then(|| "more than one species goes by this name".to_owned())
}

fn near(wanted: &str, known: &[KnownName]) -> Vec<SpeciesId> {
    let mut scored: Vec<(usize, SpeciesId)> = known
        .iter()
        .filter_map(|entry| {
            let distances = spellings(entry, wanted).filter_map(|spelling| nearness(wanted, &spelling));
            Some((distances.min()?, entry.species_id))
        })
        .collect();
    scored.sort_unstable();
    let mut seen = BTreeSet::new();
    scored.into_iter().map(|(_, id)| id).filter(|id| seen.insert(*id)).take(NEAR_LIMIT).collect()
}

/// How many letters apart two names are, if few enough to be a slip. A name followed by its authority, or one
/// whole word of a name, is no slip at all.
fn nearness(wanted: &str, spelling: &str) -> Option<usize> {
    let with_authority = wanted.strip_prefix(spelling).is_some_and(|rest| rest.starts_with(' '));
    if with_authority || spelling.split(' ').any(|word| word.chars().count() > 2 && word == wanted) {
        return Some(0);
    }
    let (wanted_length, length) = (wanted.chars().count(), spelling.chars().count());
    let allowed = match length {
        0..=5 => 1,
        6..=11 => 2,
        _ => 3,
    };
    // Lengths first: a pasted page must not cost a page's worth of comparing.
    if wanted_length.abs_diff(length) > allowed {
        return None;
    }
    Some(edit_distance(wanted, spelling)).filter(|distance| *distance <= allowed)
}

/// Levenshtein 1966: the fewest letters to put in, take out or change, kept one row at a time.
fn edit_distance(from: &str, to: &str) -> usize {
    let mut row: Vec<usize> = (0..=to.chars().count()).collect();
    for (taken, from_letter) in from.chars().enumerate() {
        let mut diagonal = taken;
        let mut left = taken + 1;
        let mut next = vec![left];
        for (to_letter, above) in to.chars().zip(row.iter().skip(1)) {
            let changed = diagonal + usize::from(from_letter != to_letter);
            left = changed.min(left + 1).min(above + 1);
            diagonal = *above;
            next.push(left);
        }
        row = next;
    }
    row.last().copied().unwrap_or(0)
}
