//! The rules of a whole species: how its page names, shows, reads and bounds them.

use crate::house::forms::Check;
use crate::reckoning::breeding::incubation::IncubationRules;
use crate::reckoning::moult::FastClass;
use crate::reckoning::planner::SacRules;
use crate::species::model::rules::SpeciesRules;

use super::RulesForm;

/// How many classes of the fast a form offers.
pub(super) const CLASSES: usize = 8;

/// The fields of the whole species that are a single figure, with their labels and hints.
pub(super) const FIGURES: [(&str, &str, &str); 10] = [
    ("threat_open_hours", "Hours that a threat holds opening", "Empty: as the house's settings say."),
    ("threat_hands_in_days", "Days that a threat holds rehousing", "Empty: as the house's settings say."),
    ("sac_pulled_days", "Days between checks of a pulled sac", ""),
    ("sac_with_dam_days", "Days between checks of a sac with its dam", ""),
    ("sac_turns", "Turns of a pulled sac a day", "Until legs are out; 0: it is not turned."),
    ("sac_after_from", "Days from pairing to sac, first", "Empty, with the next: as is usual for its group."),
    ("sac_after_to", "Days from pairing to sac, last", ""),
    ("incubate_min_c", "A sac is too cool below, °C", "Empty: 25 (common practice, no source)."),
    ("incubate_max_c", "A sac is too warm above, °C", "Empty: 28 (common practice, no source)."),
    ("incubate_risky_c", "A sac is at risk above, °C", "Empty: 30 (common practice, no source)."),
];

/// The columns of the fast.
pub(super) const FAST: [(&str, &str); 3] =
    [("fast_from", "From leg span, mm"), ("fast_min", "Earliest day for food"), ("fast_max", "The house's day for food")];

/// Fills a form with what stands.
pub(super) fn fill(form: &mut RulesForm, rules: &SpeciesRules) {
    let optional = |figure: Option<u32>| figure.map(|figure| figure.to_string()).unwrap_or_default();
    form.put("threat_open_hours", vec![optional(rules.threat_open_hours)]);
    form.put("threat_hands_in_days", vec![optional(rules.threat_hands_in_days)]);
    form.put("sac_pulled_days", vec![rules.sacs.pulled_days.to_string()]);
    form.put("sac_with_dam_days", vec![rules.sacs.with_dam_days.to_string()]);
    form.put("sac_turns", vec![rules.sacs.turns.to_string()]);
    let kept = rules.incubation;
    form.put("sac_after_from", vec![optional(kept.sac_after.map(|(from, _)| from))]);
    form.put("sac_after_to", vec![optional(kept.sac_after.map(|(_, to)| to))]);
    form.put("incubate_min_c", vec![optional(kept.min_c)]);
    form.put("incubate_max_c", vec![optional(kept.max_c)]);
    form.put("incubate_risky_c", vec![optional(kept.risky_c)]);
    let column = |figure: fn(&FastClass) -> u32| rules.fast.iter().map(|class| figure(class).to_string()).collect();
    form.put("fast_from", column(|class| class.from_mm));
    form.put("fast_min", column(|class| class.min_days));
    form.put("fast_max", column(|class| class.max_days));
}

/// Reads what was typed.
pub(super) fn read(form: &RulesForm, check: &mut Check) -> Option<SpeciesRules> {
    let threat_open_hours = check.optional_whole("threat_open_hours", form.one("threat_open_hours"), 1..=168);
    let threat_hands_in_days = check.optional_whole("threat_hands_in_days", form.one("threat_hands_in_days"), 1..=60);
    let pulled_days = check.whole("sac_pulled_days", form.one("sac_pulled_days"), 1..=14);
    let with_dam_days = check.whole("sac_with_dam_days", form.one("sac_with_dam_days"), 1..=30);
    let turns = check.whole("sac_turns", form.one("sac_turns"), 0..=12);
    let incubation = incubation(form, check);
    let fast = classes(form, check);
    let sacs = SacRules { pulled_days: pulled_days?, with_dam_days: with_dam_days?, turns: turns? };
    Some(SpeciesRules { threat_open_hours, threat_hands_in_days, sacs, incubation, fast })
}

/// What is left out is as usual; both ends of a range come together, and the temperatures rise.
fn incubation(form: &RulesForm, check: &mut Check) -> IncubationRules {
    let from = check.optional_whole("sac_after_from", form.one("sac_after_from"), 1..=1000);
    let to = check.optional_whole("sac_after_to", form.one("sac_after_to"), 1..=1000);
    if from.is_some() != to.is_some() || from > to {
        check.add("sac_after_to", "Give both days, the first before the last, or neither.");
    }
    let min_c = check.optional_whole("incubate_min_c", form.one("incubate_min_c"), 10..=40);
    let max_c = check.optional_whole("incubate_max_c", form.one("incubate_max_c"), 10..=40);
    let risky_c = check.optional_whole("incubate_risky_c", form.one("incubate_risky_c"), 10..=45);
    let rules = IncubationRules { sac_after: from.zip(to), min_c, max_c, risky_c };
    let (least, most, risky) = rules.limits();
    if least > most || most > risky {
        check.add("incubate_risky_c", format!("These must rise: {least}, {most}, {risky} °C."));
    }
    rules
}

/// The classes that were filled in: they begin at 0 mm, rise, and their days never fall.
fn classes(form: &RulesForm, check: &mut Check) -> Vec<FastClass> {
    let mut classes: Vec<FastClass> = Vec::new();
    for line in 0..CLASSES {
        let typed = [form.at("fast_from", line), form.at("fast_min", line), form.at("fast_max", line)];
        if typed.iter().all(|cell| cell.trim().is_empty()) {
            continue;
        }
        let [from, least, most] = typed;
        let from_mm = check.whole("fast_from", from, 0..=400);
        let min_days = check.whole("fast_min", least, 1..=120);
        let max_days = check.whole("fast_max", most, 1..=120);
        if let (Some(from_mm), Some(min_days), Some(max_days)) = (from_mm, min_days, max_days) {
            classes.push(FastClass { from_mm, min_days, max_days });
        }
    }
    if !check.ok() {
        return classes;
    }
    if classes.first().is_none_or(|first| first.from_mm != 0) {
        check.add("fast_from", "The first class begins at 0 mm, so that every size has a fast.");
    }
    if classes.iter().any(|class| class.min_days > class.max_days) {
        check.add("fast_max", "The house's day must not come before the earliest day.");
    }
    let pairs = || classes.iter().zip(classes.iter().skip(1));
    if pairs().any(|(small, large)| small.from_mm >= large.from_mm) {
        check.add("fast_from", "Each class begins at a larger leg span than the one before.");
    }
    if pairs().any(|(small, large)| small.min_days > large.min_days || small.max_days > large.max_days) {
        check.add("fast_min", "A larger spider never fasts for less time than a smaller one.");
    }
    classes
}

/// The classes in words: `3 to 5 below 15 mm; 5 to 7 from 15 mm`.
pub(in crate::species) fn fast_words(fast: &[FastClass]) -> String {
    let class = |class: &FastClass| format!("{} to {} from {} mm", class.min_days, class.max_days, class.from_mm);
    fast.iter().map(class).collect::<Vec<_>>().join("; ")
}
