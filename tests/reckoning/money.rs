//! Totals with tax. The rounding is held against its definition: the nearest whole number, and of two that are equally
//! near the even one (ISO/IEC 60559).

use proptest::prelude::*;
use silkward::reckoning::money::{Line, MoneyError, Rounding, TaxRate, Totals, totals};

fn line(quantity: u32, unit_minor: u64) -> Line {
    Line { quantity, unit_minor }
}

fn rate(text: &str) -> TaxRate {
    text.parse().unwrap()
}

fn sums(totals: &Totals) -> (i64, i64, i64) {
    (totals.net_minor, totals.tax_minor, totals.gross_minor)
}

fn document(lines: &[Line], tax: &str, included: bool) -> (i64, i64, i64) {
    sums(&totals(lines, rate(tax), included, Rounding::Document).unwrap())
}

#[test]
fn halves_go_to_the_even_number() {
    // 25 % of 2, 6 and 10: 0.5, 1.5 and 2.5.
    assert_eq!([2, 6, 10].map(|net| document(&[line(1, net)], "25", false).1), [0, 2, 2]);
    // 20 % within 3, 9 and 15: 0.5, 1.5 and 2.5.
    assert_eq!([3, 9, 15].map(|gross| document(&[line(1, gross)], "20", true).1), [0, 2, 2]);
    // A little more or less than a half is no half.
    assert_eq!(document(&[line(1, 2)], "25.000001", false).1, 1);
    assert_eq!(document(&[line(1, 6)], "24.999999", false).1, 1);
}

#[test]
fn tax_is_rounded_once_or_for_each_line() {
    // 7.7 % of 10 is 0.77: three lines are 2.31 together, and 1 each.
    let lines = [line(1, 10), line(2, 5), line(1, 10)];
    let by_line = totals(&lines, rate("7.7"), false, Rounding::PerLine).unwrap();
    assert_eq!(document(&lines, "7.7", false), (30, 2, 32));
    assert_eq!(sums(&by_line), (30, 3, 33));
    assert_eq!(by_line.lines_minor, [10, 10, 10]);
    assert_eq!(by_line.summary, "7.7 % tax on top of the prices, rounded half to even once for each line");
}

#[test]
fn prices_may_include_the_tax() {
    assert_eq!(document(&[line(2, 6_000)], "20", true), (10_000, 2_000, 12_000));
    assert_eq!(document(&[line(2, 6_000)], "20", false), (12_000, 2_400, 14_400));
    assert_eq!(document(&[line(1, 5)], "100", true), (3, 2, 5));
    assert_eq!(document(&[line(7, 99)], "0", true), (693, 0, 693));
    assert_eq!(document(&[], "20", false), (0, 0, 0));
    assert_eq!(document(&[line(0, 500)], "20", false), (0, 0, 0));
}

#[test]
fn rates_are_read_exactly_or_refused() {
    for (text, written) in
        [("20", "20"), ("7.7", "7.7"), ("0", "0"), ("100", "100"), ("100.000000", "100"), ("0.000001", "0.000001"), ("05.50", "5.5")]
    {
        assert_eq!(rate(text).written(), written);
    }
    let refused = |text: &str| text.parse::<TaxRate>().unwrap_err();
    for text in
        ["", " ", "20%", "20 ", "+20", "7,7", ".5", "7.", "1e1", "0x10", "٢٠", "seven", "7.7.7", "NaN", "inf", "-", "--5", "7.-7", "7.7\n"]
    {
        assert!(matches!(refused(text), MoneyError::NotARate(_)), "{text}");
        assert_eq!(refused(text).to_string().lines().count(), 1, "{text}");
    }
    assert_eq!([refused("-5"), refused("-0.1"), refused("-0")], [MoneyError::Negative, MoneyError::Negative, MoneyError::Negative]);
    let huge = "9".repeat(10_000);
    assert_eq!([refused("100.000001"), refused("101"), refused(&huge)], [MoneyError::Over, MoneyError::Over, MoneyError::Over]);
    assert_eq!(refused("7.7000000"), MoneyError::TooManyDecimals);
    assert!(refused(&"x".repeat(10_000)).to_string().len() < 200);
}

#[test]
fn what_is_too_large_is_refused_and_the_largest_is_not() {
    let largest = i64::MAX as u64;
    let of = |lines: &[Line], tax, included| totals(lines, rate(tax), included, Rounding::Document);
    assert_eq!(sums(&of(&[line(1, largest)], "100", true).unwrap()).2, i64::MAX);
    assert_eq!(sums(&of(&[line(1, largest)], "0", false).unwrap()).2, i64::MAX);
    assert_eq!(of(&[line(1, largest)], "1", false), Err(MoneyError::TooLarge { at: None }));
    assert_eq!(of(&[line(1, largest), line(1, 1)], "0", false), Err(MoneyError::TooLarge { at: None }));
    assert_eq!(of(&[line(1, 1), line(2, largest)], "0", false), Err(MoneyError::TooLarge { at: Some(1) }));
    assert_eq!(of(&[line(u32::MAX, u64::MAX)], "0", true), Err(MoneyError::TooLarge { at: Some(0) }));
}

/// A rate in millionths of a percent, and its text.
fn any_rate() -> impl Strategy<Value = (i128, String)> {
    let odd = (0_i128..=100_000_000).prop_map(|parts| (parts, format!("{}.{:06}", parts / 1_000_000, parts % 1_000_000)));
    let round = (0_i128..=100).prop_map(|percent| (percent * 1_000_000, percent.to_string()));
    prop_oneof![odd, round]
}

/// Whether a whole number is the quotient rounded half to even.
fn is_half_to_even(whole: i128, dividend: i128, divisor: i128) -> bool {
    let twice = 2 * (whole * divisor - dividend).abs();
    twice < divisor || (twice == divisor && whole % 2 == 0)
}

proptest! {
    #[test]
    fn net_and_tax_add_up_and_the_tax_is_rounded_as_defined(
        given in prop::collection::vec((0_u32..2_000, 0_u64..1_000_000_000), 0..12), (parts, text) in any_rate(), included: bool,
    ) {
        let lines: Vec<Line> = given.iter().map(|(quantity, price)| line(*quantity, *price)).collect();
        let amounts = || lines.iter().map(|line| i128::from(line.quantity) * i128::from(line.unit_minor));
        let divisor = 100_000_000 + if included { parts } else { 0 };
        let once = totals(&lines, rate(&text), included, Rounding::Document).unwrap();
        let by_line = totals(&lines, rate(&text), included, Rounding::PerLine).unwrap();
        for got in [&once, &by_line] {
            prop_assert_eq!(got.net_minor + got.tax_minor, got.gross_minor);
            let base = if included { got.gross_minor } else { got.net_minor };
            prop_assert_eq!(i128::from(base), amounts().sum::<i128>());
        }
        prop_assert!(is_half_to_even(once.tax_minor.into(), amounts().sum::<i128>() * parts, divisor));
        let alone: i64 = lines.iter().map(|line| totals(&[*line], rate(&text), included, Rounding::Document).unwrap().tax_minor).sum();
        prop_assert_eq!(by_line.tax_minor, alone);
    }
}
