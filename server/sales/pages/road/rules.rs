//! The house's rules for outings, dispatch and what comes back.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::SignedIn;
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::paths;
use crate::reckoning::dispatch::{WEEK, bit, full};
use crate::sales::model::RoadRules;
use crate::sales::store::road;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct RulesForm {
    lowest: String,
    highest: String,
    pack_below: String,
    pack_judge: String,
    weekday: Vec<String>,
    claim_hours: String,
    return_hold_days: String,
    outing_hold_days: String,
    version: String,
}

impl RulesForm {
    fn of(rules: &RoadRules) -> Self {
        let tenths = |tenths: i64| format!("{}{}.{}", if tenths < 0 { "-" } else { "" }, tenths.abs() / 10, tenths.abs() % 10);
        Self {
            lowest: tenths(rules.lowest_tenths),
            highest: tenths(rules.highest_tenths),
            pack_below: tenths(rules.pack_below_tenths),
            pack_judge: tenths(rules.pack_judge_tenths),
            weekday: (0..7).filter(|place| rules.weekdays & (1 << place) != 0).map(|place: u8| place.to_string()).collect(),
            claim_hours: rules.claim_hours.to_string(),
            return_hold_days: rules.return_hold_days.to_string(),
            outing_hold_days: rules.outing_hold_days.to_string(),
            version: rules.version.to_string(),
        }
    }

    fn weekdays(&self) -> u8 {
        let chosen = WEEK.iter().zip(0_u8..).filter(|(_, place)| self.weekday.contains(&place.to_string()));
        chosen.fold(0, |bits, (day, _)| bits | bit(*day))
    }

    fn check(&self) -> Result<RoadRules, Mistakes> {
        let mut check = Check::new();
        let mut temperature = |field: &'static str, typed: &str| {
            if typed.trim().is_empty() {
                check.add(field, "Fill this in.");
            }
            check.optional_tenths(field, typed, -300..=600)
        };
        let lowest = temperature("lowest", &self.lowest);
        let highest = temperature("highest", &self.highest);
        let pack_below = temperature("pack_below", &self.pack_below);
        let pack_judge = temperature("pack_judge", &self.pack_judge);
        if lowest.zip(highest).is_some_and(|(low, high)| low >= high) {
            check.add("highest", "This must be above the lowest.");
        }
        if pack_below.zip(pack_judge).is_some_and(|(below, judge)| below > judge) {
            check.add("pack_judge", "This must not be below the temperature at which a heat pack always goes in.");
        }
        if self.weekdays() == 0 {
            check.add("weekday", "Choose at least one day.");
        }
        let claim_hours = check.whole("claim_hours", &self.claim_hours, 1..=168);
        let return_hold_days = check.whole("return_hold_days", &self.return_hold_days, 1..=365);
        let outing_hold_days = check.whole("outing_hold_days", &self.outing_hold_days, 1..=365);
        let version = check.whole("version", &self.version, 1..=i64::MAX);
        let temperatures = (lowest, highest, pack_below, pack_judge);
        match (temperatures, claim_hours, return_hold_days, outing_hold_days, version) {
            ((Some(lowest), Some(highest), Some(below), Some(judge)), Some(claim), Some(returned), Some(outing), Some(version))
                if check.ok() =>
            {
                Ok(RoadRules {
                    lowest_tenths: lowest,
                    highest_tenths: highest,
                    pack_below_tenths: below,
                    pack_judge_tenths: judge,
                    weekdays: self.weekdays(),
                    claim_hours: claim,
                    return_hold_days: returned,
                    outing_hold_days: outing,
                    version,
                })
            }
            _ => Err(check.mistakes()),
        }
    }
}

/// A day of the week as the form shows it.
struct Day {
    place: usize,
    name: &'static str,
    chosen: bool,
}

#[derive(Template)]
#[template(path = "sales/road/rules.html")]
struct RulesPage {
    layout: Layout,
    days: Vec<Day>,
    input: RulesForm,
    mistakes: Mistakes,
}

impl RulesPage {
    fn of(layout: Layout, input: RulesForm, mistakes: Mistakes) -> Self {
        let chosen = |place: usize| input.weekday.contains(&place.to_string());
        let days = WEEK.iter().enumerate().map(|(place, day)| Day { place, name: full(*day), chosen: chosen(place) }).collect();
        Self { layout, days, input, mistakes }
    }
}

pub(in crate::sales) async fn rules(State(app): State<App>, me: SignedIn) -> Answer {
    let rules = road::rules(&mut *app.read().await?).await?;
    page(&RulesPage::of(Layout::of(&app, &me, Section::Sales).await?, RulesForm::of(&rules), Mistakes::none()))
}

pub(in crate::sales) async fn change_rules(State(app): State<App>, me: SignedIn, form: Form<RulesForm>) -> Answer {
    match save(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&RulesPage::of(Layout::of(&app, &me, Section::Sales).await?, form.input, mistakes)),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, form: &Form<RulesForm>) -> Answer {
    let new = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let old = road::rules(write.db()).await?;
    road::change_rules(&mut write, &new).await?;
    let change = Change::new("road.rules-changed", "road 1", in_brief(&new)).from(in_brief(&old));
    me.done(write, change, paths::DISPATCH, "The rules are saved.").await
}

fn in_brief(rules: &RoadRules) -> String {
    format!(
        "{} to {} tenths of °C, heat pack below {} ({}), {}; claims within {} h; apart {} d after a return, {} d after an outing",
        rules.lowest_tenths,
        rules.highest_tenths,
        rules.pack_below_tenths,
        rules.pack_judge_tenths,
        rules.days(),
        rules.claim_hours,
        rules.return_hold_days,
        rules.outing_hold_days
    )
}
