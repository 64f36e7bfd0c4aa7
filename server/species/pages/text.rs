//! Care-sheet texts: which there are, writing them with a preview, and reviewing them.

mod edit;
mod overview;
mod preview;
mod review;
mod species;

pub(in crate::species) use edit::{edit, save};
pub(in crate::species) use overview::{overview, set_language};
pub(in crate::species) use preview::{preview, sheet_of_revision, sheet_preview};
pub(in crate::species) use review::{discard, give_back, review, revision};
pub(in crate::species) use species::of_species;

use serde::Deserialize;

use crate::house::forms::{Check, Mistakes};
use crate::reckoning::difference::{Run, runs};
use crate::species::model::drawn::trouble;
use crate::species::model::text::{CareText, Sections, TextFigures, TextSection};
use crate::species::store::texts::Seen;

/// Most characters of a section.
const SECTION_LENGTH: usize = 3000;

/// A text as typed, with what was on the screen when it was.
#[derive(Debug, Default, Clone, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::species) struct TextForm {
    /// The draft's id; empty when there was none.
    draft: String,
    /// The draft's version.
    version: String,
    /// The newest number, when there was no draft.
    newest: String,
    /// Which button was pressed: `save` or `send`.
    deed: String,
    about: String,
    housing: String,
    climate: String,
    feeding: String,
    moulting: String,
    safety: String,
    help: String,
    house: String,
}

impl TextForm {
    fn of(seen: Seen, sections: Sections) -> Self {
        let Sections { about, housing, climate, feeding, moulting, safety, help, house } = sections;
        Self { about, housing, climate, feeding, moulting, safety, help, house, ..Self::default() }.when_seen(seen)
    }

    /// The same words, over what stands now.
    fn when_seen(self, seen: Seen) -> Self {
        let (draft, version, newest) = match seen {
            Seen::Draft(id, version) => (id.to_string(), version.to_string(), String::new()),
            Seen::Newest(number) => (String::new(), String::new(), number.to_string()),
        };
        Self { draft, version, newest, ..self }
    }

    fn seen(&self) -> Option<Seen> {
        if self.draft.is_empty() {
            return self.newest.trim().parse().ok().map(Seen::Newest);
        }
        Some(Seen::Draft(self.draft.parse().ok()?, self.version.trim().parse().ok()?))
    }

    /// The words as typed.
    fn sections(&self) -> Sections {
        let typed = self.clone();
        Sections {
            about: typed.about,
            housing: typed.housing,
            climate: typed.climate,
            feeding: typed.feeding,
            moulting: typed.moulting,
            safety: typed.safety,
            help: typed.help,
            house: typed.house,
        }
    }

    /// The words, checked; to be sent, no section may be missing but the house's own.
    fn check(&self, figures: &TextFigures, whole: bool) -> Result<Sections, Mistakes> {
        let mut check = Check::new();
        let mut sections = self.sections();
        for section in TextSection::ALL {
            let words = sections.of_mut(*section);
            let Some(sound) = check.paragraphs(section.code(), words, SECTION_LENGTH) else { continue };
            if whole && sound.is_empty() && !section.optional() {
                check.add(section.code(), format!("“{section}” is empty. A text is sent for review with every section filled in."));
            }
            if let Some(trouble) = trouble(&sound, figures) {
                check.add(section.code(), trouble);
            }
            *words = sound;
        }
        if check.ok() { Ok(sections) } else { Err(check.mistakes()) }
    }
}

/// What a section became against another text.
struct SectionDifference {
    section: TextSection,
    runs: Vec<Run>,
}

/// The sections that differ, with what was taken out and added.
fn differences(before: &Sections, after: &Sections) -> Vec<SectionDifference> {
    let differing = TextSection::ALL.iter().filter(|section| before.of(**section) != after.of(**section));
    differing.map(|section| SectionDifference { section: *section, runs: runs(before.of(*section), after.of(*section)) }).collect()
}

/// Who wrote a revision and when, in words.
fn written_by(text: &CareText) -> String {
    let who = text.author.as_deref().unwrap_or("the program (starter text)");
    format!("{who}, {}", crate::house::text::day(&text.written_on))
}
