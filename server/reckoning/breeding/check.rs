//! What is looked at before two animals are put together for the first time: what forbids it, what speaks against it, and what
//! is as it should be.
//!
//! Each figure is common practice, no source, unless it says otherwise. A house that knows better goes on past a warning; past
//! what blocks it does not.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::reckoning::calendar::{days_between, written};
use crate::reckoning::condition::{Condition, Scored};
use crate::reckoning::hazard::Requirement;
use crate::reckoning::pedigree::{CLOSE_KINSHIP, Mismatch, Side, mismatches};
use crate::reckoning::words::{MoultState, Sex};

/// After a moult a female is fed for this many days before she is paired: 4 to 8 weeks, first and last.
pub const FEEDING_DAYS: (i64, i64) = (28, 56);
/// A score of how well fed she looks is too old after so many days.
pub const SCORE_DAYS: i64 = 60;
/// A male charges his palps from a sperm web first: before so many days after his last moult few are ready.
pub const CHARGING_DAYS: i64 = 14;
/// The useful period of a male is a few months after maturing (general references): after so many days it is doubtful.
pub const USEFUL_DAYS: i64 = 180;

coded_enum! {
    /// How much a finding weighs.
    Weight, "weight" {
        Blocks = "blocks", "not possible";
        Warns = "warns", "look out";
        Fits = "fits", "as it should be";
    }
}

coded_enum! {
    /// What a finding is about.
    About, "subject of a finding" {
        Pair = "pair", "The two together";
        Female = "female", "The female";
        Male = "male", "The male";
        People = "people", "The people";
    }
}

/// One thing that was looked at.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Finding {
    /// How much it weighs.
    pub weight: Weight,
    /// What it is about.
    pub about: About,
    /// What was found, in a sentence.
    pub says: String,
    /// What it rests on; empty when it is plain.
    pub basis: String,
}

/// One of the two, as the book knows it on the day.
#[derive(Debug, Clone)]
pub struct OneOfTwo {
    /// Its tag.
    pub tag: String,
    /// Its number in the book.
    pub id: i64,
    /// Its species.
    pub species: i64,
    /// The name of its species.
    pub species_name: String,
    /// Its locality or line; empty when it is not known.
    pub line: String,
    /// In what its own parents' lines differ; empty when they do not, or nobody knows of it.
    pub mixed: String,
    /// What it is known to be.
    pub sex: Sex,
    /// The day it came under care.
    pub since: NaiveDate,
    /// The day it left, and how, when it has.
    pub left: Option<(NaiveDate, String)>,
    /// What was last seen of its moult.
    pub moult: MoultState,
    /// The holds that stand on it, in words.
    pub holds: Vec<String>,
}

/// What is known of the female besides.
#[derive(Debug, Clone, Default)]
pub struct Female {
    /// Her last moult.
    pub last_moult: Option<NaiveDate>,
    /// The first and the last meal that she took since then.
    pub fed: Option<(NaiveDate, NaiveDate)>,
    /// How many meals she took since then.
    pub meals: u32,
    /// How well fed she looked when it was last scored.
    pub scored: Option<Scored>,
    /// Whether she is with a sac.
    pub with_sac: bool,
    /// When her next moult is to be expected: the first and last day of its window.
    pub next_moult: Option<(NaiveDate, NaiveDate)>,
}

/// What is known of the male besides.
#[derive(Debug, Clone, Default)]
pub struct Male {
    /// Whether he is known to be mature.
    pub mature: bool,
    /// The day he was first seen to be.
    pub mature_on: Option<NaiveDate>,
}

/// How related the two are.
#[derive(Debug, Clone)]
pub struct Related {
    /// The inbreeding of their young, 0 to 1.
    pub kinship: f64,
    /// How they are related, in a sentence without its stop.
    pub words: String,
}

