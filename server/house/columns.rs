//! How the trade's coded words are kept in text columns, so that rows decode straight into types.

/// Lets `sqlx` read and write types that have `code()` and `FromStr`.
#[macro_export]
macro_rules! text_columns {
    ($($name:ty),+ $(,)?) => {$(
        impl sqlx::Type<sqlx::Sqlite> for $name {
            fn type_info() -> sqlx::sqlite::SqliteTypeInfo {
                <str as sqlx::Type<sqlx::Sqlite>>::type_info()
            }
        }

        impl<'q> sqlx::Encode<'q, sqlx::Sqlite> for $name {
            fn encode_by_ref(&self, buffer: &mut sqlx::sqlite::SqliteArgumentsBuffer) -> Result<sqlx::encode::IsNull, sqlx::error::BoxDynError> {
                <String as sqlx::Encode<'q, sqlx::Sqlite>>::encode(self.code().to_string(), buffer)
            }
        }

        impl<'r> sqlx::Decode<'r, sqlx::Sqlite> for $name {
            fn decode(value: sqlx::sqlite::SqliteValueRef<'r>) -> Result<Self, sqlx::error::BoxDynError> {
                let code = <&str as sqlx::Decode<'r, sqlx::Sqlite>>::decode(value)?;
                Ok(code.parse()?)
            }
        }
    )+};
}

use crate::reckoning::breeding::{Insertion, IntroductionEnd, SacGroup};
use crate::reckoning::condition::Condition;
use crate::reckoning::language::Language;
use crate::reckoning::ledger::{Bucket, LineKind};
use crate::reckoning::planner::ApartKind;
use crate::reckoning::provenance::SourceCode;
use crate::reckoning::stage::Stage;
use crate::reckoning::words;

text_columns! {
    words::LifeStage, words::Exposure, words::DutyKind, words::LossCause, words::MealOutcome, words::MoultState, words::World,
    words::Habit, words::Moisture, words::Setae, words::Venom, words::Pace, words::Sex, words::SexBasis, words::HoldKind,
    words::SpanKind, words::SpanMethod, Bucket, LineKind, SourceCode, Stage, Condition, ApartKind, Insertion, IntroductionEnd, SacGroup, Language,
}
