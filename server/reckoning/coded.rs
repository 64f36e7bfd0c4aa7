//! Words that are kept as codes: one macro, so that every list of choices reads, prints and parses alike.

/// A code that is not in its list.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("“{given}” is not a known {what}")]
pub struct UnknownCode {
    /// What the list is of, in words: "loss cause".
    pub what: &'static str,
    /// What was given.
    pub given: String,
}

/// Defines an enum whose variants have a code (kept in the database, forms and JSON) and a label (shown to people).
///
/// Gives `ALL`, `code()`, `label()`, `Display` (the label), `FromStr` (from the code), and serde by code.
#[macro_export]
macro_rules! coded_enum {
    ($(#[$meta:meta])* $name:ident, $what:literal { $($variant:ident = $code:literal, $label:literal;)+ }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name { $(#[doc = $label] $variant,)+ }

        impl $name {
            /// Every value, in the order of the list.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)+];

            /// The code that is kept in the database, in forms and in JSON.
            pub fn code(self) -> &'static str {
                match self { $(Self::$variant => $code,)+ }
            }

            /// The words that people read.
            pub fn label(self) -> &'static str {
                match self { $(Self::$variant => $label,)+ }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.label())
            }
        }

        impl std::str::FromStr for $name {
            type Err = $crate::reckoning::coded::UnknownCode;
            fn from_str(given: &str) -> Result<Self, Self::Err> {
                match given {
                    $($code => Ok(Self::$variant),)+
                    _ => Err($crate::reckoning::coded::UnknownCode { what: $what, given: given.to_owned() }),
                }
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.code())
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let given = <std::borrow::Cow<'de, str> as serde::Deserialize>::deserialize(deserializer)?;
                given.parse().map_err(serde::de::Error::custom)
            }
        }
    };
}
