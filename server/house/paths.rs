//! Every address of the house, in one place: templates and handlers take them from here.

mod leaving;

pub use leaving::*;

use super::ids::{
    AnimalId, CareTextId, CohortId, DutyId, IncidentId, MemberId, PairingId, PreyKindId, ProfileId, RackId, SacId, SpeciesId, StrainId,
};
use crate::reckoning::language::Language;
use crate::reckoning::words::LifeStage;

/// The first page after signing in.
pub const HOME: &str = "/";
/// The sign-in form.
pub const SIGN_IN: &str = "/sign-in";
/// Signing out.
pub const SIGN_OUT: &str = "/sign-out";
/// A member's own account.
pub const ACCOUNT: &str = "/account";
/// Choosing colours.
pub const THEME: &str = "/theme";
/// One person's duties of the day.
pub const ROUND: &str = "/round";
/// Sign-offs that waited for the wireless and could not be written.
pub const WAITING: &str = "/round/waiting";
/// What a browser shows when there is no wireless.
pub const OFFLINE: &str = "/round/offline";
/// Where a browser sends sign-offs that waited for the wireless.
pub const QUEUE: &str = "/round/queue";
/// A room's round on the room's tablet.
pub const TABLET: &str = "/tablet";
/// The tablets of rooms, for leads.
pub const TABLETS: &str = "/staff/tablets";
/// The lead's day.
pub const TODAY: &str = "/today";
/// The open duties of the house.
pub const DUTIES: &str = "/today/duties";
/// Who works when.
pub const ROTA: &str = "/staff/rota";
/// The days ahead: duties and hours.
pub const AHEAD: &str = "/today/ahead";
/// Prey: stock, forecast, order list.
pub const PREY: &str = "/today/prey";
/// Kinds and sizes of prey.
pub const PREY_KINDS: &str = "/today/prey/kinds";
/// Cohorts.
pub const COHORTS: &str = "/cohorts";
/// Animals.
pub const ANIMALS: &str = "/animals";
/// Pairings and sacs.
pub const BREEDING: &str = "/breeding";
/// What the young of two animals would be.
pub const PLANNED_PAIRING: &str = "/breeding/planned";
/// Risk, clearances, incidents.
pub const HANDLING: &str = "/handling";
/// Species.
pub const SPECIES: &str = "/species";
/// Rooms and racks.
pub const ROOMS: &str = "/rooms";
/// Search, import, audit.
pub const RECORDS: &str = "/records";
/// Import of spreadsheets.
pub const IMPORT: &str = "/records/import";
/// Members of staff.
pub const STAFF: &str = "/staff";

/// A species' page.
#[must_use]
pub fn species(id: &SpeciesId) -> String {
    format!("{SPECIES}/{id}")
}

/// Changing a species' care in one life stage.
#[must_use]
pub fn care(id: &SpeciesId, stage: LifeStage) -> String {
    format!("{SPECIES}/{id}/care/{}", stage.code())
}

/// A revision of a care profile.
#[must_use]
pub fn profile(id: &ProfileId) -> String {
    format!("{SPECIES}/profiles/{id}")
}
/// The care-sheet texts of every species.
pub const CARE_TEXTS: &str = "/species/texts";

/// A revision of a care-sheet text.
#[must_use]
pub fn care_text(id: &CareTextId) -> String {
    format!("{CARE_TEXTS}/{id}")
}

/// The care-sheet texts of a species.
#[must_use]
pub fn texts_of(id: &SpeciesId) -> String {
    format!("{SPECIES}/{id}/text")
}

/// Writing a species' care-sheet text in a language.
#[must_use]
pub fn write_text(id: &SpeciesId, language: &Language) -> String {
    format!("{SPECIES}/{id}/text/{language}")
}

/// An animal's page.
#[must_use]
pub fn animal(id: &AnimalId) -> String {
    format!("{ANIMALS}/{id}")
}

/// Where an animal's label leads: the address that its QR code holds.
#[must_use]
pub fn tag(tag: &str) -> String {
    format!("/t/{tag}")
}

/// What is due for whatever carries a tag or a cohort's code.
#[must_use]
pub fn stops(label: &str) -> String {
    let label: String = url::form_urlencoded::byte_serialize(label.as_bytes()).collect();
    format!("{ROUND}/stops/{}", label.replace('+', "%20"))
}

/// A cohort's page.
#[must_use]
pub fn cohort(id: &CohortId) -> String {
    format!("{COHORTS}/{id}")
}

/// A rack's page.
#[must_use]
pub fn rack(id: &RackId) -> String {
    format!("/racks/{id}")
}

/// A pairing's page.
#[must_use]
pub fn pairing(id: &PairingId) -> String {
    format!("{BREEDING}/pairings/{id}")
}

/// Planning a pairing of a female.
#[must_use]
pub fn pair_with(dam: &AnimalId) -> String {
    format!("{BREEDING}/pairings/new?dam={dam}")
}

/// Choosing what of a cohort is held back.
#[must_use]
pub fn holdbacks(id: &CohortId) -> String {
    format!("{COHORTS}/{id}/holdbacks")
}

/// How a cohort fared.
#[must_use]
pub fn scorecard(id: &CohortId) -> String {
    format!("{COHORTS}/{id}/scorecard")
}

/// How the cohorts of a species fared, and its years.
#[must_use]
pub fn scorecards(id: &SpeciesId) -> String {
    format!("{SPECIES}/{id}/scorecards")
}

/// The lineage chart of an animal.
#[must_use]
pub fn lineage_of_animal(id: &AnimalId) -> String {
    format!("{ANIMALS}/{id}/lineage")
}

