//! What the instruments of the made-up house show, one for each rack. One rack stands by a door and has been too dry for
//! three weeks.

use rand::RngExt as _;

use super::{Building, DAYS, chance, instant};
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::rooms::model::{NewReading, Rack};
use crate::rooms::store;

/// The rack that is too dry, and for how many days before the last.
pub(super) const DRY_RACK: &str = "Hazel";
/// See [`DRY_RACK`].
pub(super) const DRY_FOR: u64 = 21;

/// The heating of this room failed for two nights, so many days after the first.
const COLD: (&str, std::ops::RangeInclusive<u64>) = ("Quiet room", 500..=501);

/// Notes what every rack's instrument shows.
pub(super) async fn read(building: &mut Building, hour: u32) -> Result<(), AppError> {
    let at = instant(building.day, hour);
    let since = u64::try_from((building.day - building.first).num_days()).unwrap_or(0);
    let mut write = building.app.write(Some(building.named("tamsin"))).await?;
    for rack in store::racks(write.db()).await? {
        let (celsius, humidity) = air(building, &rack, since, hour);
        // Both are small numbers by construction.
        let (decicelsius, humidity) = (Some((celsius * 10.0).round() as i64), Some(humidity.round().clamp(20.0, 98.0) as i64));
        let new = NewReading { rack: Some(rack.id), at, day: building.day, decicelsius, humidity };
        store::climate::insert_reading(&mut write, rack.room_id, &new).await?;
    }
    write.commit(Change::new("readings.noted", "house", format!("{hour} o'clock")), "/rooms").await
}

/// Temperature (°C) and humidity (%) of a rack: its own mean, the season, the hour, and chance.
fn air(building: &mut Building, rack: &Rack, since: u64, hour: u32) -> (f64, f64) {
    let (warm, moist) = match rack.name.as_str() {
        "Birch" | "Fir" => (24.2, 57.0),
        "Cedar" | "Incubator" => (24.4, 77.0),
        DRY_RACK => (24.6, 58.0),
        _ => (24.4, 62.0),
    };
    let season = 0.4 * (since as f64 / 365.25 * std::f64::consts::TAU).sin();
    let afternoon = if hour > 12 { 0.6 } else { 0.0 };
    let cold = if rack.room_name == COLD.0 && COLD.1.contains(&since) { 5.5 } else { 0.0 };
    let dry = if rack.name == DRY_RACK && since + DRY_FOR >= DAYS { building.rng.random_range(14.0..20.0) } else { 0.0 };
    let celsius = warm + season + afternoon - cold + 0.2 * chance::normal(&mut building.rng);
    (celsius, moist - dry + 1.2 * chance::normal(&mut building.rng))
}
