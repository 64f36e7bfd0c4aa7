//! Tests of the staff room.

mod account;
mod hours;
mod kept;
mod links;
mod members;
mod passphrase;
mod rota;
mod sign_in;

use silkward::house::ids::MemberId;
use silkward::staff::passphrase as phrases;

use crate::support::TestHouse;

/// A pass phrase that may be chosen.
const GOOD: &str = "violet kettle ninth harbour";
/// Another one.
const OTHER: &str = "seven lanterns under marble";

/// Gives a member the pass phrase [`GOOD`].
async fn give_phrase(house: &TestHouse, id: MemberId) {
    let hash = phrases::hash(&house.app, GOOD).await.unwrap();
    sqlx::query("UPDATE member SET pass_hash = ? WHERE id = ?").bind(hash).bind(id).execute(&house.app.database.writer).await.unwrap();
}
