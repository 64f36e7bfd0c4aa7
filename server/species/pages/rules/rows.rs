//! The finer rules of a life stage, one row each: how a page names, shows, reads and bounds them.

use crate::reckoning::planner::StageRules;

/// One rule of a life stage.
pub(in crate::species) struct Rule {
    /// The field of the form.
    pub(in crate::species) name: &'static str,
    /// What it is about.
    pub(in crate::species) label: &'static str,
    /// How it is typed.
    pub(super) typed: Typed,
    /// Reads it; none where it is left to another rule.
    read: fn(&StageRules) -> Option<u32>,
    /// Puts it.
    pub(super) put: fn(&mut StageRules, Option<u32>),
}

/// How a figure is typed, and from which number to which.
pub(super) enum Typed {
    /// A whole number.
    Whole(u32, u32),
    /// A whole number, or nothing.
    Optional(u32, u32),
    /// With one decimal place, kept in tenths.
    Tenths(i64, i64),
}

impl Rule {
    /// As it is typed.
    pub(super) fn input(&self, rules: &StageRules) -> String {
        match ((self.read)(rules), &self.typed) {
            (None, _) => String::new(),
            (Some(tenths), Typed::Tenths(..)) if tenths % 10 != 0 => format!("{}.{}", tenths / 10, tenths % 10),
            (Some(tenths), Typed::Tenths(..)) => (tenths / 10).to_string(),
            (Some(figure), _) => figure.to_string(),
        }
    }

    /// As people read it.
    pub(in crate::species) fn words(&self, rules: &StageRules) -> String {
        let input = self.input(rules);
        if input.is_empty() { "as long as the fast".to_owned() } else { input }
    }
}

macro_rules! rule {
    ($name:literal, $label:literal, $typed:expr, $($field:ident).+) => {
        Rule {
            name: $name,
            label: $label,
            typed: $typed,
            read: |rules| Some(rules.$($field).+),
            put: |rules, figure| rules.$($field).+ = figure.unwrap_or_default(),
        }
    };
}

/// Every rule, in the order of the pages.
pub(in crate::species) const RULES: [Rule; 13] = [
    rule!("retry_days", "Days until refused prey is offered again", Typed::Whole(1, 90), retry_days),
    rule!("refusals_check", "Refusals in a row that ask for a look", Typed::Whole(1, 50), refusals_check),
    rule!("close_check_days", "Days between closer looks for a moult", Typed::Whole(1, 30), close_check_days),
    rule!("look_after", "A moult is late after so many times the most days between moults", Typed::Tenths(10, 50), look_after_tenths),
    rule!("settle_min_days", "Least days in a new box before a feed", Typed::Whole(0, 60), settle_min_days),
    rule!("settle_max_days", "Most days in a new box before a feed", Typed::Whole(0, 60), settle_max_days),
    rule!("after_meal_days", "Days after a meal without a rehouse", Typed::Whole(0, 30), after_meal_days),
    Rule {
        name: "after_moult_days",
        label: "Days after a moult without a rehouse",
        typed: Typed::Optional(0, 120),
        read: |rules| rules.after_moult_days,
        put: |rules, figure| rules.after_moult_days = figure,
    },
    rule!("obese_skip_days", "Days without a feed once scored obese", Typed::Whole(0, 180), obese_skip_days),
    rule!("length_spans", "Least box length, in leg spans", Typed::Tenths(10, 100), boxes.length_tenths),
    rule!("width_spans", "Least box width, in leg spans", Typed::Tenths(10, 100), boxes.width_tenths),
    rule!("most_length_spans", "Greatest box length for spiderlings, in leg spans", Typed::Tenths(10, 500), boxes.most_length_tenths),
    rule!("fall_gap_spans", "Greatest fall gap, in leg spans", Typed::Tenths(5, 100), boxes.fall_gap_tenths),
];
