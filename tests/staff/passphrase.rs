//! Pass phrases and PINs: what may be chosen, how they are kept, how guessing is slowed.

use silkward::house::errors::AppError;
use silkward::staff::passphrase;

use crate::support::{TestHouse, number};

use super::GOOD;

#[tokio::test]
async fn a_hash_is_argon2id_at_the_named_cost_and_salted() {
    let house = TestHouse::start().await;
    let one = passphrase::hash(&house.app, GOOD).await.unwrap();
    let two = passphrase::hash(&house.app, GOOD).await.unwrap();
    assert!(one.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{one}");
    assert_ne!(one, two);
    assert!(!passphrase::is_weak(&one));
    assert!(passphrase::is_weak("$argon2id$v=19$m=8192,t=2,p=1$c29tZXNhbHRzb21l$8v0bq2dV3n1QJb0mXg7m5yH1cTz4kWc9eR6uP2sLxAo"));
    assert!(passphrase::verify(&house.app, &one, GOOD).await.unwrap());
    assert!(!passphrase::verify(&house.app, &one, "violet kettle ninth harbouR").await.unwrap());
    assert!(!passphrase::verify(&house.app, "", GOOD).await.unwrap());
}

#[tokio::test]
async fn a_letter_is_the_same_however_the_keyboard_makes_it() {
    let house = TestHouse::start().await;
    let hash = passphrase::hash(&house.app, "caf\u{e9} au lait s'il vous").await.unwrap();
    assert!(passphrase::verify(&house.app, &hash, "cafe\u{301} au lait s'il vous").await.unwrap());
}

#[test]
fn length_is_counted_in_characters_and_anything_may_be_typed() {
    let fault = |typed: &str| passphrase::fault(typed, "ada", "Fern Lane House");
    assert!(fault("abcdefghijklmn").unwrap().contains("14 characters"));
    assert_eq!(fault("abcdefghijklmno"), None);
    assert_eq!(fault(&format!("{GOOD}{}", "é".repeat(256 - 27))), None);
    assert!(fault(&format!("{GOOD}{}", "é".repeat(257 - 27))).unwrap().contains("257 characters"));
    assert_eq!(fault("🕷🕸🌿🍂🌙⭐🔥💧🌱🍄🐚🪶🪵🪨🌾"), None);
    assert_eq!(fault("all lower case words only"), None);
    assert_eq!(fault("830174659203847"), None);
    assert_eq!(fault("               "), None);
}

#[test]
fn names_and_words_of_the_trade_are_refused() {
    let fault = |typed: &str| passphrase::fault(typed, "ada.hill", "Fern Lane House");
    for guessed in [
        "ada.hill.ada.hill.ada.hill",
        "AdaHill-1234567890",
        "Fern Lane House 2026",
        "tarantula-tarantula",
        "Spider 1234567890!",
        "silkward20262026",
        "kettle kettle kettle",
        "aaaaaaaaaaaaaaaaa",
    ] {
        assert!(fault(guessed).is_some(), "{guessed}");
    }
}

#[test]
fn a_pin_has_six_figures_without_a_pattern() {
    for bad in ["", "12345", "1234567", "123456", "654321", "000000", "121212", "123123", "12a456", "１２３４５６"] {
        assert!(passphrase::pin_fault(bad).is_some(), "{bad}");
    }
    assert_eq!(passphrase::pin_fault("730184"), None);
}

#[tokio::test]
async fn a_pin_is_checked_five_times_at_most() {
    let house = TestHouse::start().await;
    let bo = house.person("Bo", "keeper").await;
    let cy = house.person("Cyprian", "keeper").await;
    assert!(!passphrase::verify_pin(&house.app, bo.id(), "730184").await.unwrap(), "nobody's PIN confirms nothing");
    let hash = passphrase::hash(&house.app, "730184").await.unwrap();
    sqlx::query("UPDATE member SET pin_hash = ?").bind(&hash).execute(&house.app.database.writer).await.unwrap();
    assert!(passphrase::verify_pin(&house.app, bo.id(), "730184").await.unwrap());
    for _ in 0..4 {
        assert!(!passphrase::verify_pin(&house.app, bo.id(), "730185").await.unwrap());
    }
    assert!(matches!(passphrase::verify_pin(&house.app, bo.id(), "730184").await, Err(AppError::TooMany(_))));
    assert!(passphrase::verify_pin(&house.app, cy.id(), "730184").await.unwrap(), "another's PIN is not held up");
    house.set_clock("2026-04-15T12:15:01Z");
    assert!(passphrase::verify_pin(&house.app, bo.id(), "730184").await.unwrap());
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit").await, 0);
}

#[tokio::test]
async fn hashing_waits_its_turn_and_says_when_it_is_too_long() {
    let house = TestHouse::start().await;
    let _all = house.app.hashing.clone().acquire_many_owned(2).await.unwrap();
    let refused = passphrase::hash(&house.app, GOOD).await;
    assert!(matches!(refused, Err(AppError::TooMany(_))));
}
