//! The words of sheets in German.

use chrono::{Datelike as _, NaiveDate};

use super::{Tongue, Wording};
use crate::papers::model::OriginFacts;
use crate::reckoning::hazard::{HazardFacts, LARGE_FANGS_FROM_MM};
use crate::reckoning::language::Language;
use crate::reckoning::provenance::SourceCode;
use crate::reckoning::stage::Stage;
use crate::reckoning::words::{Habit, LifeStage, Moisture, Setae, Sex, SexBasis, SpanMethod, Venom};
use crate::species::model::text::{CareText, TextSection};

const MONTHS: [&str; 12] =
    ["Januar", "Februar", "März", "April", "Mai", "Juni", "Juli", "August", "September", "Oktober", "November", "Dezember"];
const WEEKDAYS: [&str; 7] = ["Montag", "Dienstag", "Mittwoch", "Donnerstag", "Freitag", "Samstag", "Sonntag"];

pub(super) static WORDS: Wording = Wording {
    language: Tongue::German,
    care_sheet: "Pflegeblatt",
    number: "Nummer",
    revision: "Fassung",
    issued: "ausgestellt am",
    band_word: "Stufe",
    of_bands: "auf der Skala von 0 bis 3",
    emergency: "Nach einem Biss oder bei Brennhaaren im Auge: zuerst den örtlichen Notruf, eine Giftnotrufzentrale oder eine Ärztin oder einen Arzt anrufen.",
    sheet: "Blatt",
    cautions_heading: "Vorsicht",
    why: "Warum",
    temper: "Wesen",
    lock: "Das Becken abschließen und von Kindern und anderen Tieren fernhalten. Bei Drohhaltung aufhören, schließen und das Tier in Ruhe lassen.",
    setae: "Brennhaare: Haut und Augen bedecken, mit ausgestrecktem Arm arbeiten, danach Hände waschen. Auch an Häutungsresten und altem Bodengrund haften Brennhaare.",
    venom_concern: "Giftwirkung",
    band_basis: "Die Stufe ist eine Einteilung des Hauses nach allgemeiner Praxis, kein klinischer Schweregrad.",
    after_heading: "Nach einem Biss oder bei Brennhaaren im Auge oder auf der Haut",
    call: "Den örtlichen Notruf, eine Giftnotrufzentrale oder eine Ärztin oder einen Arzt anrufen und deren Anweisungen folgen.",
    no_advice: "Dieses Blatt ist kein ärztlicher Rat und nennt keine Behandlung.",
    tell_name: "Den wissenschaftlichen Namen nennen,",
    tell_time: "und die Uhrzeit.",
    at_once: "Bei Atemnot, Schwellung von Gesicht oder Hals, Ohnmacht, Brustschmerz oder ausgebreiteten Krämpfen sofort den Notruf wählen.",
    late_cramps: "Nach dem Biss einer Vogelspinne der Alten Welt können Krämpfe erst nach Stunden bis Tagen kommen: nicht allein bleiben und fragen, wie lange darauf zu achten ist.",
    setae_eye: "Brennhaare im Auge: nicht reiben und das Auge noch am selben Tag in einer Augenklinik oder Notaufnahme ansehen lassen.",
    this_animal: "Dieses Tier",
    these_animals: "Diese Tiere",
    species: "Art",
    cohort: "Gelege",
    how_many: "Anzahl",
    tag: "Kennung",
    stage_row: "Stadium",
    instar_unknown: "Häutungsstadium nicht bekannt",
    stage_counted: "Häutungen ab dem Postembryo gezählt",
    sex_row: "Geschlecht",
    span_row: "Beinspannweite",
    not_measured: "nicht gemessen",
    origin_row: "Herkunft",
    source_row: "Herkunftscode",
    locality_row: "Fundort oder Linie",
    last_moult: "Letzte Häutung",
    last_meal: "Zuletzt gefressen",
    next_meal: "Nächste Fütterung",
    none_on_record: "nichts eingetragen",
    not_planned: "nicht geplant",
    ask_the_house: "beim Haus erfragen",
    settling_heading: "Eingewöhnung",
    new_box: "Das neue Becken zuerst fertig einrichten. Die Transportbox in einer größeren Wanne öffnen und das Tier von selbst herauslaufen lassen.",
    after_moult: "In den Tagen nach einer Häutung nie füttern, und ein Tier, das auf dem Rücken liegt, nie stören: Es häutet sich.",
    no_sun: "Vor Sonne und Zugluft schützen. Nicht in die Hand nehmen.",
    no_vertebrates: "Keine lebenden Wirbeltiere verfüttern: Das ist unnötig und mancherorts verboten oder eingeschränkt. Keine im Freien gefangenen Insekten.",
    basis: "Grundlage",
    common_practice: "allgemeine Praxis, ohne Quelle",
    text_heading: "Haltung",
    practice_note: "Praxis des Hauses: allgemeine Praxis, ohne Quelle.",
    basis_note: "Grundlage",
    care_heading: "Pflege nach Alter",
    adults_reach: "ausgewachsen",
    leg_span: "cm Beinspannweite",
    from: "Vorkommen",
    care_profile: "Pflegeprofil von",
    now: "jetzt",
    food_row: "Futter",
    water_row: "Wasser",
    climate_row: "Klima",
    ground_row: "Bodengrund",
    air_row: "Luft",
    hide_row: "Versteck und Platz",
    moults_row: "Häutungen",
    cleaning_row: "Reinigung",
    basis_row: "Grundlage",
    law_heading: "Recht und Papiere",
    no_listing: "Im Buch steht keine Listung dieser Art.",
    listed_from: "ab",
    listing_source: "Quelle",
    last_checked: "zuletzt nachgesehen am",
    not_verified: "nicht bestätigt",
    source_codes: "Herkunftscodes nach CITES Res. Conf. 12.3. Haltung, Transport oder Verkauf dieses Tieres können bei Ihnen genehmigungspflichtig sein. Fragen Sie Ihre Behörde; dieses Blatt entscheidet nichts.",
    handed_over: "Übergabe",
    for_house: "Für das Haus",
    received_by: "Erhalten von",
    day_column: "Tag",
    specimen: "Muster: nicht ausgestellt, zu keinem Tier",
    day: written,
    long_day: |day| {
        let weekday = usize::try_from(day.weekday().num_days_from_monday()).ok().and_then(|at| WEEKDAYS.get(at)).copied().unwrap_or("");
        format!("{weekday}, {}", written(day))
    },
    subject: |label, count| match count {
        Some(count) => format!("{count} aus Gelege {label}"),
        None => format!("Kennung {label}"),
    },
    range: |least, most| if least == most { least.to_string() } else { format!("{least} bis {most}") },
    section,
    band: |level| match level {
        0 => "übliche Sorgfalt",
        1 => "Vorsicht",
        2 => "riskant",
        _ => "gefährlich",
    },
    reasons,
    cautions,
    life_stage: |stage| match stage {
        LifeStage::Spiderling => "Spiderling (Jungspinne)",
        LifeStage::Juvenile => "Jungtier",
        LifeStage::Adult => "ausgewachsen",
    },
    stage: |stage| match stage {
        Stage::Egg => "Ei".to_owned(),
        Stage::PostEmbryo => "Postembryo".to_owned(),
        Stage::Instar(number) => format!("{number}. Häutungsstadium"),
    },
    sex,
    span: |length, method, cohort, day| {
        let method = method.map_or("", |method| match method {
            SpanMethod::Measured => ", gemessen",
            SpanMethod::Estimated => ", geschätzt",
        });
        let day = day.map_or_else(String::new, |day| format!(" am {}", written(day)));
        format!("{}{method}{}{day}", length.replace('.', ","), if cohort { " über das Gelege" } else { "" })
    },
    origin: |origin| match origin {
        OriginFacts::Bought { since } => format!("zugekauft; im Haus seit {}", written(*since)),
        OriginFacts::Hatched { laid_on, cohort } => {
            format!("in diesem Haus geschlüpft: Kokon vom {}, Gelege {cohort}", written(*laid_on))
        }
        OriginFacts::BoughtBatch { since, cohort } => format!("aus zugekauftem Gelege {cohort}; im Haus seit {}", written(*since)),
        OriginFacts::Split { since, cohort } => {
            format!("aus Gelege {cohort}, am {} von einem anderen dieses Hauses abgeteilt", written(*since))
        }
    },
    source,
    lives: |habit, moisture| {
        let habit = match habit {
            Habit::Arboreal => "auf Bäumen",
            Habit::Terrestrial => "am Boden",
            Habit::Fossorial => "in Wohnröhren",
        };
        let moisture = match moisture {
            Moisture::Dry => "trocken",
            Moisture::DryWetCorner => "trocken mit feuchter Ecke",
            Moisture::HalfDamp => "halb feucht",
            Moisture::Damp => "feucht",
        };
        format!("Lebt {habit}, Bodengrund {moisture}")
    },
    venom: |venom| match venom {
        Venom::Mild => "gering",
        Venom::Moderate => "mittel",
        Venom::Significant => "medizinisch bedeutsam",
    },
    water_and_food: |least, most| {
        format!("Sofort Wasser anbieten, Futter frühestens nach {least} bis {most} Tagen; nicht vor dem oben genannten Tag.")
    },
    feed: |least, most, hours| {
        format!("alle {} Tage; Reste nach höchstens {hours} Stunden entfernen", (WORDS.range)(least.into(), most.into()))
    },
    every: |days| format!("alle {days} Tage"),
    moults: |least, most| format!("in der Regel alle {} Tage", (WORDS.range)(least.into(), most.into())),
    climate: |(coolest, warmest), (dry, damp)| format!("tagsüber {coolest} bis {warmest} °C, {dry} bis {damp} % relative Luftfeuchte"),
    text_line,
    fell_back: |wished, text| {
        format!(
            "Zu dieser Art gibt es keinen geprüften Text auf {}; dies ist der Text auf {}, Fassung {}.",
            language(wished),
            language(&text.language),
            text.number
        )
    },
    no_text: |wished| {
        format!(
            "Zu dieser Art gibt es noch keinen geprüften Text, weder auf {} noch in einer anderen Sprache. Fragen Sie das Haus.",
            language(wished)
        )
    },
};

