//! The first owner's set-up.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use super::fields::{check_phrase, check_sign_in_name, zones};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError, redirect};
use crate::house::extract::Path;
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::layout::{Choice, Layout, page, page_again};
use crate::house::paths;
use crate::house::session::Visit;
use crate::staff::model::{NewMember, Purpose, Settings};
use crate::staff::store::{links, settings};
use crate::staff::{passphrase, store};

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::staff) struct SetupForm {
    house_name: String,
    zone: String,
    emergency: String,
    name: String,
    sign_in_name: String,
    pass_phrase: String,
    again: String,
}

struct Checked {
    house_name: String,
    zone: chrono_tz::Tz,
    emergency: String,
    name: String,
    sign_in_name: String,
    pass_phrase: String,
}

impl SetupForm {
    fn check(&self, app: &App) -> Result<Checked, Mistakes> {
        let mut check = Check::new();
        let house_name = check.text("house_name", &self.house_name, 80);
        let zone = check.choice("zone", &self.zone);
        let emergency = check.paragraphs("emergency", &self.emergency, 600);
        let name = check.text("name", &self.name, 80);
        let sign_in_name = check_sign_in_name(&mut check, &self.sign_in_name);
        let pass_phrase = check_phrase(&mut check, app, &self.pass_phrase, &self.again, &self.sign_in_name);
        match (house_name, zone, emergency, name, sign_in_name, pass_phrase) {
            (Some(house_name), Some(zone), Some(emergency), Some(name), Some(sign_in_name), Some(pass_phrase)) => {
                Ok(Checked { house_name, zone, emergency, name, sign_in_name, pass_phrase })
            }
            _ => Err(check.mistakes()),
        }
    }
}

#[derive(Template)]
#[template(path = "staff/setup.html")]
struct SetupPage {
    layout: Layout,
    zones: Vec<Choice>,
    input: SetupForm,
    mistakes: Mistakes,
}

pub(in crate::staff) async fn show(State(app): State<App>, visit: Visit, Path(token): Path<String>) -> Answer {
    links::require(&mut *app.read().await?, Purpose::Setup, &token, app.now()).await?;
    let input = SetupForm { zone: "UTC".to_owned(), ..SetupForm::default() };
    page(&SetupPage { layout: Layout::outside(&app, &visit).await?, zones: zones(), input, mistakes: Mistakes::none() })
}

pub(in crate::staff) async fn create(State(app): State<App>, visit: Visit, Path(token): Path<String>, form: Form<SetupForm>) -> Answer {
    links::require(&mut *app.read().await?, Purpose::Setup, &token, app.now()).await?;
    match save(&app, &visit, &token, &form.input).await {
        Err(AppError::Refused(mistakes)) => {
            page_again(&SetupPage { layout: Layout::outside(&app, &visit).await?, zones: zones(), input: form.input, mistakes })
        }
        answer => answer,
    }
}

async fn save(app: &App, visit: &Visit, token: &str, input: &SetupForm) -> Answer {
    let new = input.check(app)?;
    let pass_hash = passphrase::hash(app, &new.pass_phrase).await?;
    let mut write = app.write(None).await?;
    let link = links::use_up(&mut write, Purpose::Setup, token).await?;
    let owner = NewMember { name: new.name, sign_in_name: new.sign_in_name, pass_hash, roles: link.roles };
    let id = store::insert_member(&mut write, &owner).await?;
    write.who = Some(id);
    let site = app.site();
    let changed = Settings {
        name: new.house_name,
        zone: new.zone,
        emergency: new.emergency,
        address: site.address.clone(),
        agitated_open_hours: site.agitated_open_hours,
        agitated_hands_in_days: site.agitated_hands_in_days,
    };
    settings::update(&mut write, site.version, &changed).await?;
    let after = format!("{}: {} of {}, zone {}", owner.name, link.roles.words(), changed.name, changed.zone.name());
    write.commit(Change::new("house.set_up", format!("member {id}"), after), paths::SIGN_IN).await?;
    app.refresh_site().await?;
    visit.flash("The house is set up. Sign in with the name and pass phrase that you just chose.", false).await?;
    Ok(redirect(paths::SIGN_IN))
}
