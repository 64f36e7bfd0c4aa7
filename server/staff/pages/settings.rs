//! The settings of the house.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use super::fields::zones;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::SignedIn;
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::paths;
use crate::house::site::Site;
use crate::staff::model::Settings;
use crate::staff::store::settings;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::staff) struct SiteForm {
    name: String,
    address: String,
    zone: String,
    emergency: String,
    agitated_open_hours: String,
    agitated_hands_in_days: String,
    version: String,
}

impl SiteForm {
    fn of(site: &Site) -> Self {
        Self {
            name: site.name.clone(),
            address: site.address.clone(),
            zone: site.zone.name().to_owned(),
            emergency: site.emergency.clone(),
            agitated_open_hours: site.agitated_open_hours.to_string(),
            agitated_hands_in_days: site.agitated_hands_in_days.to_string(),
            version: site.version.to_string(),
        }
    }

    fn check(&self) -> Result<(i64, Settings), Mistakes> {
        let mut check = Check::new();
        let name = check.text("name", &self.name, 80);
        let address = check.paragraphs("address", &self.address, 300);
        let zone = check.choice("zone", &self.zone);
        let emergency = check.paragraphs("emergency", &self.emergency, 600);
        let hours = check.whole("agitated_open_hours", &self.agitated_open_hours, 1..=168);
        let days = check.whole("agitated_hands_in_days", &self.agitated_hands_in_days, 1..=60);
        let version = check.whole("version", &self.version, 1..=i64::MAX);
        match (name, address, zone, emergency, hours, days, version) {
            (
                Some(name),
                Some(address),
                Some(zone),
                Some(emergency),
                Some(agitated_open_hours),
                Some(agitated_hands_in_days),
                Some(version),
            ) => Ok((version, Settings { name, address, zone, emergency, agitated_open_hours, agitated_hands_in_days })),
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "staff/site.html")]
struct SitePage {
    layout: Layout,
    zones: Vec<Choice>,
    input: SiteForm,
    mistakes: Mistakes,
}

pub(in crate::staff) async fn show(State(app): State<App>, me: SignedIn) -> Answer {
    let input = SiteForm::of(&app.site());
    page(&SitePage { layout: Layout::of(&app, &me, Section::Staff).await?, zones: zones(), input, mistakes: Mistakes::none() })
}

pub(in crate::staff) async fn save(State(app): State<App>, me: SignedIn, form: Form<SiteForm>) -> Answer {
    let (version, mistakes) = match store_settings(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => (form.input.version.clone(), mistakes),
        Err(AppError::Conflict(why)) => {
            let site = app.site();
            let stands = format!(
                "{why} There now stand: {}, {}, opening held {} hours, hands-in {} days. Check, and save again if yours should stand.",
                site.name,
                site.zone.name(),
                site.agitated_open_hours,
                site.agitated_hands_in_days
            );
            (site.version.to_string(), Mistakes::one("", stands))
        }
        answer => return answer,
    };
    let input = SiteForm { version, ..form.input };
    page_again(&SitePage { layout: Layout::of(&app, &me, Section::Staff).await?, zones: zones(), input, mistakes })
}

async fn store_settings(app: &App, me: &SignedIn, form: &Form<SiteForm>) -> Answer {
    let (version, new) = form.input.check()?;
    let old = app.site();
    let mut write = app.begin(me.id(), &form.once).await?;
    settings::update(&mut write, version, &new).await?;
    let before = in_brief(&old.name, old.zone.name(), old.agitated_open_hours, old.agitated_hands_in_days, &old.emergency);
    let after = in_brief(&new.name, new.zone.name(), new.agitated_open_hours, new.agitated_hands_in_days, &new.emergency);
    let answer = me.done(write, Change::new("site.changed", "site 1", after).from(before), paths::STAFF, "The settings are saved.").await?;
    app.refresh_site().await?;
    Ok(answer)
}

fn in_brief(name: &str, zone: &str, hours: i64, days: i64, emergency: &str) -> String {
    format!("{name}; {zone}; opening held {hours} h, hands-in {days} d; emergency: {}", emergency.replace('\n', " / "))
}
