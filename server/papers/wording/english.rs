//! The words of sheets in English.

use super::{Tongue, Wording};
use crate::papers::model::OriginFacts;
use crate::reckoning::calendar::written;
use crate::reckoning::hazard::{Band, assess, cautions_text};
use crate::reckoning::stage::Stage;
use crate::reckoning::words::{Habit, LifeStage, Moisture, Sex, Venom};
use crate::species::model::text::{CareText, TextSection};

pub(super) static WORDS: Wording = Wording {
    language: Tongue::English,
    care_sheet: "Care sheet",
    number: "Number",
    revision: "revision",
    issued: "issued",
    band_word: "Band",
    of_bands: "of 0 to 3",
    emergency: "After a bite, or setae in an eye: call your local emergency number, a poison centre or a clinician first.",
    sheet: "Sheet",
    cautions_heading: "Cautions",
    why: "Why",
    temper: "Temper",
    lock: "Lock the box; keep it from children and other animals. At a threat posture, stop, close and leave it in peace.",
    setae: "Setae: cover skin and eyes, work at arm's length, and wash hands afterwards. Shed skins and old substrate hold setae too.",
    venom_concern: "Venom concern",
    band_basis: "The band is a house's classification by common practice, not a clinical grade.",
    after_heading: "After a bite, or setae in an eye or on the skin",
    call: "Call your local emergency number, a poison centre or a clinician, and do as they say.",
    no_advice: "This sheet is no medical advice and names no treatment.",
    tell_name: "Tell them the scientific name,",
    tell_time: "and the time.",
    at_once: "Call the emergency number at once for trouble breathing, swelling of the face or throat, fainting, chest pain or widespread cramps.",
    late_cramps: "Cramps can come hours to days after the bite of an Old World tarantula: stay with somebody, and ask how long to watch for them.",
    setae_eye: "Setae in an eye: do not rub, and have an eye clinic or emergency department look at it the same day.",
    this_animal: "This animal",
    these_animals: "These animals",
    species: "Species",
    cohort: "Cohort",
    how_many: "How many",
    tag: "Tag",
    stage_row: "Stage",
    instar_unknown: "instar not known",
    stage_counted: "moults counted since the post-embryo",
    sex_row: "Sex",
    span_row: "Leg span (DLS)",
    not_measured: "not measured",
    origin_row: "Origin",
    source_row: "Source",
    locality_row: "Locality or line",
    last_moult: "Last moult",
    last_meal: "Last meal taken",
    next_meal: "Next meal due",
    none_on_record: "none on record",
    not_planned: "not planned",
    ask_the_house: "ask the house",
    settling_heading: "Settling in",
    new_box: "Have the new box ready first. Open the travel box inside a larger tub, and let the animal walk out by itself.",
    after_moult: "Never feed within the days after a moult, and never disturb an animal that lies on its back: it is moulting.",
    no_sun: "Keep it out of sun and draught. Do not handle it.",
    no_vertebrates: "No live vertebrate prey: it is needless, and unlawful or restricted in places. No insects caught outdoors.",
    basis: "Basis",
    common_practice: "common practice, no source",
    text_heading: "How it is kept",
    practice_note: "The house's practice: common practice, no source.",
    basis_note: "Basis",
    care_heading: "Care by stage",
    adults_reach: "adults reach",
    leg_span: "cm leg span",
    from: "From",
    care_profile: "Care profile of",
    now: "now",
    food_row: "Food",
    water_row: "Water",
    climate_row: "Climate",
    ground_row: "Ground",
    air_row: "Air",
    hide_row: "Hide and room",
    moults_row: "Moults",
    cleaning_row: "Cleaning",
    basis_row: "Basis",
    law_heading: "Law and papers",
    no_listing: "No listing of this species is in the book.",
    listed_from: "from",
    listing_source: "Source",
    last_checked: "last checked",
    not_verified: "not verified",
    source_codes: "Source codes are those of CITES Res. Conf. 12.3. Keeping, moving or selling this animal may need a permit where you live. Check with your authority; this sheet decides nothing.",
    handed_over: "Handed over",
    for_house: "For the house",
    received_by: "Received by",
    day_column: "Day",
    specimen: "Specimen: not issued, of no animal",
    day: written,
    long_day: |day| day.format("%A %-d %B %Y").to_string(),
    subject: |label, count| match count {
        Some(count) => format!("{count} of cohort {label}"),
        None => format!("tag {label}"),
    },
    range: |least, most| if least == most { least.to_string() } else { format!("{least} to {most}") },
    section: TextSection::label,
    band: |level| Band::at(level.into()).word(),
    reasons: |facts| assess(facts).reasons,
    cautions: cautions_text,
    life_stage: LifeStage::label,
    stage: Stage::label,
    sex: |sex, basis| match sex {
        Sex::Unknown => "not sexed".to_owned(),
        sexed => format!("{sexed}; basis: {basis}"),
    },
    span: |length, method, cohort, day| {
        let method = method.map_or_else(String::new, |method| format!(", {method}"));
        let day = day.map_or_else(String::new, |day| format!(" on {}", written(day)));
        format!("{length}{method}{}{day}", if cohort { " over the cohort" } else { "" })
    },
    origin: |origin| match origin {
        OriginFacts::Bought { since } => format!("bought in; in this house since {}", written(*since)),
        OriginFacts::Hatched { laid_on, cohort } => {
            format!("hatched in this house: egg sac laid on {}, cohort {cohort}", written(*laid_on))
        }
        OriginFacts::BoughtBatch { since, cohort } => {
            format!("from a batch that was bought in, cohort {cohort}; in this house since {}", written(*since))
        }
        OriginFacts::Split { since, cohort } => {
            format!("from cohort {cohort}, split off another of this house on {}", written(*since))
        }
    },
    source: |source, pre_convention| match pre_convention {
        true => format!("{}/O: {source}, acquired before the species was listed", source.code()),
        false => format!("{}: {source}", source.code()),
    },
    lives: |habit: Habit, moisture: Moisture| {
        let place = match habit {
            Habit::Arboreal => "in trees",
            Habit::Terrestrial => "on the ground",
            Habit::Fossorial => "in burrows",
        };
        format!("Lives {place}, ground kept {moisture}")
    },
    venom: Venom::label,
    water_and_food: |least, most| {
        format!("Offer water at once, and food after {least} to {most} days at the earliest; not before the day given above.")
    },
    feed: |least, most, hours| {
        format!("every {} days; what is not eaten goes out within {hours} hours", (WORDS.range)(least.into(), most.into()))
    },
    every: |days| format!("every {days} days"),
    moults: |least, most| format!("every {} days as a rule", (WORDS.range)(least.into(), most.into())),
    climate: |(coolest, warmest), (dry, damp)| format!("{coolest} to {warmest} °C by day, {dry} to {damp} % relative humidity"),
    text_line,
    fell_back: |wished, text| {
        format!("There is no reviewed text in {}; this is the {} text, revision {}.", wished.name(), text.language.name(), text.number)
    },
    no_text: |wished| format!("There is no reviewed text on this species yet, in {} or another language. Ask the house.", wished.name()),
};

fn text_line(text: &CareText) -> String {
    let written_by = match &text.author {
        Some(author) => format!("written by {author} on {}", written(text.written_on)),
        None => format!("starter text, written on {}", written(text.written_on)),
    };
    let reviewed = match (&text.reviewer, text.reviewed_on) {
        (Some(reviewer), Some(day)) if text.alone => {
            format!("reviewed by {reviewer}, who wrote it too, on {}: nobody else was there who could", written(day))
        }
        (Some(reviewer), Some(day)) => format!("reviewed by {reviewer} on {}", written(day)),
        _ => "not yet reviewed by this house".to_owned(),
    };
    format!("Text: revision {}, {written_by}, {reviewed}.", text.number)
}