/// Who may do it.
#[derive(Debug, Clone, Default)]
pub struct People {
    /// The bands of the two.
    pub bands: (u8, u8),
    /// What they ask of people with hands in.
    pub asked: Option<Requirement>,
    /// What whoever looks at this lacks, as the end of a sentence; none when they may do it.
    pub lacks: Option<String>,
    /// Who is cleared to do it, by name.
    pub first: Vec<String>,
    /// Who may stand by as the second, where it takes two.
    pub second: Vec<String>,
}

/// All that is looked at.
#[derive(Debug, Clone)]
pub struct Planned {
    /// The day.
    pub day: NaiveDate,
    /// The female.
    pub dam: OneOfTwo,
    /// The male.
    pub sire: OneOfTwo,
    /// What is known of her besides.
    pub female: Female,
    /// What is known of him besides.
    pub male: Male,
    /// How related they are; none when nobody could tell.
    pub related: Option<Related>,
    /// The usual days from pairing to sac.
    pub days_to_sac: (u32, u32),
    /// Who may do it.
    pub people: People,
}

/// In what the lines of the two differ, or those of their own parents did: what follows their young. Empty when nothing does.
#[must_use]
pub fn mixed(dam: &OneOfTwo, sire: &OneOfTwo) -> String {
    let known = |line: &str| if line.is_empty() { "not known".to_owned() } else { line.to_owned() };
    let differ = dam.line != sire.line;
    let of = |one: &OneOfTwo| (!one.mixed.is_empty()).then(|| format!("{} is itself of mixed lines ({})", one.tag, one.mixed));
    let pair = differ.then(|| format!("{} and {}", known(&dam.line), known(&sire.line)));
    let told: Vec<String> = pair.into_iter().chain(of(dam)).chain(of(sire)).collect();
    told.join("; ")
}

/// Everything that was found: what blocks first, then what warns, then what fits.
#[must_use]
pub fn look(planned: &Planned) -> Vec<Finding> {
    let mut found = Vec::new();
    pair(planned, &mut found);
    for (about, one, wrong) in [(About::Female, &planned.dam, Sex::Male), (About::Male, &planned.sire, Sex::Female)] {
        presence(about, one, wrong, planned.day, &mut found);
    }
    female(planned, &mut found);
    male(planned, &mut found);
    people(planned, &mut found);
    found.sort_by_key(|finding| finding.weight);
    found
}

/// Whether any finding blocks.
#[must_use]
pub fn blocked(found: &[Finding]) -> bool {
    found.iter().any(|finding| finding.weight == Weight::Blocks)
}

fn note(found: &mut Vec<Finding>, weight: Weight, about: About, says: impl Into<String>, basis: &str) {
    found.push(Finding { weight, about, says: says.into(), basis: basis.to_owned() });
}

fn pair(planned: &Planned, found: &mut Vec<Finding>) {
    let (dam, sire) = (&planned.dam, &planned.sire);
    if dam.id == sire.id {
        return note(found, Weight::Blocks, About::Pair, "A pairing needs two animals.", "");
    }
    let (of_dam, of_sire) = (Side { species: dam.species, locality: &dam.line }, Side { species: sire.species, locality: &sire.line });
    for fault in mismatches(&of_dam, &of_sire) {
        let weight = if fault == Mismatch::Species { Weight::Blocks } else { Weight::Warns };
        note(found, weight, About::Pair, fault.to_string(), "common practice, no source");
    }
    for one in [dam, sire].into_iter().filter(|one| !one.mixed.is_empty()) {
        let says = format!("{} is itself of mixed lines ({}): its young are too.", one.tag, one.mixed);
        note(found, Weight::Warns, About::Pair, says, "common practice, no source");
    }
    if dam.species == sire.species && mixed(dam, sire).is_empty() {
        let line = if dam.line.is_empty() { "no locality or line is noted of either".to_owned() } else { format!("both {}", dam.line) };
        note(found, Weight::Fits, About::Pair, format!("One species and one line: {line}."), "");
    }
    let Some(related) = &planned.related else { return };
    let says = format!("{}; inbreeding of the young {:.4}.", capital(&related.words), related.kinship);
    let (weight, basis) = if related.kinship >= CLOSE_KINSHIP {
        (Weight::Warns, "from 1/8 on, the young of half sibs: Falconer & Mackay 1996; that the line is drawn there is common practice")
    } else {
        (Weight::Fits, "Falconer & Mackay 1996")
    };
    note(found, weight, About::Pair, says, basis);
}

