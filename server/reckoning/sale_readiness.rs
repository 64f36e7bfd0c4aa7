//! May this animal or lot leave today? Findings with reasons; only a lead may override one that blocks.
//! All waiting times are common practice, no source.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::calendar::{days_after, days_between, written};
use super::moult::{FastClass, fast_in, sale_from, span_or_largest};
use super::planner::HoldFacts;
use super::provenance::Source;
use super::rows;
use super::stage::Stage;
use super::words::{HoldKind, LifeStage, MoultState};

/// A meal this many days ago or fewer is a reason to wait before a journey.
pub const FED_LATELY_DAYS: u32 = 2;

/// How many missing papers are named one by one.
pub const MOST_MISSING: usize = 8;

/// What bears on whether an animal, or a number out of a cohort, may leave.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SaleFacts {
    /// Its status, when it is not alive and in the house: “sold”, “dead”.
    pub not_available: Option<String>,
    /// Its stage, where known.
    pub stage: Option<Stage>,
    /// Its life stage.
    pub life_stage: LifeStage,
    /// Its leg span (DLS), mm.
    pub span_mm: Option<u32>,
    /// The day of its last moult; for a lot, the latest of any in it.
    pub last_moult: Option<NaiveDate>,
    /// Whether it has accepted a meal since then.
    pub ate_since_moult: bool,
    /// What the last moult check saw.
    pub moult_state: MoultState,
    /// Every hold, past ones included.
    #[serde(default, deserialize_with = "rows::read")]
    pub holds: Vec<HoldFacts>,
    /// Whether she is with her egg sac.
    pub guarding_sac: bool,
    /// Held back for breeding. For a lot, see `lot`.
    pub held_back: bool,
    /// Whether the species is on a trade list.
    pub listed: bool,
    /// Its source.
    pub source: Option<Source>,
    /// Whether papers of its origin are on file.
    pub has_papers: bool,
    /// Which papers of which ancestor are missing, a line each.
    #[serde(default, deserialize_with = "rows::read")]
    pub missing_papers: Vec<String>,
    /// The day of the last meal it took.
    pub last_fed: Option<NaiveDate>,
    /// Whether live prey was left in that has not been cleared yet.
    #[serde(default)]
    pub prey_left_in: bool,
    /// For a number out of a cohort: how many are asked for, and how many at that stage are free.
    pub lot: Option<Lot>,
    /// The post-moult fast of its species by size; the usual classes when empty.
    #[serde(default, deserialize_with = "rows::read")]
    pub fast: Vec<FastClass>,
}

/// A number out of a cohort.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Lot {
    /// How many are asked for.
    pub asked: u32,
    /// How many are alive at that stage and not held back.
    pub free: u32,
    /// How many of those at that stage moulted within the days of the sale hold.
    pub recent: u32,
}

/// One reason against a sale today.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Finding {
    /// Whether it stops the sale, or only warns.
    pub blocks: bool,
    /// The reason, in plain words.
    pub text: String,
}

/// The reasons against a sale on this day, those that block first; empty when it may leave.
pub fn readiness(facts: &SaleFacts, day: NaiveDate) -> Vec<Finding> {
    let mut findings = standing(facts, day);
    if let Some(fed) = facts.last_fed.filter(|fed| days_between(*fed, day) <= i64::from(FED_LATELY_DAYS)) {
        let wait = written(days_after(fed, FED_LATELY_DAYS + 1));
        findings.push(warns(format!("fed on {}; better not sent before {wait}", written(fed))));
    }
    findings.sort_by_key(|finding| !finding.blocks);
    findings
}

/// The reasons against sending it on a journey on this day, those that block first. What was fed in the last two days does not
/// travel; a meal three days ago is said.
pub fn readiness_to_send(facts: &SaleFacts, day: NaiveDate) -> Vec<Finding> {
    let mut findings = standing(facts, day);
    if let Some(fed) = facts.last_fed {
        let (ago, lately) = (days_between(fed, day), i64::from(FED_LATELY_DAYS));
        if ago <= lately {
            let from = written(days_after(fed, FED_LATELY_DAYS + 1));
            findings.push(blocks(format!("fed on {}; not sent before {from}", written(fed))));
        } else if ago == lately + 1 {
            findings.push(warns(format!("fed on {}, {ago} days before the journey", written(fed))));
        }
    }
    findings.sort_by_key(|finding| !finding.blocks);
    findings
}

/// What stands against leaving in any way.
fn standing(facts: &SaleFacts, day: NaiveDate) -> Vec<Finding> {
    let mut findings = Vec::new();
    status(facts, &mut findings);
    moult(facts, day, &mut findings);
    holds(facts, day, &mut findings);
    papers(facts, &mut findings);
    if facts.prey_left_in {
        findings.push(warns("live prey is in with it: take it out before it is packed"));
    }
    findings
}

