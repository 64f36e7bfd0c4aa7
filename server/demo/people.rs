//! The five people of the made-up house, and what each is cleared for.

use chrono::{Days, NaiveDate};

use super::{Building, practice};
use crate::handling::model::NewClearance;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::ids::MemberId;
use crate::staff::model::{NewMember, Roles, Settings};
use crate::{handling, staff};

/// Somebody of the made-up house, with what is needed to sign in as them.
#[derive(Debug, Clone)]
pub struct Person {
    /// Their id.
    pub id: MemberId,
    /// What they sign in with.
    pub sign_in_name: &'static str,
    /// Their pass phrase.
    pub pass_phrase: &'static str,
    /// Their PIN.
    pub pin: &'static str,
    /// What they may do, in words.
    pub what: &'static str,
    /// The clearance that they hold today.
    pub level: u8,
}

struct Cast {
    name: &'static str,
    sign_in_name: &'static str,
    pass_phrase: &'static str,
    pin: &'static str,
    what: &'static str,
    roles: Roles,
    level: u8,
}

const NOBODY: Roles = Roles { owner: false, lead: false, keeper: false, counter: false };

const CAST: [Cast; 5] = [
    Cast {
        name: "Ilka",
        sign_in_name: "ilka",
        pass_phrase: "copper lantern under the stair",
        pin: "274913",
        what: "owner; clearance 1",
        roles: Roles { owner: true, lead: true, ..NOBODY },
        level: 1,
    },
    Cast {
        name: "Tamsin",
        sign_in_name: "tamsin",
        pass_phrase: "seven wet umbrellas dancing",
        pin: "860352",
        what: "lead and keeper; clearance 3, assesses others",
        roles: Roles { lead: true, keeper: true, ..NOBODY },
        level: 3,
    },
    Cast {
        name: "Joss",
        sign_in_name: "joss",
        pass_phrase: "quiet gravel after the rain",
        pin: "519746",
        what: "keeper; clearance 3",
        roles: Roles { keeper: true, ..NOBODY },
        level: 3,
    },
    Cast {
        name: "Perrin",
        sign_in_name: "perrin",
        pass_phrase: "a teapot full of buttons",
        pin: "731068",
        what: "keeper in training; clearance 1",
        roles: Roles { keeper: true, ..NOBODY },
        level: 1,
    },
    Cast {
        name: "Odile",
        sign_in_name: "odile",
        pass_phrase: "ribbons on a paper boat",
        pin: "408217",
        what: "counter; no clearance",
        roles: Roles { counter: true, ..NOBODY },
        level: 0,
    },
];

/// Names the house, signs everybody up and has them assessed.
pub(super) async fn settle(building: &mut Building) -> Result<(), AppError> {
    name(&building.app).await?;
    for cast in CAST {
        let pass_hash = staff::passphrase::hash(&building.app, cast.pass_phrase).await?;
        let pin_hash = staff::passphrase::hash(&building.app, cast.pin).await?;
        let mut write = building.app.write(None).await?;
        let new = NewMember { name: cast.name.to_owned(), sign_in_name: cast.sign_in_name.to_owned(), pass_hash, roles: cast.roles };
        let id = staff::store::insert_member(&mut write, &new).await?;
        staff::store::set_pin_hash(&mut write, id, &pin_hash).await?;
        write.commit(Change::new("member.added", format!("member {id}"), cast.name), "/staff").await?;
        let Cast { sign_in_name, pass_phrase, pin, what, level, .. } = cast;
        building.staff.push(Person { id, sign_in_name, pass_phrase, pin, what, level });
    }
    clear(building).await
}

async fn name(app: &App) -> Result<(), AppError> {
    let site = app.site();
    let named = Settings {
        name: "Fernholt Spiders (demo)".to_owned(),
        zone: super::ZONE,
        address: "Fernholt Lane 3, Upper Marsh".to_owned(),
        emergency: "Emergency: 112\nPoison centre: +49 30 5550190 (made up)\nTamsin: +49 30 5550142 (made up)".to_owned(),
        agitated_open_hours: site.agitated_open_hours,
        agitated_hands_in_days: site.agitated_hands_in_days,
    };
    let mut write = app.write(None).await?;
    staff::store::settings::update(&mut write, site.version, &named).await?;
    write.commit(Change::new("site.changed", "site", named.name.as_str()), "/staff/site").await?;
    app.refresh_site().await
}

/// Tamsin comes assessed from outside; she assesses the others. Clearances are renewed each year, so one row may not do.
async fn clear(building: &Building) -> Result<(), AppError> {
    let ilka = building.named("ilka");
    let tamsin = building.named("tamsin");
    grant(building, ilka, tamsin, 3, building.day, "an assessor from outside").await?;
    practice::read(building, tamsin).await?;
    for (name, evidence) in [
        ("ilka", "Watched feeding and spot cleaning of twelve mild terrestrials."),
        ("joss", "Three supervised rehouses of fast arboreals, catch cup and tub in tub, no escape."),
        ("perrin", "Two weeks of supervised feeding; closes the lid at a threat posture."),
    ] {
        let level = i64::from(building.staff.iter().find(|person| person.sign_in_name == name).map_or(0, |person| person.level));
        practice::towards(building, tamsin, building.named(name), level).await?;
        grant_with(building, tamsin, building.named(name), level, building.day, "", evidence).await?;
    }
    Ok(())
}

async fn grant(building: &Building, by: MemberId, to: MemberId, level: i64, from: NaiveDate, outside: &str) -> Result<(), AppError> {
    grant_with(building, by, to, level, from, outside, "Seven years with Old World species; references were rung up.").await
}

async fn grant_with(
    building: &Building,
    by: MemberId,
    to: MemberId,
    level: i64,
    from: NaiveDate,
    outside: &str,
    evidence: &str,
) -> Result<(), AppError> {
    let mut write = building.app.write(Some(by)).await?;
    let new = NewClearance {
        member: to,
        level,
        evidence: evidence.to_owned(),
        valid_from: from,
        valid_until: from.checked_add_days(Days::new(730)).unwrap_or(from),
        outside_assessor: outside.to_owned(),
    };
    let id = handling::store::grant(&mut write, &new).await?;
    write.commit(Change::new("clearance.granted", format!("clearance {id}"), format!("level {level}")), "/handling").await
}

impl Building {
    /// The id of somebody, by the name they sign in with.
    pub(super) fn named(&self, sign_in_name: &str) -> MemberId {
        self.staff.iter().find(|person| person.sign_in_name == sign_in_name).map_or(MemberId(0), |person| person.id)
    }
}