fn presence(about: About, one: &OneOfTwo, wrong: Sex, day: NaiveDate, found: &mut Vec<Finding>) {
    if one.sex == wrong {
        note(found, Weight::Blocks, about, format!("{} is known as a {}.", one.tag, one.sex), "");
    }
    if one.sex == Sex::Unknown {
        note(found, Weight::Warns, about, format!("{} is not sexed: look again before the two are put together.", one.tag), "");
    }
    match &one.left {
        Some((left, how)) if *left < day => {
            note(found, Weight::Blocks, about, format!("{} is {how} since {}.", one.tag, written(*left)), "");
        }
        _ if one.since > day => {
            let says = format!("{} came under care on {}, after that day.", one.tag, written(one.since));
            note(found, Weight::Blocks, about, says, "");
        }
        _ => {}
    }
    for hold in &one.holds {
        note(found, Weight::Blocks, about, format!("{} is held: {hold}.", one.tag), "");
    }
    match one.moult {
        MoultState::Normal => {}
        MoultState::PreMoult => {
            note(found, Weight::Warns, about, format!("{} shows signs of pre-moult.", one.tag), "common practice, no source");
        }
        MoultState::Moulting => note(found, Weight::Blocks, about, format!("{} is moulting: nobody opens it.", one.tag), ""),
    }
}

fn female(planned: &Planned, found: &mut Vec<Finding>) {
    const BASIS: &str = "4 to 8 weeks of feeding between moult and pairing; common practice, no source";
    let (her, tag, day) = (&planned.female, &planned.dam.tag, planned.day);
    match her.last_moult {
        None => {
            let says = format!("No moult of {tag} is in the book: nobody can tell how soon the next will make a pairing void.");
            note(found, Weight::Warns, About::Female, says, "");
        }
        Some(moult) => {
            let since = days_between(moult, day);
            let moulted = format!("{tag} moulted last on {}, {since} days before", written(moult));
            let fed = her.fed.map(|(first, _)| days_between(first, day));
            let (weight, says) = match fed {
                None => (Weight::Warns, format!("{moulted}, and has taken nothing since.")),
                Some(fed) if fed < FEEDING_DAYS.0 => (
                    Weight::Warns,
                    format!("{moulted}, and has been fed for {fed} days since: feed her for {} weeks first.", FEEDING_DAYS.0 / 7),
                ),
                Some(fed) if fed < FEEDING_DAYS.1 => (
                    Weight::Fits,
                    format!("{moulted}, and has been fed for {fed} days since ({} meals): enough, more is better.", her.meals),
                ),
                Some(fed) => (Weight::Fits, format!("{moulted}, and has been fed for {fed} days since ({} meals).", her.meals)),
            };
            note(found, weight, About::Female, says, BASIS);
        }
    }
    condition(planned, found);
    if her.with_sac {
        let says = format!("{tag} is with a sac: whoever opens her box now may lose it.");
        note(found, Weight::Warns, About::Female, says, "common practice, no source");
    }
    before_the_sac(planned, found);
}

/// A moult before the sac makes the pairing void.
fn before_the_sac(planned: &Planned, found: &mut Vec<Finding>) {
    let Some((from, to)) = planned.female.next_moult else { return };
    let (least, most) = planned.days_to_sac;
    let says = format!(
        "Her next moult is expected from {} to {}; a sac usually comes {least} to {most} days after pairing. A moult before it makes the pairing void.",
        written(from),
        written(to)
    );
    let middle = days_between(planned.day, from);
    let weight = if middle < i64::from(least) + (i64::from(most) - i64::from(least)) / 2 { Weight::Warns } else { Weight::Fits };
    note(found, weight, About::Female, says, "the house's moult forecast, 80 % window");
}