/// Whether the findings let it leave.
pub fn may_leave(findings: &[Finding]) -> bool {
    !findings.iter().any(|finding| finding.blocks)
}

/// The first day after this one on which nothing would block any more, by the days that holds end and moults have hardened;
/// nothing when something else must happen first: a meal, a moult, a paper.
pub fn may_leave_from(facts: &SaleFacts, day: NaiveDate) -> Option<NaiveDate> {
    let hardened = facts.last_moult.map(|moulted| {
        let fast = fast_in(&facts.fast, span_or_largest(facts.span_mm, facts.life_stage));
        sale_from(moulted, fast)
    });
    let mut days: Vec<NaiveDate> = facts.holds.iter().filter_map(|hold| hold.until).chain(hardened).filter(|ahead| *ahead > day).collect();
    days.sort_unstable();
    days.into_iter().find(|ahead| may_leave(&readiness(facts, *ahead)))
}

fn blocks(text: impl Into<String>) -> Finding {
    Finding { blocks: true, text: text.into() }
}

fn warns(text: impl Into<String>) -> Finding {
    Finding { blocks: false, text: text.into() }
}

fn status(facts: &SaleFacts, findings: &mut Vec<Finding>) {
    if let Some(status) = &facts.not_available {
        findings.push(blocks(format!("not available: {status}")));
    }
    match facts.stage {
        Some(stage) if !stage.feeds() => {
            findings.push(blocks(format!("still {stage}; sales start at the second instar")));
        }
        None if facts.life_stage == LifeStage::Spiderling => {
            findings.push(warns("instar not recorded; sales start at the second instar"));
        }
        _ => {}
    }
    if facts.guarding_sac {
        findings.push(blocks("guarding an egg sac"));
    }
    if facts.held_back {
        findings.push(blocks("held back for breeding; release it first"));
    }
    if let Some(lot) = facts.lot.filter(|lot| lot.asked > lot.free) {
        findings.push(blocks(format!("{} asked for, {} free", lot.asked, lot.free)));
    }
}

fn moult(facts: &SaleFacts, day: NaiveDate, findings: &mut Vec<Finding>) {
    match facts.moult_state {
        MoultState::Moulting => findings.push(blocks("moulting now")),
        MoultState::PreMoult => findings.push(blocks("in pre-moult: no sale or journey until after the moult")),
        MoultState::Normal => {}
    }
    let Some(moulted) = facts.last_moult else {
        return;
    };
    // Out of a number, those that have hardened and eaten can be picked.
    if let Some(lot) = facts.lot.filter(|lot| lot.free.saturating_sub(lot.recent) >= lot.asked) {
        if lot.recent > 0 {
            findings.push(warns(format!("{} of them moulted lately, the last on {}: pick from the others", lot.recent, written(moulted))));
        }
        return;
    }
    let from = sale_from(moulted, fast_in(&facts.fast, span_or_largest(facts.span_mm, facts.life_stage)));
    if day < from {
        findings.push(blocks(format!("moulted on {}; may leave from {}", written(moulted), written(from))));
    }
    if !facts.ate_since_moult {
        findings.push(blocks(format!("has not accepted a meal since its moult on {}", written(moulted))));
    }
}

fn holds(facts: &SaleFacts, day: NaiveDate, findings: &mut Vec<Finding>) {
    let current = facts.holds.iter().filter(|hold| hold.from <= day && hold.until.is_none_or(|free| day < free));
    for hold in current {
        let until = hold.until.map_or_else(String::new, |free| format!(" until {}", written(free)));
        let reason = if hold.reason.is_empty() { String::new() } else { format!(": {}", hold.reason) };
        let what = if hold.kind == HoldKind::Quarantine { "in quarantine" } else { hold.kind.label() };
        findings.push(blocks(format!("{what}{until}{reason}")));
    }
}

fn papers(facts: &SaleFacts, findings: &mut Vec<Finding>) {
    match (facts.listed, facts.source) {
        (true, None) => findings.push(blocks("listed species without a source code on record")),
        (false, None) => findings.push(warns("no source code on record")),
        (_, Some(_)) => {}
    }
    if !facts.listed || facts.has_papers {
        return;
    }
    if facts.missing_papers.is_empty() {
        findings.push(blocks("listed species without papers of its origin; check with your authority"));
    }
    for missing in facts.missing_papers.iter().take(MOST_MISSING) {
        findings.push(blocks(format!("listed species without papers of its origin: {missing}")));
    }
    let more = facts.missing_papers.len().saturating_sub(MOST_MISSING);
    if more > 0 {
        findings.push(blocks(format!("listed species without papers of its origin: {more} more are missing")));
    }
}
