//! Addresses of what leaves the house: stock, orders, handovers, buyers, papers.

use crate::house::ids::{AnimalId, BuyerId, CohortId, HandoverId, IncidentId, OrderId, OutingId, PaperId, PriceListId, RecallId};

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
