//! Sacs and pairings: when to pull a sac, what to expect of it when, and whose young they are.
//! Day ranges are common practice at 25-28 °C, no source; a house changes them per species.

pub mod check;
pub mod counts;
pub mod forecast;
pub mod incubation;

use std::collections::HashSet;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::calendar::{days_after, written};
use super::stage::Stage;

/// When a sac is meant to be taken from the dam, in days after laying.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PullWindow {
    /// The first day.
    pub from_day: u32,
    /// The last day.
    pub to_day: u32,
}

impl Default for PullWindow {
    fn default() -> Self {
        Self { from_day: 28, to_day: 35 }
    }
}

impl PullWindow {
    /// The first and last day of the window of a sac.
    pub fn days(self, laid_on: NaiveDate) -> (NaiveDate, NaiveDate) {
        (days_after(laid_on, self.from_day), days_after(laid_on, self.to_day))
    }
}

coded_enum! {
    /// Groups of species whose sacs run alike.
    SacGroup, "breeding group" {
        NewWorldSlow = "nw-slow", "New World, slow terrestrial";
        NewWorldGiant = "nw-giant", "New World, fast giant terrestrial";
        Goliath = "nw-goliath", "New World, goliath";
        NewWorldArboreal = "nw-arboreal", "New World, arboreal";
        Dwarf = "nw-dwarf", "New World, dwarf";
        Desert = "nw-desert", "New World, desert burrower";
        OldWorldArboreal = "ow-arboreal", "Old World, arboreal";
        African = "ow-african", "Old World, African terrestrial or burrower";
        Asian = "ow-asian", "Old World, Asian burrower";
    }
}

/// Days after laying (first, last) at which each stage is usual.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct StageDays {
    /// Post-embryos.
    pub post_embryo: (u32, u32),
    /// First instar.
    pub first_instar: (u32, u32),
    /// Second instar: separated, and first on sale.
    pub second_instar: (u32, u32),
}

impl SacGroup {
    /// The usual days of each stage.
    pub fn stage_days(self) -> StageDays {
        let (post_embryo, first_instar, second_instar) = match self {
            Self::NewWorldSlow => ((25, 40), (45, 60), (60, 100)),
            Self::NewWorldGiant => ((25, 35), (40, 55), (55, 80)),
            Self::Goliath => ((30, 40), (50, 65), (70, 100)),
            Self::NewWorldArboreal | Self::OldWorldArboreal => ((20, 30), (35, 50), (50, 75)),
            Self::Dwarf => ((18, 28), (30, 42), (42, 60)),
            Self::Desert => ((30, 45), (50, 70), (70, 110)),
            Self::African => ((18, 28), (30, 45), (45, 65)),
            Self::Asian => ((22, 32), (38, 52), (55, 80)),
        };
        StageDays { post_embryo, first_instar, second_instar }
    }

    /// The group of a genus that the house's library knows; none for another, of which somebody must say it.
    pub fn of_genus(genus: &str) -> Option<Self> {
        Some(match genus {
            "Brachypelma" | "Tliltocatl" | "Grammostola" => Self::NewWorldSlow,
            "Acanthoscurria" | "Lasiodora" => Self::NewWorldGiant,
            "Theraphosa" => Self::Goliath,
            // The last two live otherwise, and have no group of their own: this is the nearest.
            "Avicularia" | "Caribena" | "Psalmopoeus" | "Chromatopelma" | "Ephebopus" => Self::NewWorldArboreal,
            "Cyriocosmus" | "Dolichothele" => Self::Dwarf,
            "Aphonopelma" => Self::Desert,
            "Poecilotheria" | "Heteroscodra" | "Stromatopelma" => Self::OldWorldArboreal,
            "Pterinochilus" | "Monocentropus" | "Hysterocrates" => Self::African,
            "Cyriopagopus" | "Chilobrachys" => Self::Asian,
            _ => return None,
        })
    }

