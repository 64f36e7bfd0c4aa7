//! Supervised practice, what a clearance takes, and the text on safe work.

use chrono::{DateTime, NaiveDate, Utc};

use crate::house::ids::{AssessmentId, MemberId, SignoffId};
use crate::reckoning::who_may::{Practice, still_missing};

coded_enum! {
    /// How a supervised rehouse went.
    AssessmentOutcome, "outcome" {
        Passed = "passed", "passed";
        MorePractice = "more-practice", "needs more practice";
        Stopped = "stopped", "stopped by the assessor";
    }
}

crate::text_columns! { AssessmentOutcome }

/// A supervised rehouse.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Assessment {
    /// Its id.
    pub id: AssessmentId,
    /// Who was assessed.
    pub member_id: MemberId,
    /// Their name.
    pub member_name: String,
    /// Who assessed.
    pub assessor_name: String,
    /// The band of the animal, 1 to 3.
    pub band: i64,
    /// How it went.
    pub outcome: AssessmentOutcome,
    /// The local day.
    pub day: NaiveDate,
    /// What was seen.
    pub note: String,
    /// The tag of the animal, when the book has the rehouse.
    pub tag: Option<String>,
    /// Why it was struck out; none while it stands.
    pub struck_because: Option<String>,
    /// By whom.
    pub struck_by_name: Option<String>,
}

/// A checked assessment.
#[derive(Debug, Clone)]
pub struct NewAssessment {
    /// Who was assessed.
    pub member: MemberId,
    /// Who assessed.
    pub assessor: MemberId,
    /// The band of the animal, 1 to 3.
    pub band: i64,
    /// How it went.
    pub outcome: AssessmentOutcome,
    /// The local day.
    pub day: NaiveDate,
    /// What was seen.
    pub note: String,
    /// The rehouse that was supervised, when the book has it.
    pub signoff: Option<SignoffId>,
}

/// How many supervised rehouses a level takes.
#[derive(Debug, Clone, Copy, sqlx::FromRow)]
pub struct PracticeRule {
    /// The level, 1 to 3.
    pub level: i64,
    /// The fewest that a house may ask for.
    pub least: i64,
    /// What this house asks for.
    pub passes: i64,
}

/// How far somebody is on the way to a level.
#[derive(Debug, Clone, Copy)]
pub struct Towards {
    /// The level, 1 to 3.
    pub level: u8,
    /// What they have done.
    pub practice: Practice,
}

impl Towards {
    /// What is still missing, in words; empty when it can be granted.
    #[must_use]
    pub fn missing(&self) -> Vec<String> {
        still_missing(self.level, &self.practice)
    }

    /// The same as a sentence.
    #[must_use]
    pub fn words(&self) -> String {
        let missing = self.missing();
        if missing.is_empty() {
            return format!("Clearance {}: nothing is missing; an assessor who holds it can grant it.", self.level);
        }
        format!("Clearance {}: still missing {}.", self.level, missing.join(", and "))
    }
}

/// A version of the text on safe work.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct SafeWorkText {
    /// Its number.
    pub version: i64,
    /// The text; each line is a paragraph.
    pub text: String,
    /// Who wrote it; nobody for what came with the program.
    pub member_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}

/// What somebody has read of the text on safe work.
#[derive(Debug, Clone, sqlx::FromRow)]
pub struct Reader {
    /// Who.
    pub id: MemberId,
    /// Their name.
    pub name: String,
    /// The latest version that they have confirmed.
    pub version: Option<i64>,
    /// When.
    pub at: Option<DateTime<Utc>>,
}