/// A day: `4. März 2026`.
fn written(day: NaiveDate) -> String {
    let month = usize::try_from(day.month0()).ok().and_then(|at| MONTHS.get(at)).copied().unwrap_or("");
    format!("{}. {month} {}", day.day(), day.year())
}

/// A language after "auf"; what it calls itself where German has no word here.
fn language(language: &Language) -> String {
    let name = match language.primary() {
        "cs" => "Tschechisch",
        "da" => "Dänisch",
        "de" => "Deutsch",
        "en" => "Englisch",
        "es" => "Spanisch",
        "fr" => "Französisch",
        "hu" => "Ungarisch",
        "it" => "Italienisch",
        "ja" => "Japanisch",
        "nl" => "Niederländisch",
        "pl" => "Polnisch",
        "pt" => "Portugiesisch",
        "sv" => "Schwedisch",
        _ => return language.name(),
    };
    name.to_owned()
}

fn section(section: TextSection) -> &'static str {
    match section {
        TextSection::About => "Über das Tier",
        TextSection::Housing => "Unterbringung",
        TextSection::Climate => "Temperatur und Feuchte",
        TextSection::Feeding => "Fütterung",
        TextSection::Moulting => "Häutung",
        TextSection::Safety => "Umgang und Sicherheit",
        TextSection::Help => "Wann man um Hilfe fragt",
        TextSection::House => "Aus diesem Haus",
    }
}

