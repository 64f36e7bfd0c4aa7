//! Finding a rota: first the least weight, then the least greatest share, then few changes and few racks.

use super::bounds::Bounds;
use super::desk::Desk;
use super::exact::{Found, Search};
use super::fill::{fill, hardest_first};
use super::plan::{Plan, caps_at, caps_below};
use super::problem::{Crew, Problem};
use super::share::Share;
use super::tidy::{moved, tidy};
use crate::reckoning::cells::Cells;

/// Steps of the complete search for small rotas: for the weight, and again for the share.
const MOST_STEPS: u64 = 300_000;

/// Steps of the complete search for one attempt to even out.
const STEPS_TO_EVEN: u64 = 20_000;

/// Looks at jobs and people for one attempt to even out.
const LOOKS: u64 = 2_000_000;

/// Looks for taking in duties that nobody has, in all and for one of them.
const LOOKS_TO_TAKE_IN: (u64, u64) = (20_000_000, 300_000);

/// How often a share is tried; with very many duties, where a try takes long and a first rota is even anyway, less often.
const TRIES: usize = 14;
const TRIES_OF_MANY: usize = 2;
const MANY: usize = 20_000;

/// A rota, and what no rota can better.
pub(super) struct Solved<'a> {
    pub(super) plan: Plan<'a>,
    pub(super) weight_bound: u64,
    pub(super) share_bound: Share,
}

/// Finds a rota. `before` is who had each job earlier; nobody for those that had no crew or can't have it any more.
pub(super) fn solve<'a>(problem: &'a Problem, before: &[Crew]) -> Solved<'a> {
    let bounds = Bounds::new(problem);
    let mut search = Search::new(problem);
    let mut solved = afresh(problem, &bounds, search.as_mut());
    solved.plan = if before.iter().all(|crew| *crew == Crew::Nobody) {
        finished(solved.plan, &[])
    } else {
        nearest(solved.plan, &bounds, before, search.as_mut())
    };
    solved
}

/// Finds a rota without looking at an earlier one.
fn afresh<'a>(problem: &'a Problem, bounds: &Bounds<'a>, mut search: Option<&mut Search<'a>>) -> Solved<'a> {
    let minutes = problem.minutes();
    let mut steps = MOST_STEPS;
    let mut weight_bound = bounds.weight(&minutes);
    let mut plan = light(Plan::new(problem), bounds, weight_bound);
    while let Some(search) = search.as_mut().filter(|_| plan.weight > weight_bound) {
        match search.find(&minutes, plan.weight - 1, &[], &mut steps) {
            Found::Plan(lighter) => plan = lighter,
            Found::Nothing => weight_bound = plan.weight,
            Found::GivenUp => break,
        }
    }
    plan = even(plan, bounds, search.as_deref_mut());
    if plan.weight > weight_bound {
        // Loads that are even may have made room.
        let lighter = light(plan.clone(), bounds, weight_bound);
        if lighter.weight < plan.weight {
            plan = even(lighter, bounds, search.as_deref_mut());
        }
    }
    let mut share_bound = bounds.share(plan.weight);
    steps = MOST_STEPS;
    while let Some(search) = search.as_mut().filter(|_| plan.share() > share_bound) {
        let Some(caps) = caps_below(problem, plan.share()) else { break };
        match search.find(&caps, plan.weight, &[], &mut steps) {
            Found::Plan(fairer) => plan = fairer,
            Found::Nothing => share_bound = plan.share(),
            Found::GivenUp => break,
        }
    }
    Solved { plan, weight_bound, share_bound }
}

/// Of rotas at least as good as one found afresh, one that is near an earlier rota; the earlier one where it is as good.
fn nearest<'a>(fresh: Plan<'a>, bounds: &Bounds<'a>, before: &[Crew], search: Option<&mut Search<'a>>) -> Plan<'a> {
    let problem = fresh.problem;
    let minutes = problem.minutes();
    let kept = kept(problem, before, &minutes);
    if kept.values() <= fresh.values() {
        return finished(kept, before);
    }
    let caps = caps_at(problem, fresh.share());
    let repaired = light(kept, bounds, fresh.weight);
    let evened = relieved(repaired.clone(), &caps);
    let mut plans = vec![repaired, evened, fresh.clone()];
    if let Some(search) = search
        && let Found::Plan(found) = search.find(&caps, fresh.weight, before, &mut { MOST_STEPS / 4 })
    {
        plans.push(found);
    }
    plans.retain(|plan| plan.is_within(&minutes) && plan.values() <= fresh.values());
    let mut plans: Vec<Plan<'a>> = plans.into_iter().map(|plan| finished(plan, before)).collect();
    plans.push(finished(fresh.clone(), &[]));
    plans.into_iter().min_by_key(|plan| (plan.values(), moved(plan, before))).unwrap_or(fresh)
}

