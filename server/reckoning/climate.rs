//! The climate of a room or rack: what the air holds, how much warmth a day gave, what the species that stand in it need
//! together, and since when it has been out of that.

pub mod band;
pub mod degree_days;
pub mod psychrometrics;
pub mod watch;

/// A number as people read it: at most two decimals, and none that are nought at the end.
fn short(value: f64) -> String {
    let rounded = format!("{value:.2}");
    let trimmed = rounded.trim_end_matches('0').trim_end_matches('.');
    if trimmed == "-0" { "0".to_owned() } else { trimmed.to_owned() }
}
