//! How a brood fared.

use chrono::{Days, NaiveDate};
use silkward::reckoning::ledger::{Bucket, Line, LineKind, Stage};
use silkward::reckoning::rates::{poisson_exact, wilson};
use silkward::reckoning::scorecard::{
    Brood, Measure, Scorecard, Stands, VACHONI_YEARLY_LOSS, alive_after, beside, best_year, scorecard, years,
};
use silkward::reckoning::survival::{OriginDays, TaggedEnd};
use silkward::reckoning::words::LossCause;

const EGG: Stage = Stage::Egg;
const EWL: Stage = Stage::PostEmbryo;
const FIRST: Stage = Stage::Instar(1);
const SECOND: Stage = Stage::Instar(2);

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

/// A brood that is written line by line.
struct Book(Brood);

impl Book {
    fn new(code: &str, laid: &str) -> Self {
        let days = OriginDays { laid: Some(day(laid)), separated: None };
        let started_on = day(laid) + Days::new(40);
        Self(Brood { code: code.to_owned(), started_on, days, lines: Vec::new(), tagged: Vec::new() })
    }

    fn line(mut self, after: u64, kind: LineKind, from: Bucket, to: Bucket, quantity: u32, cause: Option<LossCause>) -> Self {
        let (id, on) = (self.0.lines.len() as i64 + 1, self.0.days.laid.unwrap() + Days::new(after));
        self.0.lines.push(Line { id, day: on, from, to, quantity, kind, cause, reverses: None });
        self
    }

    fn received(self, after: u64, stage: Stage, quantity: u32) -> Self {
        self.line(after, LineKind::Received, Bucket::In, Bucket::Stage(stage), quantity, None)
    }

    fn moulted(self, after: u64, from: Stage, to: Stage, quantity: u32) -> Self {
        self.line(after, LineKind::Moulted, Bucket::Stage(from), Bucket::Stage(to), quantity, None)
    }

    fn lost(self, after: u64, stage: Stage, quantity: u32, cause: LossCause) -> Self {
        self.line(after, LineKind::Lost, Bucket::Stage(stage), Bucket::Lost, quantity, Some(cause))
    }

    fn sold(self, after: u64, stage: Stage, quantity: u32) -> Self {
        self.line(after, LineKind::Sold, Bucket::Stage(stage), Bucket::Sold, quantity, None)
    }

    fn card(&self) -> Scorecard {
        scorecard(&self.0, day("2026-11-26"))
    }
}

/// 240 post-embryos, 231 first instar, 219 second instar; then 31 dead, one escaped, 145 sold: the house's worked ledger.
fn worked() -> Book {
    Book::new("W", "2026-01-01")
        .received(40, EWL, 240)
        .lost(45, EWL, 9, LossCause::Mould)
        .moulted(50, EWL, FIRST, 231)
        .lost(55, FIRST, 12, LossCause::FailedMoult)
        .moulted(70, FIRST, SECOND, 219)
        .lost(100, SECOND, 31, LossCause::Desiccation)
        .lost(101, SECOND, 1, LossCause::Escape)
        .sold(110, SECOND, 140)
        .sold(120, SECOND, 5)
}

/// Survival to the second instar 91.25 % (arithmetic on the worked ledger); its limits are Wilson's of 219 in 240.
#[test]
fn the_worked_ledger_gives_its_survival_to_second_instar() {
    let card = worked().card();
    let share = card.to_second.unwrap();
    assert_eq!((share.count, share.of, card.on_the_way, card.young), (219, 240, 0, 240));
    assert!((share.limits.estimate - 0.9125).abs() < 1e-12);
    assert_eq!(share.limits, wilson(219, 240, 0.95).unwrap());
    assert_eq!(card.hatched, None, "no egg was counted, so nobody knows of how many they hatched");
    assert_eq!((card.sold, card.escaped), (145, 1));
    let causes: Vec<(LossCause, u32)> = card.causes.iter().map(|of| (of.cause, of.share.count)).collect();
    assert_eq!(causes, [(LossCause::Desiccation, 31), (LossCause::FailedMoult, 12), (LossCause::Mould, 9)]);
    assert_eq!(card.causes[0].share.of, 52);
}

/// Product-limit by hand: 31 of 219 lost before the middle day of sale, day 40.
#[test]
fn survival_to_sale_is_read_at_the_day_by_which_half_of_those_sold_had_left() {
    let card = worked().card();
    let sale = card.to_sale.unwrap();
    assert_eq!(sale.day, 40);
    assert!((sale.share - 188.0 / 219.0).abs() < 1e-12);
    let (lower, upper) = sale.limits.unwrap();
    // Greenwood on the log(-log) scale, by hand: se² of log S = 31/(219·188); S^exp(±1.959964·se/|ln S|).
    let (s, se) = (188.0_f64 / 219.0, (31.0_f64 / (219.0 * 188.0)).sqrt());
    let width = 1.959_963_984_540_054 * se / s.ln().abs();
    assert!((lower - s.powf(width.exp())).abs() < 1e-12 && (upper - s.powf((-width).exp())).abs() < 1e-12);
    assert!((card.first_days.unwrap().share - 188.0 / 219.0).abs() < 1e-12);
    assert!(Book::new("N", "2026-01-01").received(40, EWL, 5).card().to_sale.is_none());
}