/// Where setae are and how they travel.
fn setae(setae: Setae) -> &'static str {
    match setae {
        Setae::None => "keine Brennhaare",
        Setae::Contact => "am Hinterleib, lösen sich bei Berührung",
        Setae::Kicked => "am Hinterleib, werden abgestreift und fliegen in der Luft",
        Setae::Severe => "am Hinterleib, werden abgestreift, starke Wirkung",
        Setae::Palps => "an den Tastern",
        Setae::Unverified => "am Hinterleib, Typ nicht bestätigt",
    }
}

/// The reasons that [`crate::reckoning::hazard::assess`] gives, one for one.
fn reasons(facts: &HazardFacts) -> Vec<String> {
    let mut reasons = Vec::new();
    match facts.venom {
        Venom::Significant => reasons.push("medizinisch bedeutsames Gift, in jedem Alter".to_owned()),
        Venom::Moderate => reasons.push("mittlere Giftwirkung, in jedem Alter".to_owned()),
        Venom::Mild if facts.life_stage == LifeStage::Spiderling => reasons.push("geringe Giftwirkung, Jungspinne".to_owned()),
        Venom::Mild => {
            if facts.setae != Setae::None {
                reasons.push(format!("Brennhaare {}", setae(facts.setae)));
            }
            if facts.adult_span_max_mm >= LARGE_FANGS_FROM_MM {
                reasons.push(format!("große Giftklauen: bis {} mm Beinspannweite", facts.adult_span_max_mm));
            }
            if facts.very_fast && facts.defensive {
                reasons.push("sehr schnell und wehrhaft".to_owned());
            }
            if reasons.is_empty() {
                reasons.push("geringe Giftwirkung, keine Brennhaare, nicht zugleich schnell und wehrhaft".to_owned());
            }
        }
    }
    reasons.extend(facts.cautions.iter().map(|caution| format!("ein Hinweis zu diesem Tier: {}", caution.text)));
    reasons
}

