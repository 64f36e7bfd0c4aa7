//! Members of staff, their roles, and the links that let them in.

pub mod rota;

use chrono::{DateTime, Utc};
use chrono_tz::Tz;

use crate::house::access::looks_after;
use crate::house::ids::{LinkId, MemberId};
pub use rota::OnDay;

/// The roles of a member: additive, and apart from clearance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, sqlx::FromRow)]
pub struct Roles {
    /// Owner: staff, settings, everything a lead may.
    #[sqlx(rename = "is_owner")]
    pub owner: bool,
    /// Lead: plans the day, what a keeper and the counter may.
    #[sqlx(rename = "is_lead")]
    pub lead: bool,
    /// Keeper: looks after animals.
    #[sqlx(rename = "is_keeper")]
    pub keeper: bool,
    /// Counter: hands animals over.
    #[sqlx(rename = "is_counter")]
    pub counter: bool,
}

impl Roles {
    /// Whether no role is given.
    #[must_use]
    pub fn is_empty(self) -> bool {
        self == Self::default()
    }

    /// Whether they look after animals: keeper, lead, owner.
    #[must_use]
    pub fn looks_after(self) -> bool {
        looks_after(self.owner, self.lead, self.keeper)
    }

    /// The roles in words: `owner, lead`, or `no role`.
    #[must_use]
    pub fn words(&self) -> String {
        let named: Vec<&str> = [(self.owner, "owner"), (self.lead, "lead"), (self.keeper, "keeper"), (self.counter, "counter")]
            .into_iter()
            .filter_map(|(has, name)| has.then_some(name))
            .collect();
        if named.is_empty() { "no role".to_owned() } else { named.join(", ") }
    }
}

/// A member of staff.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct MemberRow {
    /// Their id.
    pub id: MemberId,
    /// Their name, as buttons and papers show it.
    pub name: String,
    /// The name that they sign in with.
    pub sign_in_name: String,
    /// Their roles.
    #[sqlx(flatten)]
    pub roles: Roles,
    /// Whether they have chosen a PIN.
    pub has_pin: bool,
    /// Since when they may not sign in; null while they may.
    pub disabled_at: Option<DateTime<Utc>>,
    /// When they joined the book.
    pub created_at: DateTime<Utc>,
    /// When any of their standing sign-ins was last used.
    pub last_seen_at: Option<DateTime<Utc>>,
    /// For changes: the version that was read.
    pub version: i64,
}

/// A checked new member.
#[derive(Debug, Clone)]
pub struct NewMember {
    /// Their name.
    pub name: String,
    /// The name to sign in with.
    pub sign_in_name: String,
    /// The hash of their pass phrase, from `passphrase::hash`.
    pub pass_hash: String,
    /// Their roles.
    pub roles: Roles,
}

/// What sign-in needs to know of a member.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Secret {
    /// Their id.
    pub id: MemberId,
    /// The hash of their pass phrase.
    pub pass_hash: String,
    /// Whether they may sign in.
    pub enabled: bool,
}

/// A standing sign-in of a member.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct SessionRow {
    /// The hash under which it is kept.
    pub id_hash: String,
    /// The browser that signed in.
    pub device: String,
    /// When it began.
    pub created_at: DateTime<Utc>,
    /// When it was last used.
    pub last_seen_at: DateTime<Utc>,
}

/// A one-time link as its page or the list of invitations shows it.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct LinkRow {
    /// Its id.
    pub id: LinkId,
    /// Whose pass phrase it renews, for a reset.
    pub member_id: Option<MemberId>,
    /// Who is invited; empty for set-up and reset.
    pub name: String,
    /// The roles that an invitation gives.
    #[sqlx(flatten)]
    pub roles: Roles,
    /// Who made it; empty when the host's command line did.
    pub made_by: String,
    /// When it stops working.
    pub expires_at: DateTime<Utc>,
}

/// What a one-time link is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// The first owner.
    Setup,
    /// Somebody new.
    Invitation,
    /// A new pass phrase for somebody who has lost theirs.
    Reset,
}

impl Purpose {
    /// Its code in the database.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::Setup => "setup",
            Self::Invitation => "invitation",
            Self::Reset => "reset",
        }
    }

    /// How many hours such a link works.
    #[must_use]
    pub fn hours(self) -> i64 {
        match self {
            Self::Setup => 24,
            Self::Invitation => 72,
            Self::Reset => 1,
        }
    }
}

impl std::str::FromStr for Purpose {
    type Err = String;
    fn from_str(code: &str) -> Result<Self, String> {
        [Self::Setup, Self::Invitation, Self::Reset]
            .into_iter()
            .find(|purpose| purpose.code() == code)
            .ok_or_else(|| format!("“{code}” is no purpose of a link"))
    }
}

crate::text_columns!(Purpose);

/// Checked settings of the house.
#[derive(Debug, Clone)]
pub struct Settings {
    /// The house's name.
    pub name: String,
    /// The address that papers carry.
    pub address: String,
    /// The zone in which days begin and end.
    pub zone: Tz,
    /// The house's own emergency numbers, one a line.
    pub emergency: String,
    /// How many hours a threat display holds opening.
    pub agitated_open_hours: i64,
    /// How many days a threat display holds rehousing.
    pub agitated_hands_in_days: i64,
}
