//! Pages of buyers: finding them, what they were given, their data, and erasing it.

mod data;
mod edit;
mod erase;
mod list;
mod rule;
mod show;

pub(in crate::sales) use data::{csv_of_person, inventory, json_of_person};
pub(in crate::sales) use edit::{change_buyer, create_buyer, edit_buyer, new_buyer};
pub(in crate::sales) use erase::{confirm_erasure, erase_buyer};
pub(in crate::sales) use list::list as list_of_buyers;
pub(in crate::sales) use rule::{change_rule, keep_buyer, keep_longer, show_rule};
pub(in crate::sales) use show::show as buyer;

use crate::house::forms::Check;
use crate::sales::model::NewBuyer;

/// Checks what was typed of a buyer.
pub(super) fn check_buyer(check: &mut Check, name: &str, contact: &str, address: &str) -> Option<NewBuyer> {
    let name = check.text("name", name, 120);
    let contact = check.optional_text("contact", contact, 200);
    let address = check.paragraphs("address", address, 400);
    Some(NewBuyer { name: name?, contact: contact?, address: address? })
}
