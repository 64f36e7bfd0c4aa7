//! Sharing a day out.

use crate::house::ids::MemberId;
use crate::reckoning::rota::Rota;
use crate::rounds::model::Duty;

/// Somebody on a day: what they are cleared for, whether they are in, and for how long.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AtWork {
    /// Who.
    pub member: MemberId,
    /// Their name.
    pub name: String,
    /// What they are cleared for today, 0 to 3.
    pub level: i64,
    /// Whether they are in.
    pub present: bool,
    /// Minutes that they have for duties.
    pub minutes: u32,
}

/// What sharing out would give.
#[derive(Debug, Clone)]
pub struct SharePlan {
    /// Who would do what, with the loads and what nobody can do.
    pub rota: Rota,
    /// The duties that were shared out.
    pub duties: Vec<Duty>,
}

impl SharePlan {
    /// The duty of an id in the rota.
    #[must_use]
    pub fn duty(&self, id: &str) -> Option<&Duty> {
        self.duties.iter().find(|duty| duty.id.to_string() == id)
    }
}
