//! What was taken out of a text and what was added, word by word: the longest common subsequence of their words.

use serde::Serialize;

/// What became of some words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fate {
    /// They stand in both.
    Kept,
    /// They stood in the earlier text only.
    TakenOut,
    /// They stand in the later text only.
    Added,
}

/// Words that follow one another and share their fate, with the white space after each.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Run {
    /// What became of them.
    pub fate: Fate,
    /// The words.
    pub text: String,
}

/// The runs of words that lead from one text to another: those kept and taken out are the earlier text, those kept and added
/// the later one. As many words as can be are kept (longest common subsequence; Wagner & Fischer 1974, J. ACM 21: 168-173).
/// Time and memory grow with the product of both lengths, counted between the words that both begin and end with.
pub fn runs(earlier: &str, later: &str) -> Vec<Run> {
    let (before, after) = (words(earlier), words(later));
    let start = before.iter().zip(&after).take_while(|(one, other)| one == other).count();
    let (head, before, after) = (split(&before, start).0, split(&before, start).1, split(&after, start).1);
    let end = before.iter().rev().zip(after.iter().rev()).take_while(|(one, other)| one == other).count();
    let (before, tail) = split(before, before.len() - end);
    let (after, _) = split(after, after.len() - end);

    let mut runs = Vec::new();
    head.iter().for_each(|word| push(&mut runs, Fate::Kept, word));
    middle(before, after, &mut runs);
    tail.iter().for_each(|word| push(&mut runs, Fate::Kept, word));
    runs
}

/// `at` is never beyond the end.
fn split<'a, 'w>(words: &'a [&'w str], at: usize) -> (&'a [&'w str], &'a [&'w str]) {
    words.split_at_checked(at).unwrap_or((words, &[]))
}

/// Words with the white space after them.
fn words(text: &str) -> Vec<&str> {
    let mut words = Vec::new();
    let mut rest = text;
    while !rest.is_empty() {
        let word = rest.find(char::is_whitespace).unwrap_or(rest.len());
        let space = rest.get(word..).and_then(|after| after.find(|letter: char| !letter.is_whitespace())).unwrap_or(rest.len() - word);
        let (this, further) = rest.split_at(word + space);
        words.push(this);
        rest = further;
    }
    words
}

fn push(runs: &mut Vec<Run>, fate: Fate, word: &str) {
    match runs.last_mut() {
        Some(run) if run.fate == fate => run.text.push_str(word),
        _ => runs.push(Run { fate, text: word.to_owned() }),
    }
}

/// Walks the table of the longest common rests from its start.
fn middle(before: &[&str], after: &[&str], runs: &mut Vec<Run>) {
    let rests = common_rests(before, after);
    let longest = |at: usize, to: usize| rests.get(at * (after.len() + 1) + to).copied().unwrap_or(0);
    let (mut at, mut to) = (0, 0);
    loop {
        match (before.get(at), after.get(to)) {
            (Some(one), Some(other)) if one == other => {
                push(runs, Fate::Kept, one);
                at += 1;
                to += 1;
            }
            (Some(one), other) if other.is_none() || longest(at + 1, to) >= longest(at, to + 1) => {
                push(runs, Fate::TakenOut, one);
                at += 1;
            }
            (_, Some(other)) => {
                push(runs, Fate::Added, other);
                to += 1;
            }
            (_, None) => return,
        }
    }
}

/// For each pair of places, how many words the rests from there on have in common: a row a word of the earlier text.
fn common_rests(before: &[&str], after: &[&str]) -> Vec<u32> {
    let width = after.len() + 1;
    let mut rests = vec![0_u32; (before.len() + 1) * width];
    for (row, one) in before.iter().enumerate().rev() {
        for (column, other) in after.iter().enumerate().rev() {
            let at = |row: usize, column: usize| rests.get(row * width + column).copied().unwrap_or(0);
            let common = if one == other { at(row + 1, column + 1) + 1 } else { at(row + 1, column).max(at(row, column + 1)) };
            if let Some(cell) = rests.get_mut(row * width + column) {
                *cell = common;
            }
        }
    }
    rests
}