#[test]
fn days_at_a_stage_run_between_median_days() {
    let stages = worked().card().stages;
    let rows: Vec<(Stage, Option<i64>, Option<i64>)> = stages.iter().map(|row| (row.stage, row.since_laid, row.days)).collect();
    assert_eq!(rows, [(EWL, Some(40), Some(10)), (FIRST, Some(50), Some(20)), (SECOND, Some(70), None)]);
    // The median day is the first by which half had come.
    let drawn_out = Book::new("D", "2026-01-01").received(40, FIRST, 10).moulted(50, FIRST, SECOND, 4).moulted(53, FIRST, SECOND, 1);
    let drawn_out = drawn_out.moulted(60, FIRST, SECOND, 5);
    assert_eq!(drawn_out.card().stages[0].days, Some(13));
}

#[test]
fn bad_eggs_make_the_hatch_rate_and_eggs_that_wait_are_told() {
    let book = Book::new("E", "2026-01-01").received(30, EWL, 90).received(30, EGG, 12).lost(30, EGG, 10, LossCause::Infertile);
    let card = book.card();
    let hatched = card.hatched.unwrap();
    assert_eq!((hatched.count, hatched.of, card.eggs_waiting, card.on_the_way), (90, 100, 2, 90));
    assert!(!card.is_through());
    let later = book.lost(33, EGG, 1, LossCause::Mould).moulted(34, EGG, EWL, 1).card();
    assert_eq!((later.hatched.unwrap().count, later.hatched.unwrap().of, later.eggs_waiting, later.young), (91, 102, 0, 91));
}

#[test]
fn what_left_early_or_came_late_is_not_in_survival_to_second_instar() {
    // Ten sold at first instar and five that were only counted wrong are neither alive nor dead at the second.
    let book = Book::new("S", "2026-01-01").received(40, EWL, 100).moulted(50, EWL, FIRST, 95).sold(52, FIRST, 10);
    let book = book.line(53, LineKind::Recounted, Bucket::Stage(FIRST), Bucket::Variance, 5, None).moulted(60, FIRST, SECOND, 80);
    let card = book.lost(61, EWL, 5, LossCause::Mould).card();
    let share = card.to_second.unwrap();
    assert_eq!((share.count, share.of, card.on_the_way), (80, 85, 0));
    let bought = Book::new("B", "2026-01-01").received(40, SECOND, 50).lost(50, SECOND, 5, LossCause::Mites).card();
    assert_eq!((bought.to_second, bought.hatched, bought.young), (None, None, 50));
}

#[test]
fn an_escape_is_no_death_and_those_that_joined_later_never_stood_the_test() {
    let book = Book::new("J", "2026-01-01").received(40, EWL, 50).received(40, SECOND, 30).moulted(50, EWL, FIRST, 50);
    let card = book.lost(52, FIRST, 4, LossCause::Escape).lost(53, FIRST, 6, LossCause::Mould).moulted(60, FIRST, SECOND, 40).card();
    let share = card.to_second.unwrap();
    assert_eq!((share.count, share.of, card.escaped, card.young), (40, 46, 4, 80));
    assert_eq!(card.causes.len(), 1);
}

#[test]
fn a_stage_has_no_days_until_half_of_those_that_stayed_have_gone_on() {
    let book = Book::new("F", "2026-01-01").received(40, FIRST, 100).moulted(50, FIRST, SECOND, 40);
    assert_eq!(book.card().stages[0].days, None, "forty of a hundred");
    let sold = book.sold(51, FIRST, 30);
    assert_eq!(sold.card().stages[0].days, Some(10), "forty of the seventy that stayed");
    let bad = Book::new("B", "2026-01-01").received(40, EGG, 9).received(40, EWL, 50).lost(40, EGG, 9, LossCause::Infertile);
    assert_eq!(bad.card().stages[0].stage, EWL, "eggs that were only found bad make no row");
}

#[test]
fn a_line_taken_back_counts_for_nothing_and_neither_does_one_still_to_come() {
    let mut book = worked().lost(125, SECOND, 2, LossCause::Mites);
    let taken_back = book.0.lines.last().unwrap().clone();
    let (from, to) = (taken_back.to, taken_back.from);
    let reversal = Line { id: 99, from, to, kind: LineKind::Reversal, reverses: Some(taken_back.id), ..taken_back };
    book.0.lines.push(reversal);
    assert_eq!(book.card(), worked().card());
    let early = scorecard(&worked().0, day("2026-03-01"));
    assert_eq!((early.on_the_way, early.to_second.unwrap().count, early.is_through()), (219, 0, false));
}

