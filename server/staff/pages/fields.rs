//! Fields that several forms of this room share.

use axum::http::HeaderMap;
use axum::http::header::USER_AGENT;
use unicode_normalization::UnicodeNormalization as _;

use crate::house::app::App;
use crate::house::errors::AppError;
use crate::house::forms::Check;
use crate::house::ids::MemberId;
use crate::house::layout::Choice;
use crate::house::session::{Visit, note_device};
use crate::staff::{device, passphrase};

/// A sign-in name as it is kept and looked up: trimmed, in Unicode's normal form C.
pub(in crate::staff) fn sign_in_name(typed: &str) -> String {
    typed.trim().nfc().collect()
}

/// Checks a sign-in name that somebody wants.
pub(in crate::staff) fn check_sign_in_name(check: &mut Check, typed: &str) -> Option<String> {
    let name = sign_in_name(&check.text("sign_in_name", typed, 40)?);
    let plain = name.chars().all(|letter| letter.is_alphanumeric() || matches!(letter, '.' | '-' | '_' | '@'));
    if plain && name.chars().count() >= 2 {
        return Some(name);
    }
    check.add("sign_in_name", "Use two letters or figures at least, without spaces; . - _ and @ may stand between.");
    None
}

/// Checks a pass phrase that somebody wants, typed twice.
pub(in crate::staff) fn check_phrase(check: &mut Check, app: &App, typed: &str, again: &str, sign_in_name: &str) -> Option<String> {
    if let Some(fault) = passphrase::fault(typed, sign_in_name, &app.site().name) {
        check.add("pass_phrase", fault);
        return None;
    }
    if typed != again {
        check.add("again", "The two are not the same. Type the pass phrase again.");
        return None;
    }
    Some(typed.to_owned())
}

/// All time zones, for a list.
pub(in crate::staff) fn zones() -> Vec<Choice> {
    chrono_tz::TZ_VARIANTS.iter().map(|zone| Choice::new(zone.name(), zone.name())).collect()
}

/// Begins a sign-in of a member on this browser: a new session id, with the device noted.
pub(in crate::staff) async fn begin_session(app: &App, visit: &Visit, member: MemberId, headers: &HeaderMap) -> Result<(), AppError> {
    visit.sign_in(member).await?;
    // Saved at once, so that there is a row on which the device can be noted.
    visit.save().await?;
    let agent = headers.get(USER_AGENT).and_then(|agent| agent.to_str().ok()).unwrap_or_default();
    note_device(&mut *app.database.writer.acquire().await?, &visit.id_hash(), &device::words(agent)).await?;
    Ok(())
}