fn condition(planned: &Planned, found: &mut Vec<Finding>) {
    const BASIS: &str = "abdomen against carapace; common practice, no source";
    let tag = &planned.dam.tag;
    let Some(scored) = planned.female.scored else {
        let says = format!("How well fed {tag} looks was never scored.");
        return note(found, Weight::Warns, About::Female, says, BASIS);
    };
    let says = format!("{tag} was scored {} on {}", scored.condition, written(scored.day));
    if days_between(scored.day, planned.day) > SCORE_DAYS {
        return note(found, Weight::Warns, About::Female, format!("{says}, which is long ago: score her again."), BASIS);
    }
    match scored.condition {
        Condition::Shrunken | Condition::Lean => {
            note(found, Weight::Warns, About::Female, format!("{says}: feed her up first, a hungry female eats males."), BASIS);
        }
        Condition::Obese => note(found, Weight::Warns, About::Female, format!("{says}: too fat to be at ease."), BASIS),
        Condition::Good | Condition::Heavy => note(found, Weight::Fits, About::Female, format!("{says}."), BASIS),
    }
}

fn male(planned: &Planned, found: &mut Vec<Finding>) {
    const BASIS: &str = "a few months after maturing, general references; 180 days is common practice, no source";
    let (him, tag) = (&planned.male, &planned.sire.tag);
    let Some(day) = him.mature_on else {
        let says = if him.mature {
            format!("{tag} is known to be mature, but nobody noted since when.")
        } else {
            format!("{tag} is not known to be mature: look for palpal bulbs before the two are put together.")
        };
        return note(found, Weight::Warns, About::Male, says, BASIS);
    };
    let since = days_between(day, planned.day);
    let says = format!("{tag} has been mature since {}, {since} days", written(day));
    if since < 0 {
        note(found, Weight::Warns, About::Male, format!("{tag} matured on {}, after that day.", written(day)), BASIS);
    } else if since < CHARGING_DAYS {
        let basis = "he charges his palps from a sperm web first (general references); 14 days is common practice, no source";
        note(found, Weight::Warns, About::Male, format!("{says}: he may not have charged his palps yet."), basis);
    } else if since > USEFUL_DAYS {
        note(found, Weight::Warns, About::Male, format!("{says}: his useful period may be over."), BASIS);
    } else {
        note(found, Weight::Fits, About::Male, format!("{says}."), BASIS);
    }
}

fn people(planned: &Planned, found: &mut Vec<Finding>) {
    let people = &planned.people;
    let Some(asked) = people.asked else { return };
    let (dam, sire) = people.bands;
    let two = if asked.persons >= 2 { ", two people" } else { "" };
    let needs = format!("Bands {dam} and {sire} with hands in: clearance {}{two}", asked.clearance);
    let basis = "the house's risk table";
    if people.first.is_empty() {
        return note(found, Weight::Warns, About::People, format!("{needs}. Nobody is cleared for that today."), basis);
    }
    let named = |names: &[String]| names.join(", ");
    if asked.persons >= 2 && people.second.is_empty() {
        return note(found, Weight::Warns, About::People, format!("{needs}. Nobody can be the second today."), basis);
    }
    let second = if asked.persons >= 2 { format!("; second: {}", named(&people.second)) } else { String::new() };
    note(found, Weight::Fits, About::People, format!("{needs}. Cleared today: {}{second}.", named(&people.first)), basis);
    if let Some(lacks) = &people.lacks {
        note(found, Weight::Warns, About::People, format!("You can plan it, but not do it: {lacks}."), basis);
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.trim_end_matches('.').chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}