/// *Grammostola vachoni* at 10.7 % a year: 3 years 0.712, 7.03 years 0.451.
#[test]
fn the_published_yearly_loss_gives_its_survival_after_years() {
    assert!((alive_after(VACHONI_YEARLY_LOSS, 3.0) - 0.712).abs() < 5e-4);
    assert!((alive_after(VACHONI_YEARLY_LOSS, 7.03) - 0.451).abs() < 5e-4);
}

#[test]
fn the_yearly_loss_is_deaths_by_the_years_followed() {
    // 100 that reached the second instar on one day; 10 tagged ones of them died after 365 days, 90 left after 730.
    let mut book = Book::new("Y", "2023-01-01").received(10, SECOND, 100);
    book = book.line(10, LineKind::Tagged, Bucket::Stage(SECOND), Bucket::Tagged, 100, None);
    let (start, line) = (day("2023-01-11"), 2);
    for number in 0..100 {
        let died = (number < 10).then(|| (start + Days::new(365), LossCause::FailedMoult));
        let left = (number >= 10).then(|| start + Days::new(730));
        book.0.tagged.push(TaggedEnd { line, died_on: died, left_on: left });
    }
    let card = book.card();
    let yearly = card.yearly.unwrap();
    let years = (10.0 * 365.0 + 90.0 * 730.0) / 365.25;
    assert_eq!(yearly.lost, 10);
    assert!((yearly.animal_years - years).abs() < 1e-9);
    let rate = poisson_exact(10, years, 0.95).unwrap();
    assert!((yearly.loss.estimate - (1.0 - (-rate.estimate).exp())).abs() < 1e-12);
    assert!((yearly.loss.upper - (1.0 - (-rate.upper).exp())).abs() < 1e-12);
    assert_eq!((card.sold, card.causes[0].share.count), (90, 10));
}

fn small(code: &str, laid: &str, young: u32, reached: u32) -> Scorecard {
    let book =
        Book::new(code, laid).received(40, EWL, young).moulted(50, EWL, FIRST, young).lost(60, FIRST, young - reached, LossCause::Mould);
    book.moulted(70, FIRST, SECOND, reached).card()
}

#[test]
fn a_brood_stands_beside_the_earlier_ones_and_not_beside_later_ones() {
    let own = small("own", "2025-06-01", 100, 95);
    let all = [own.clone(), small("a", "2024-01-01", 100, 60), small("b", "2024-06-01", 200, 150), small("c", "2026-01-01", 50, 1)];
    let found = beside(&own, &all);
    let second = found.iter().find(|one| one.measure == Measure::ToSecond).unwrap();
    assert_eq!((second.broods, second.range, second.stands), (2, Some((0.60, 0.75)), Some(Stands::Above)));
    assert!((second.median.unwrap() - 0.675).abs() < 1e-12);
    assert_eq!((second.pooled.unwrap().count, second.pooled.unwrap().of), (210, 300));
    let first = small("a", "2024-01-01", 100, 60);
    let alone = beside(&first, &all);
    assert!(alone.iter().all(|one| one.broods == 0 && one.median.is_none() && one.stands.is_none()));
    // A difference within the limits is none that can be shown.
    let close = small("d", "2025-07-01", 40, 30);
    assert_eq!(beside(&close, &all)[1].stands, Some(Stands::Overlaps));
}

#[test]
fn the_best_year_is_named_with_what_it_rests_on() {
    let all = [small("a", "2024-01-01", 100, 60), small("b", "2024-06-01", 200, 150), small("c", "2025-01-01", 100, 93)];
    let rows: Vec<(i32, usize, u32)> = years(&all).iter().map(|year| (year.year, year.broods.len(), year.young)).collect();
    assert_eq!(rows, [(2024, 2, 300), (2025, 1, 100)]);
    let best = best_year(&all).unwrap();
    assert_eq!((best.year, best.broods, best.to_second.count, best.stands), (2025, 1, 93, Some(Stands::Above)));
    assert_eq!(best.others.unwrap().of, 300);
    let only = best_year(&all[..2]).unwrap();
    assert_eq!((only.year, only.broods, only.others, only.stands), (2024, 2, None, None));
    assert_eq!(best_year(&[]), None);
}

#[test]
fn it_can_be_run_from_outside() {
    let given = serde_json::json!({ "today": "2026-11-26", "broods": [worked().0] });
    let answer: serde_json::Value = serde_json::from_str(&silkward::reckoning::reckon("scorecard", &given.to_string()).unwrap()).unwrap();
    assert_eq!(answer["broods"][0]["to_second"]["limits"]["estimate"], 0.9125);
    assert_eq!(answer["best_year"]["year"], 2026);
    let mut wrong = given;
    wrong["broods"][0]["lines"][1]["quantity"] = serde_json::json!(999);
    let refused = silkward::reckoning::reckon("scorecard", &wrong.to_string()).unwrap_err().to_string();
    assert!(refused.starts_with("broods[0].lines: "), "{refused}");
}