    /// The usual days from pairing to sac, months counted as 30 days.
    pub fn days_to_sac(self) -> (u32, u32) {
        match self {
            Self::NewWorldSlow => (90, 270),
            Self::NewWorldGiant | Self::Asian => (60, 180),
            Self::Goliath => (90, 240),
            Self::NewWorldArboreal => (60, 150),
            Self::Dwarf => (30, 120),
            Self::Desert => (180, 360),
            Self::OldWorldArboreal => (60, 210),
            Self::African => (45, 150),
        }
    }

    /// The usual pull window: earlier for fast Old World species and dwarfs, later for slow New World ones.
    pub fn pull_window(self) -> PullWindow {
        match self {
            Self::Dwarf | Self::OldWorldArboreal | Self::African => PullWindow { from_day: 20, to_day: 28 },
            Self::NewWorldSlow | Self::Desert => PullWindow { from_day: 35, to_day: 45 },
            Self::NewWorldGiant | Self::Goliath | Self::NewWorldArboreal | Self::Asian => PullWindow::default(),
        }
    }
}

/// The usual days from pairing to sac of a species of which nobody has said the group: from the shortest of any group to the
/// longest.
pub const ANY_DAYS_TO_SAC: (u32, u32) = (30, 360);

coded_enum! {
    /// What was seen of a male's palps while the two were together.
    Insertion, "insertion" {
        Seen = "seen", "insertion seen";
        None = "none", "no insertion seen";
        Unknown = "unknown", "not watched";
    }
}

coded_enum! {
    /// How an introduction ended.
    IntroductionEnd, "end of an introduction" {
        Safe = "safe", "male safe";
        Lost = "lost", "male lost";
        Parted = "parted", "parted early";
        Unknown = "unknown", "not noted";
    }
}

/// A stage that a sac is expected to reach, and when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ExpectedStage {
    /// The stage.
    pub stage: Stage,
    /// The first usual day.
    pub from: NaiveDate,
    /// The last usual day.
    pub to: NaiveDate,
    /// What the days rest on.
    pub basis: String,
}

/// The stages that a sac is expected to reach. `rests_on` says where the day ranges come from, such as the label of
/// the breeding group.
pub fn expected_stages(laid_on: NaiveDate, usual: StageDays, rests_on: &str) -> Vec<ExpectedStage> {
    [(Stage::PostEmbryo, usual.post_embryo), (Stage::Instar(1), usual.first_instar), (Stage::Instar(2), usual.second_instar)]
        .into_iter()
        .map(|(stage, (first, last))| ExpectedStage {
            stage,
            from: days_after(laid_on, first),
            to: days_after(laid_on, last),
            basis: format!("day {first} to {last} after laying: {rests_on}, common practice"),
        })
        .collect()
}

/// A pairing of the dam.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pairing {
    /// Its number in the book.
    pub id: i64,
    /// The male.
    pub sire: i64,
    /// The day.
    pub on: NaiveDate,
}

/// Who sired a sac.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "outcome", rename_all = "kebab-case")]
pub enum Sire {
    /// One male only.
    Known {
        /// The male.
        sire: i64,
    },
    /// Several males in one intermoult: not known, these are the candidates.
    SeveralCandidates {
        /// The males, in order of first pairing.
        sires: Vec<i64>,
    },
    /// Every pairing was void before the sac was laid.
    ExpectedInfertile,
    /// No pairing before the sac is on record.
    NotKnown,
}

/// Whose young a sac holds, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Parentage {
    /// Pairings that stood when the sac was laid.
    pub standing: Vec<i64>,
    /// Pairings that a moult of the dam had made void.
    pub void: Vec<i64>,
    /// Who sired the sac.
    pub sire: Sire,
    /// Why, in plain words.
    pub reason: String,
}

/// Whether a pairing still stands on a day: the dam has not moulted after it. The lining of the spermathecae is shed
/// with the skin, and stored sperm goes with it (general references, no single source).
pub fn stands(paired_on: NaiveDate, dam_moults: &[NaiveDate], day: NaiveDate) -> bool {
    paired_on <= day && latest(dam_moults, day).is_none_or(|moult| moult <= paired_on)
}