/// The cautions that [`crate::reckoning::hazard::cautions_text`] gives, one for one.
fn cautions(facts: &HazardFacts) -> Vec<String> {
    let mut lines: Vec<String> = facts.cautions.iter().map(|caution| caution.text.clone()).collect();
    match facts.venom {
        Venom::Significant => lines.push("Medizinisch bedeutsames Gift: Krämpfe können Stunden nach einem Biss kommen.".to_owned()),
        Venom::Moderate => lines.push("Mittlere Giftwirkung: keine bloße Hand ins Becken.".to_owned()),
        Venom::Mild => {}
    }
    match facts.setae {
        Setae::None => {}
        Setae::Severe => lines.push("Streift stark wirkende Brennhaare ab: Schutzbrille, Haut bedecken.".to_owned()),
        Setae::Palps => lines.push("Brennhaare an den Tastern: Hände und Werkzeug außer Reichweite halten.".to_owned()),
        other => lines.push(format!("Brennhaare {}: von Haut und Augen fernhalten.", setae(other))),
    }
    match (facts.defensive, facts.very_fast) {
        (true, true) => lines.push("Wehrhaft und sehr schnell.".to_owned()),
        (true, false) => lines.push("Wehrhaft: bei Drohhaltung aufhören und schließen.".to_owned()),
        (false, true) => lines.push("Sehr schnell.".to_owned()),
        (false, false) => {}
    }
    if facts.adult_span_max_mm >= LARGE_FANGS_FROM_MM && facts.life_stage != LifeStage::Spiderling {
        lines.push("Große Giftklauen.".to_owned());
    }
    lines
}

fn sex(sex: Sex, basis: SexBasis) -> String {
    let sexed = match sex {
        Sex::Unknown => return "nicht bestimmt".to_owned(),
        Sex::Female => "weiblich",
        Sex::Male => "männlich",
    };
    let basis = match basis {
        SexBasis::None => "nicht bestimmt",
        SexBasis::Suspected => "Verdacht (Bauchansicht oder Gestalt)",
        SexBasis::Exuvium => "Häutungsrest",
        SexBasis::Mature => "reifes Männchen (Bulben)",
    };
    format!("{sexed}; Grundlage: {basis}")
}

fn source(source: SourceCode, pre_convention: bool) -> String {
    let words = match source {
        SourceCode::Wild => "der Natur entnommen",
        SourceCode::Ranched => "aus Ranching: Eier oder Jungtiere der Natur entnommen",
        SourceCode::Captive => "in Gefangenschaft gezüchtet",
        SourceCode::Born => "in Gefangenschaft geboren",
        SourceCode::Unknown => "Herkunft unbekannt",
        SourceCode::Seized => "beschlagnahmt",
    };
    let code = source.code();
    if pre_convention { format!("{code}/O: {words}, erworben, bevor die Art gelistet war") } else { format!("{code}: {words}") }
}

fn text_line(text: &CareText) -> String {
    let written_by = match &text.author {
        Some(author) => format!("geschrieben von {author} am {}", written(text.written_on)),
        None => format!("Ausgangstext, geschrieben am {}", written(text.written_on)),
    };
    let reviewed = match (&text.reviewer, text.reviewed_on) {
        (Some(reviewer), Some(day)) if text.alone => {
            format!("geprüft am {} von {reviewer}, auch Verfasser: sonst war niemand da, der prüfen konnte", written(day))
        }
        (Some(reviewer), Some(day)) => format!("geprüft von {reviewer} am {}", written(day)),
        _ => "von diesem Haus noch nicht geprüft".to_owned(),
    };
    format!("Text: Fassung {}, {written_by}, {reviewed}.", text.number)
}
