//! Every address of the house, in one place: templates and handlers take them from here.

use super::ids::{
    AnimalId, BuyerId, CareTextId, CohortId, DutyId, HandoverId, IncidentId, MemberId, OrderId, OutingId, PairingId, PaperId, PreyKindId,
    PriceListId, ProfileId, RackId, RecallId, SacId, SpeciesId, StrainId,
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
/// Handovers and buyers.
pub const SALES: &str = "/handovers";
/// Orders.
pub const ORDERS: &str = "/orders";
/// Stock, and what of it may leave today.
pub const STOCK: &str = "/stock";
/// What is reserved, and for whom.
pub const RESERVATIONS: &str = "/reservations";
/// Price lists.
pub const PRICES: &str = "/prices";
/// Currency, tax and what receipts say of the seller.
pub const TERMS: &str = "/prices/terms";
/// Outings: days on which stock is taken along to sell.
pub const OUTINGS: &str = "/outings";
/// Where an animal or cohort comes from, through all generations.
pub const PROVENANCE: &str = "/papers/provenance";
/// Papers on file.
pub const DOCUMENTS: &str = "/papers/documents";
/// Leads' statements on breeding stock.
pub const STOCK_STATEMENTS: &str = "/papers/stock-statements";
/// What the house sets for its papers.
pub const PAPER_SETTINGS: &str = "/papers/settings";
/// Sheets of labels.
pub const LABEL_SHEETS: &str = "/papers/label-sheets";
/// Whether a paper is as it was issued.
pub const VERIFY: &str = "/verify";
/// What is sent, and how it arrived.
pub const DISPATCH: &str = "/dispatch";
/// The house's rules for outings, dispatch and what comes back.
pub const ROAD_RULES: &str = "/dispatch/rules";
/// Buyers.
pub const BUYERS: &str = "/buyers";
/// What is kept of buyers, why and how long.
pub const BUYERS_DATA: &str = "/buyers/data";
/// After how long a buyer is erased by itself.
pub const BUYERS_RULE: &str = "/buyers/rule";
/// Recalls.
pub const RECALLS: &str = "/recall";
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

/// Recording an incident during a duty: one tap from here.
#[must_use]
pub fn incident_at_duty(id: &DutyId) -> String {
    format!("{INCIDENTS}/new?duty={id}")
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

/// Putting a hold on a cohort.
#[must_use]
pub fn new_hold_of_cohort(id: &CohortId) -> String {
    format!("{HANDLING}/holds/new?cohort={id}")
}

/// A handover's page.
#[must_use]
pub fn handover(id: &HandoverId) -> String {
    format!("{SALES}/{id}")
}

/// A buyer's page.
#[must_use]
pub fn buyer(id: &BuyerId) -> String {
    format!("/buyers/{id}")
}

/// A recall's page.
#[must_use]
pub fn recall(id: &RecallId) -> String {
    format!("{RECALLS}/{id}")
}

/// Beginning a recall from an animal.
#[must_use]
pub fn recall_of_animal(id: &AnimalId) -> String {
    format!("{RECALLS}/new?animal={id}")
}

/// Beginning a recall from a cohort.
#[must_use]
pub fn recall_of_cohort(id: &CohortId) -> String {
    format!("{RECALLS}/new?cohort={id}")
}

/// An issued paper, for staff.
#[must_use]
pub fn paper(id: &PaperId) -> String {
    format!("/papers/{id}")
}

/// An issued paper that names no buyer, for everybody of the house.
#[must_use]
pub fn house_paper(id: &PaperId) -> String {
    format!("/papers/of-house/{id}")
}

/// Printing labels for the vials of a cohort.
#[must_use]
pub fn vial_labels(id: &CohortId) -> String {
    format!("/papers/vial-labels/{id}")
}

/// Issuing the card of an animal's enclosure.
#[must_use]
pub fn rehouse_card(id: &AnimalId) -> String {
    format!("/papers/rehouse-cards/{id}")
}

/// Issuing the report of an incident.
#[must_use]
pub fn incident_report(id: &IncidentId) -> String {
    format!("/papers/incident-reports/{id}")
}

/// Issuing the label of a handover's box.
#[must_use]
pub fn box_label(id: &HandoverId) -> String {
    format!("/papers/box-labels/{id}")
}

/// The style sheet that sets a page's size, in tenths of a millimetre: `2100x2970`.
#[must_use]
pub fn label_page(size: &str) -> String {
    format!("/papers/pages/{size}")
}

/// A buyer's sheet, by its link's secret.
#[must_use]
pub fn sheet(token: &str) -> String {
    format!("/sheet/{token}")
}

/// Whether a paper is as it was issued: what the code on it opens.
#[must_use]
pub fn verify(number: &str, fingerprint: &str) -> String {
    format!("{VERIFY}/{number}/{fingerprint}")
}

/// An order's page.
#[must_use]
pub fn order(id: &OrderId) -> String {
    format!("{ORDERS}/{id}")
}

/// The check of what is packed for a handover.
#[must_use]
pub fn pack(id: &HandoverId) -> String {
    format!("{SALES}/{id}/pack")
}

/// A price list.
#[must_use]
pub fn price_list(id: &PriceListId) -> String {
    format!("{PRICES}/{id}")
}

/// Reserving an animal or a number out of a cohort: `a12`, `c3-i2`.
#[must_use]
pub fn reserve(item: &str) -> String {
    format!("{RESERVATIONS}/new?item={item}")
}

/// An outing's page.
#[must_use]
pub fn outing(id: &OutingId) -> String {
    format!("{OUTINGS}/{id}")
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
