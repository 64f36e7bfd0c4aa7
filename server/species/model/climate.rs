//! A rack's climate: what it needs and how it stands.

use crate::reckoning::climate::band::NeededBand;
use crate::reckoning::climate::watch::{OutOfRange, Standing};
use crate::rooms::model::{Rack, Reading};

/// A rack with its climate.
#[derive(Debug, Clone)]
pub struct RackClimate {
    /// The rack.
    pub rack: Rack,
    /// What the species in it need together; nothing while it is empty.
    pub needed: Option<NeededBand>,
    /// What was read, the oldest first.
    pub readings: Vec<Reading>,
    /// How it stands after the last reading; nothing while it is empty.
    pub state: Option<OutOfRange>,
}

impl RackClimate {
    /// Why what stands in it can't share a rack by the care profiles, in sentences; empty when it can.
    #[must_use]
    pub fn clashes(&self) -> Vec<String> {
        self.needed.iter().flat_map(|needed| needed.clashes()).map(ToOwned::to_owned).collect()
    }

    /// What is wrong with its climate now, in sentences; empty when nothing is.
    #[must_use]
    pub fn troubles(&self) -> Vec<String> {
        let out = self.state.iter().flat_map(|state| [&state.celsius, &state.humidity]);
        out.filter(|state| matches!(state.standing, Standing::TooLow | Standing::TooHigh)).map(|state| state.told.clone()).collect()
    }
}