/// Whose young a sac holds. One pairing serves every sac that is laid before the dam moults.
pub fn parentage(pairings: &[Pairing], dam_moults: &[NaiveDate], sac_laid: NaiveDate) -> Parentage {
    let mut before: Vec<&Pairing> = pairings.iter().filter(|pairing| pairing.on <= sac_laid).collect();
    before.sort_by_key(|pairing| (pairing.on, pairing.id));
    let last_moult = latest(dam_moults, sac_laid);
    let (standing, void): (Vec<&Pairing>, Vec<&Pairing>) =
        before.into_iter().partition(|pairing| last_moult.is_none_or(|moult| moult <= pairing.on));
    let (sire, reason) = sire_of(&standing, !void.is_empty(), last_moult);
    let ids = |list: Vec<&Pairing>| list.into_iter().map(|pairing| pairing.id).collect();
    Parentage { standing: ids(standing), void: ids(void), sire, reason }
}

/// A male that may have sired a sac.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Candidate {
    /// The male.
    pub sire: i64,
    /// His first introduction that counts.
    pub first_on: NaiveDate,
    /// The most that was seen of him: an insertion, none, or nobody watched.
    pub insertion: Insertion,
}

/// The males that may have sired a sac: each that was put to the dam on or before the day it was laid and after her last
/// moult, whether an insertion was seen or not, in the order of their first introduction.
///
/// An insertion that was seen speaks for a male, but one that was not seen rules nobody out: insertions are short, and pairs
/// are left alone for hours (common practice, no source). So every male stays a candidate and is marked by what was seen.
/// An introduction that somebody watched from end to end without an insertion counts too, as few watch so closely.
pub fn candidates(introductions: &[(Pairing, Insertion)], dam_moults: &[NaiveDate], sac_laid: NaiveDate) -> Vec<Candidate> {
    let mut standing: Vec<&(Pairing, Insertion)> =
        introductions.iter().filter(|(pairing, _)| stands(pairing.on, dam_moults, sac_laid)).collect();
    standing.sort_by_key(|(pairing, _)| (pairing.on, pairing.id));
    let mut found: Vec<Candidate> = Vec::new();
    for (pairing, insertion) in standing {
        match found.iter_mut().find(|known| known.sire == pairing.sire) {
            Some(known) => known.insertion = more_telling(known.insertion, *insertion),
            None => found.push(Candidate { sire: pairing.sire, first_on: pairing.on, insertion: *insertion }),
        }
    }
    found
}

/// An insertion that was seen tells the most; that nobody watched leaves more open than that none was seen.
fn more_telling(one: Insertion, other: Insertion) -> Insertion {
    let order = |insertion| match insertion {
        Insertion::Seen => 2,
        Insertion::Unknown => 1,
        Insertion::None => 0,
    };
    if order(other) > order(one) { other } else { one }
}

fn latest(moults: &[NaiveDate], until: NaiveDate) -> Option<NaiveDate> {
    moults.iter().copied().filter(|moult| *moult <= until).max()
}

fn sire_of(standing: &[&Pairing], any_void: bool, last_moult: Option<NaiveDate>) -> (Sire, String) {
    let mut known = HashSet::new();
    let sires: Vec<i64> = standing.iter().map(|pairing| pairing.sire).filter(|sire| known.insert(*sire)).collect();
    match (sires.as_slice(), last_moult) {
        ([], Some(moult)) if any_void => {
            (Sire::ExpectedInfertile, format!("the dam moulted on {} after pairing and was not paired again", written(moult)))
        }
        ([], _) => (Sire::NotKnown, "no pairing before the sac is on record".to_owned()),
        ([sire], _) => (Sire::Known { sire: *sire }, "one male since the dam's last moult".to_owned()),
        (several, _) => {
            let reason = format!("{} males since the dam's last moult; the sire is not known", several.len());
            (Sire::SeveralCandidates { sires }, reason)
        }
    }
}
