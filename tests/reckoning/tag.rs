use silkward::reckoning::tag::{CorrectionKind, check_character, corrections, from_serial, holds, normalise};

use super::oracles::{cases, expects_error};

// ISO/IEC 7064 MOD 37,36, values by a reference library.
#[test]
fn every_reference_case_holds() {
    let mut ran = 0;
    for case in cases("check_digit") {
        let (input, expected) = (&case["input"], &case["expected"]);
        if let Some(code) = input["code"].as_str() {
            assert_eq!(holds(code), expected["valid"].as_bool().unwrap(), "{case}");
        } else {
            let got = check_character(input["body"].as_str().unwrap());
            if expects_error(&case) {
                assert!(got.is_err(), "{case}");
            } else {
                assert_eq!(got.unwrap().to_string(), expected["check"].as_str().unwrap(), "{case}");
            }
        }
        ran += 1;
    }
    assert_eq!(ran, 2084);
}

#[test]
fn tags_of_running_numbers_hold_and_differ() {
    let tags: Vec<String> = (1..=5000).map(from_serial).collect();
    assert!(tags.iter().all(|tag| holds(tag) && tag.len() == 5));
    let distinct: std::collections::BTreeSet<&String> = tags.iter().collect();
    assert_eq!(distinct.len(), tags.len());
    assert!(holds(&from_serial(u64::MAX)));
    assert!(holds(&from_serial(0)));
    let body_letters: String = tags.iter().map(|tag| &tag[..4]).collect();
    assert!(!body_letters.contains(['I', 'L', 'O', 'U']));
}

#[test]
fn typed_tags_are_brought_to_the_kept_form() {
    assert_eq!(normalise(" a12-42 5g "), "A12425G");
}

#[test]
fn every_single_slip_is_caught_and_the_right_tag_is_among_the_corrections() {
    for serial in [1_u64, 77, 1234, 40_000] {
        let tag = from_serial(serial);
        for index in 0..tag.len() {
            for wrong in ('0'..='9').chain('A'..='Z') {
                let mut characters: Vec<char> = tag.chars().collect();
                if characters[index] == wrong {
                    continue;
                }
                characters[index] = wrong;
                let typed: String = characters.into_iter().collect();
                assert!(!holds(&typed), "{typed} for {tag}");
                let offered = corrections(&typed);
                let right = offered.iter().find(|correction| correction.tag == tag).unwrap();
                assert!(offered.iter().all(|correction| holds(&correction.tag)));
                assert!(right.kind == CorrectionKind::Swapped || right.position == index + 1);
            }
        }
    }
}

#[test]
fn look_alikes_are_offered_first_and_tags_of_the_house_before_others() {
    let tag = (0..).map(from_serial).find(|tag| tag.contains('0') && tag[..4].contains('8')).unwrap();
    let offered = corrections(&tag.replacen('8', "B", 1));
    let right = offered.iter().find(|correction| correction.tag == tag).unwrap();
    assert_eq!((right.typed, right.meant, right.kind), ('B', '8', CorrectionKind::LookAlike));
    assert!(offered.is_sorted_by_key(|correction| correction.kind));
    // No tag of the house has an O in its body, so that letter can only have been a zero.
    let first = corrections(&tag.replacen('0', "O", 1)).remove(0);
    assert_eq!((first.tag, first.typed, first.meant), (tag, 'O', '0'));
}

#[test]
fn a_swap_of_neighbours_is_offered() {
    let (tag, mut typed) = (from_serial(1234), from_serial(1234));
    let swapped: String = [&typed[..2], &typed[3..4], &typed[2..3], &typed[4..]].concat();
    typed = swapped;
    let right = corrections(&typed).into_iter().find(|correction| correction.tag == tag).unwrap();
    assert_eq!((right.kind, right.position), (CorrectionKind::Swapped, 3));
}

#[test]
fn nothing_is_offered_for_what_holds_or_is_no_tag() {
    assert_eq!(corrections(&from_serial(9)), []);
    assert_eq!(corrections(""), []);
    assert_eq!(corrections("é"), []);
    assert_eq!(corrections(&"A".repeat(5000)), []);
    assert!(!holds(""));
    assert!(!holds("M"));
    assert!(!holds("é1"));
}