/// The lineage chart of a cohort.
#[must_use]
pub fn lineage_of_cohort(id: &CohortId) -> String {
    format!("{COHORTS}/{id}/lineage")
}
/// The lines of the house.
pub const LINES: &str = "/breeding/lines";
/// How closely the breeders of a species are related.
pub const KINSHIP: &str = "/breeding/kinship";

/// A line's page.
#[must_use]
pub fn line(id: &StrainId) -> String {
    format!("{LINES}/{id}")
}

/// A sac's page.
#[must_use]
pub fn sac(id: &SacId) -> String {
    format!("{BREEDING}/sacs/{id}")
}

/// A duty's sign-off form on a room's tablet.
#[must_use]
pub fn tablet_duty(id: &DutyId) -> String {
    format!("{TABLET}/duties/{id}")
}

/// A duty's sign-off form.
#[must_use]
pub fn duty(id: &DutyId) -> String {
    format!("{ROUND}/duties/{id}")
}

/// The book of a kind of prey.
#[must_use]
pub fn prey_book(id: &PreyKindId) -> String {
    format!("{PREY}/book/{id}")
}

/// The duties of a coming day.
#[must_use]
pub fn day_ahead(day: &chrono::NaiveDate) -> String {
    format!("{AHEAD}/{day}")
}

/// What an animal is usually given.
#[must_use]
pub fn animal_prey(id: &AnimalId) -> String {
    format!("{PREY}/usual/animals/{id}")
}

/// What a cohort is usually given.
#[must_use]
pub fn cohort_prey(id: &CohortId) -> String {
    format!("{PREY}/usual/cohorts/{id}")
}

/// An incident's page.
#[must_use]
pub fn incident(id: &IncidentId) -> String {
    format!("{HANDLING}/incidents/{id}")
}
/// Incidents.
pub const INCIDENTS: &str = "/handling/incidents";
/// What to do in an emergency.
pub const EMERGENCY: &str = "/handling/emergency";
/// Rehouses that are due, who could do them and when.
pub const REHOUSES: &str = "/handling/board";
/// Who may do what: one table.
pub const WHO_MAY: &str = "/handling/who-may";
/// What is ticked before a rehouse.
pub const CHECKLIST: &str = "/handling/checklist";
/// The house's text on safe work, and who has read it.
pub const SAFE_WORK: &str = "/handling/safe-work";
/// How much supervised practice a clearance takes.
pub const PRACTICE: &str = "/handling/practice";
/// What each band and exposure asks of people.
pub const RISK_TABLE: &str = "/handling/table";
/// Cautions about animals.
pub const CAUTIONS: &str = "/handling/cautions";

/// What a member is cleared for, and was.
#[must_use]
pub fn cleared(id: &MemberId) -> String {
    format!("{HANDLING}/people/{id}")
}

/// Recording a supervised rehouse of a member.
#[must_use]
pub fn assess(id: &MemberId) -> String {
    format!("{HANDLING}/people/{id}/assess")
}

/// Reserving people and a time for a rehouse.
#[must_use]
pub fn plan_rehouse(id: &DutyId) -> String {
    format!("{REHOUSES}/{id}/plan")
}

/// Cancelling a planned rehouse.
#[must_use]
pub fn cancel_rehouse_plan(id: &DutyId) -> String {
    format!("{REHOUSES}/{id}/cancel")
}

/// Recording an incident with an animal: one tap from here.
#[must_use]
pub fn incident_with_animal(id: &AnimalId) -> String {
    format!("{INCIDENTS}/new?animal={id}")
}

/// Adding a caution about an animal.
#[must_use]
pub fn new_caution(id: &AnimalId) -> String {
    format!("{CAUTIONS}/new?animal={id}")
}

/// Putting a hold on an animal.
#[must_use]
pub fn new_hold_of_animal(id: &AnimalId) -> String {
    format!("{HANDLING}/holds/new?animal={id}")
}

/// A member's page, for owners.
#[must_use]
pub fn member(id: &MemberId) -> String {
    format!("{STAFF}/{id}")
}

/// A member's usual week and absences.
#[must_use]
pub fn hours(id: &MemberId) -> String {
    format!("{STAFF}/members/{id}/hours")
}

/// The open duties of a member.
#[must_use]
pub fn duties_of(id: &MemberId) -> String {
    format!("{DUTIES}?who={id}")
}

/// The open duties of a rack.
#[must_use]
pub fn duties_in(rack: &RackId) -> String {
    format!("{DUTIES}?rack={rack}")
}

/// What became of a member's duties when they were not in.
#[must_use]
pub fn not_in(id: &MemberId) -> String {
    format!("{TODAY}/people/{id}/not-in")
}

/// Noting that a member is in today after all.
#[must_use]
pub fn in_after_all(id: &MemberId) -> String {
    format!("{TODAY}/people/{id}/in")
}

/// The first owner's set-up, by its link's secret.
#[must_use]
pub fn setup(token: &str) -> String {
    format!("/setup/{token}")
}

/// An invitation, by its link's secret.
#[must_use]
pub fn welcome(token: &str) -> String {
    format!("/welcome/{token}")
}

/// Making a browser a room's tablet, by its link's secret.
#[must_use]
pub fn tablet_link(token: &str) -> String {
    format!("{TABLET}/open/{token}")
}

/// Choosing a new pass phrase, by its link's secret.
#[must_use]
pub fn renew(token: &str) -> String {
    format!("/renew/{token}")
}

/// A local address that a form or a link asked to go back to, or the given default: never another site's.
#[must_use]
pub fn local_or<'a>(asked: &'a str, otherwise: &'a str) -> &'a str {
    let plain = asked.starts_with('/') && !asked.starts_with("//") && !asked.contains(['\\', '\t', '\n', '\r', '\0']) && asked.is_ascii();
    if plain { asked } else { otherwise }
}
