//! Who signs at a tablet: one of those who look after animals and have a PIN, by their first name and that PIN.

use chrono::NaiveDate;
use sqlx::SqliteConnection;

use crate::house::app::App;
use crate::house::errors::AppError;
use crate::house::forms::{Check, Fields, take_field};
use crate::house::ids::MemberId;
use crate::house::tablet::Device;
use crate::staff;
use crate::staff::passphrase;

/// Somebody who can sign here.
pub(super) struct Signer {
    pub(super) id: MemberId,
    /// Their first name; with the initial of the next one where two share it.
    pub(super) name: String,
    full_name: String,
}

/// Everybody who can.
pub(super) struct Signers(Vec<Signer>);

impl Signers {
    /// Those who are in today come first; somebody who came in all the same finds their name behind them.
    pub(super) async fn read(db: &mut SqliteConnection, today: NaiveDate) -> Result<Self, AppError> {
        let team = staff::store::active(&mut *db).await?;
        let in_today = staff::store::rota::on_day(db, today).await?;
        let is_in = |id: MemberId| in_today.iter().any(|one| one.member == id && one.present);
        let mut able: Vec<_> = team.iter().filter(|one| one.has_pin && one.roles.looks_after()).collect();
        able.sort_by_key(|one| !is_in(one.id));
        let first = |name: &str| name.split_whitespace().next().unwrap_or_default().to_owned();
        let called = |name: &str| {
            let shared = team.iter().filter(|other| first(&other.name) == first(name)).count() > 1;
            let initial = name.split_whitespace().nth(1).and_then(|next| next.chars().next()).filter(|_| shared);
            initial.map_or_else(|| first(name), |initial| format!("{} {initial}.", first(name)))
        };
        Ok(Self(able.into_iter().map(|one| Signer { id: one.id, name: called(&one.name), full_name: one.name.clone() }).collect()))
    }

    pub(super) fn all(&self) -> &[Signer] {
        &self.0
    }

    pub(super) fn find(&self, id: MemberId) -> Option<&Signer> {
        self.0.iter().find(|signer| signer.id == id)
    }

    /// What a tablet calls somebody.
    pub(super) fn called(&self, id: &MemberId, full_name: &str) -> String {
        let first = || full_name.split_whitespace().next().unwrap_or_default().to_owned();
        self.find(*id).map_or_else(first, |signer| signer.name.clone())
    }

    /// A sentence with first names in the place of whole ones: everybody in the room can read a tablet.
    pub(super) fn short(&self, sentence: &str) -> String {
        self.0.iter().fold(sentence.to_owned(), |text, signer| text.replace(&signer.full_name, &signer.name))
    }
}

/// What was typed of who signs. PINs are never shown again.
#[derive(Default)]
pub(super) struct Typed {
    pub(super) signer: String,
    pin: String,
    second_pin: String,
}

impl Typed {
    /// Takes it out of a form, whose other fields are those of the work.
    pub(super) fn take(fields: &mut Fields) -> Self {
        Self { signer: take_field(fields, "signer"), pin: take_field(fields, "pin"), second_pin: take_field(fields, "second_pin") }
    }

    /// Who was chosen. Notes what is missing beside the form's other mistakes; the PIN is held against the book only after.
    pub(super) fn check(&self, check: &mut Check, signers: &Signers) -> Option<MemberId> {
        let signer = self.signer.parse::<MemberId>().ok().filter(|id| signers.find(*id).is_some());
        if signer.is_none() {
            check.add("signer", "Choose who signs.");
        }
        if self.pin.trim().is_empty() {
            check.add("pin", "Enter your PIN.");
        }
        signer
    }

    /// Holds both PINs against the book.
    pub(super) async fn verify(&self, app: &App, device: &Device, signer: MemberId, second: Option<MemberId>) -> Result<(), AppError> {
        verify(app, device, signer, &self.pin, "pin").await?;
        match second {
            Some(second) if second != signer => verify(app, device, second, &self.second_pin, "second_pin").await,
            // The store says what is wrong with a second person who is the first.
            _ => Ok(()),
        }
    }
}

/// Holds one PIN against the book.
pub(super) async fn verify(app: &App, device: &Device, member: MemberId, pin: &str, field: &'static str) -> Result<(), AppError> {
    if passphrase::verify_pin_at(app, device.id, member, pin).await? {
        return Ok(());
    }
    Err(AppError::refused(field, "This is not that person's PIN. Nothing was written; what you entered stays."))
}
