//! Members of staff, their roles, and the links that let them in.

use chrono::{DateTime, Utc};

use crate::house::ids::{LinkId, MemberId};

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
