//! Languages by their tag, what they call themselves, and which other one may stand in for one.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::coded::UnknownCode;

/// What languages call themselves, by primary subtag: those that a choice offers, in alphabetical order of the tag.
const NAMES: [(&str, &str); 25] = [
    ("ar", "العربية"),
    ("cs", "Čeština"),
    ("da", "Dansk"),
    ("de", "Deutsch"),
    ("en", "English"),
    ("es", "Español"),
    ("fi", "Suomi"),
    ("fr", "Français"),
    ("he", "עברית"),
    ("hu", "Magyar"),
    ("it", "Italiano"),
    ("ja", "日本語"),
    ("ko", "한국어"),
    ("nb", "Norsk bokmål"),
    ("nl", "Nederlands"),
    ("pl", "Polski"),
    ("pt", "Português"),
    ("ro", "Română"),
    ("ru", "Русский"),
    ("sk", "Slovenčina"),
    ("sv", "Svenska"),
    ("th", "ไทย"),
    ("tr", "Türkçe"),
    ("uk", "Українська"),
    ("zh", "中文"),
];

/// A language tag of RFC 5646 with a language and, where needed, a script and a region: `de`, `zh-Hant`, `es-419`.
/// Kept in the case that the RFC recommends.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct Language(String);

impl Language {
    /// English, which the program itself speaks.
    pub fn english() -> Self {
        Self("en".to_owned())
    }

    /// The tag.
    pub fn code(&self) -> &str {
        &self.0
    }

    /// The language alone, without script and region: `zh` of `zh-Hant`.
    pub fn primary(&self) -> &str {
        self.0.split('-').next().unwrap_or_default()
    }

    /// What the language calls itself: `Deutsch`, `Deutsch (AT)`; the tag where that is not known here.
    pub fn name(&self) -> String {
        let Some((_, name)) = NAMES.iter().find(|(tag, _)| *tag == self.primary()) else { return self.0.clone() };
        match self.0.split_once('-') {
            Some((_, rest)) => format!("{name} ({rest})"),
            None => (*name).to_owned(),
        }
    }

    /// Whether it is written from right to left.
    pub fn right_to_left(&self) -> bool {
        let script = self.0.split('-').nth(1).filter(|part| part.len() == 4);
        match script {
            Some(script) => matches!(script, "Arab" | "Hebr" | "Syrc" | "Thaa"),
            None => matches!(self.primary(), "ar" | "fa" | "he" | "ur" | "yi" | "ps" | "sd" | "dv" | "ckb"),
        }
    }

    /// The value of a `dir` attribute for text in it.
    pub fn direction(&self) -> &'static str {
        if self.right_to_left() { "rtl" } else { "ltr" }
    }

    /// Whether decimals are written after a point; elsewhere a comma stands there.
    pub fn decimal_point(&self) -> bool {
        matches!(self.primary(), "en" | "he" | "ja" | "ko" | "th" | "zh")
    }

    /// The tag, and those that may stand in for it by leaving off its end: the lookup of RFC 4647, section 3.4.
    pub fn lookup(&self) -> Vec<Self> {
        let mut range = self.0.as_str();
        let mut found = vec![self.clone()];
        while let Some((shorter, _)) = range.rsplit_once('-') {
            found.push(Self(shorter.to_owned()));
            range = shorter;
        }
        found
    }

    /// The languages that a choice offers, with what they call themselves.
    pub fn offered() -> impl Iterator<Item = Self> {
        NAMES.iter().map(|(tag, _)| Self((*tag).to_owned()))
    }
}

impl fmt::Display for Language {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl FromStr for Language {
    type Err = UnknownCode;

    /// Reads a tag in any case: a language of two or three letters, then at most a script of four letters and a region of
    /// two letters or three digits.
    fn from_str(given: &str) -> Result<Self, Self::Err> {
        let unknown = || UnknownCode { what: "language tag", given: given.to_owned() };
        let letters = |part: &str| part.bytes().all(|byte| byte.is_ascii_alphabetic());
        let mut parts = given.trim().split('-').peekable();
        let language = parts.next().filter(|part| matches!(part.len(), 2 | 3) && letters(part)).ok_or_else(unknown)?;
        let mut tag = language.to_ascii_lowercase();
        if let Some(script) = parts.next_if(|part| part.len() == 4 && letters(part)) {
            let (first, rest) = script.split_at(1);
            tag = format!("{tag}-{}{}", first.to_ascii_uppercase(), rest.to_ascii_lowercase());
        }
        let region =
            |part: &&str| (part.len() == 2 && letters(part)) || (part.len() == 3 && part.bytes().all(|byte| byte.is_ascii_digit()));
        if let Some(region) = parts.next_if(region) {
            tag = format!("{tag}-{}", region.to_ascii_uppercase());
        }
        if parts.next().is_some() { Err(unknown()) } else { Ok(Self(tag)) }
    }
}

impl TryFrom<String> for Language {
    type Error = UnknownCode;
    fn try_from(given: String) -> Result<Self, Self::Error> {
        given.parse()
    }
}

impl From<Language> for String {
    fn from(language: Language) -> Self {
        language.0
    }
}
