//! What was taken out and added between two texts.

use rand::rngs::StdRng;
use rand::{RngExt as _, SeedableRng as _};
use silkward::reckoning::difference::{Fate, Run, runs};

fn joined(runs: &[Run], one: Fate) -> String {
    runs.iter().filter(|run| run.fate == Fate::Kept || run.fate == one).map(|run| run.text.as_str()).collect()
}

fn kept_words(runs: &[Run]) -> usize {
    runs.iter().filter(|run| run.fate == Fate::Kept).map(|run| run.text.split_whitespace().count()).sum()
}

#[test]
fn as_many_words_are_kept_as_in_the_textbook_example() {
    // Cormen, Leiserson, Rivest & Stein, Introduction to Algorithms, section 15.4: of ABCBDAB and BDCABA the longest common
    // subsequences have four letters (BCBA is one).
    let found = runs("A B C B D A B ", "B D C A B A ");
    assert_eq!(kept_words(&found), 4, "{found:?}");
}

#[test]
fn a_changed_word_is_taken_out_and_another_added() {
    let found = runs("Feed every 5 days.\nWater weekly.", "Feed every 7 days.\nWater weekly.");
    let run = |fate, text: &str| Run { fate, text: text.to_owned() };
    let expected =
        [run(Fate::Kept, "Feed every "), run(Fate::TakenOut, "5 "), run(Fate::Added, "7 "), run(Fate::Kept, "days.\nWater weekly.")];
    assert_eq!(found, expected);
    assert_eq!(runs("", ""), []);
    assert_eq!(runs("same", "same"), [run(Fate::Kept, "same")]);
    assert_eq!(runs("", "new"), [run(Fate::Added, "new")]);
    assert_eq!(runs("old", ""), [run(Fate::TakenOut, "old")]);
}

/// The length of the longest common subsequence by trying every choice of words.
fn by_trying(before: &[&str], after: &[&str]) -> usize {
    (0..1_u32 << before.len())
        .filter_map(|chosen| {
            let words: Vec<&str> = before.iter().enumerate().filter(|(at, _)| chosen >> at & 1 == 1).map(|(_, word)| *word).collect();
            let mut rest = after.iter();
            words.iter().all(|word| rest.any(|other| other == word)).then_some(words.len())
        })
        .max()
        .unwrap_or(0)
}

#[test]
fn both_texts_can_be_read_back_and_no_more_words_could_be_kept() {
    let mut rng = StdRng::seed_from_u64(20);
    for _ in 0..400 {
        let mut text = || {
            let length = rng.random_range(0..10);
            (0..length).map(|_| ["a ", "b ", "c\n", "d  "][rng.random_range(0..4)]).collect::<String>()
        };
        let (before, after) = (text(), text());
        let found = runs(&before, &after);
        assert_eq!(joined(&found, Fate::TakenOut), before);
        assert_eq!(joined(&found, Fate::Added), after);
        assert!(found.windows(2).all(|pair| pair[0].fate != pair[1].fate));
        let split = |text: &'static str| text.split_whitespace().collect::<Vec<_>>();
        let leaked = |text: String| -> &'static str { Box::leak(text.into_boxed_str()) };
        assert_eq!(kept_words(&found), by_trying(&split(leaked(before.clone())), &split(leaked(after.clone()))), "{before:?} {after:?}");
    }
}