/// A rota with what else can be given out, and with few changes and few racks.
fn finished<'a>(plan: Plan<'a>, before: &[Crew]) -> Plan<'a> {
    let mut plan = plan;
    give_out_rest(&mut plan);
    let caps = caps_at(plan.problem, plan.share());
    plan = tidy(plan, before, &caps);
    give_out_rest(&mut plan);
    plan
}

/// Gives out what fits: what is urgent within everybody's minutes, the rest where nobody gets a greater share by it.
fn give_out_rest(plan: &mut Plan<'_>) {
    let not_urgent: Vec<bool> = plan.problem.jobs.iter().map(|job| job.urgency == 0).collect();
    fill(plan, &plan.problem.minutes(), &not_urgent);
    fill(plan, &caps_at(plan.problem, plan.share()), &[]);
}

/// What is left of the earlier rota, as far as it is within everybody's minutes.
fn kept<'a>(problem: &'a Problem, before: &[Crew], minutes: &[u64]) -> Plan<'a> {
    let mut plan = Plan::new(problem);
    for number in hardest_first(problem) {
        let (job, crew) = (problem.jobs.at(number), before.at(number));
        let fits = crew.members().all(|member| plan.loads.at(member) + job.minutes <= minutes.at(member));
        if fits && problem.may_do(&job, crew) {
            plan.give(number, crew);
        }
    }
    plan
}

/// Gives out what nobody has yet, at little weight.
fn light<'a>(plan: Plan<'a>, bounds: &Bounds<'_>, enough: u64) -> Plan<'a> {
    let mut plan = plan;
    let minutes = plan.problem.minutes();
    fill(&mut plan, &minutes, &bounds.left_out(&minutes));
    fill(&mut plan, &minutes, &[]);
    let mut desk = Desk::new(plan);
    desk.take_in(&minutes, enough, LOOKS_TO_TAKE_IN.0, LOOKS_TO_TAKE_IN.1);
    desk.plan
}

/// Lowers the greatest share: tries what no rota can better, then the middle between that and what was reached.
fn even<'a>(plan: Plan<'a>, bounds: &Bounds<'a>, mut search: Option<&mut Search<'a>>) -> Plan<'a> {
    let share_bound = bounds.share(plan.weight);
    let minutes = plan.problem.minutes();
    let mut best = plan;
    let (mut low, mut target) = (share_bound, share_bound);
    let tries = if best.crews.len() > MANY { TRIES_OF_MANY } else { TRIES };
    for _ in 0..tries {
        let caps = caps_at(best.problem, target);
        if best.share() <= share_bound || best.is_within(&caps) {
            break;
        }
        for start in [best.clone(), refilled(&best, &caps)] {
            let tried = relieved(start, &caps);
            if tried.is_within(&minutes) && tried.values() < best.values() {
                best = tried;
            }
            if best.is_within(&caps) {
                break;
            }
        }
        if let Some(search) = search.as_mut().filter(|_| !best.is_within(&caps))
            && let Found::Plan(found) = search.find(&caps, best.weight, &[], &mut { STEPS_TO_EVEN })
        {
            best = found;
        }
        if !best.is_within(&caps) {
            low = target;
        }
        target = low.between(best.share());
    }
    best
}

/// Moves jobs until nobody is above the caps, as far as that can be done.
fn relieved<'a>(plan: Plan<'a>, caps: &[u64]) -> Plan<'a> {
    let mut desk = Desk::new(plan);
    desk.allow(LOOKS);
    desk.relieve(caps, 0);
    desk.plan
}

/// The jobs of a plan given out anew within caps; those that did not fit stay where they were, above the caps.
fn refilled<'a>(plan: &Plan<'a>, caps: &[u64]) -> Plan<'a> {
    let mut again = Plan::new(plan.problem);
    let left_out: Vec<bool> = plan.crews.iter().map(|crew| *crew == Crew::Nobody).collect();
    fill(&mut again, caps, &left_out);
    fill(&mut again, &plan.problem.minutes(), &left_out);
    for (number, crew) in plan.crews.iter().enumerate() {
        if again.crews.at(number) == Crew::Nobody {
            again.give(number, *crew);
        }
    }
    again
}
