//! The starter library and the search by name, held against published facts.

use std::collections::{HashMap, HashSet};

use chrono::NaiveDate;
use silkward::house::ids::SpeciesId;
use silkward::reckoning::words::{LifeStage, Setae, Venom, World};
use silkward::species::names::{KnownName, NameKind, NameMatch, find, normalise};
use silkward::species::starter::{StarterSpecies, library};

fn species(name: &str) -> StarterSpecies {
    library().unwrap().into_iter().find(|one| one.accepted_name == name).unwrap()
}

/// The names of the library, each species numbered as it stands there, from 1.
fn known_names() -> Vec<KnownName> {
    let mut known = Vec::new();
    for (species_id, one) in (1..).map(SpeciesId).zip(library().unwrap()) {
        known.push(KnownName { species_id, name: one.accepted_name, kind: NameKind::Accepted, ambiguous_note: None });
        for other in one.names {
            known.push(KnownName { species_id, name: other.name, kind: other.kind, ambiguous_note: other.ambiguous_with });
        }
    }
    known
}

fn found(typed: &str) -> NameMatch {
    find(typed, &known_names())
}

fn entries<'a>(one: &'a StarterSpecies, scheme: &str) -> Vec<&'a str> {
    one.listings.iter().filter(|listing| listing.scheme == scheme).map(|listing| listing.entry.as_str()).collect()
}

#[test]
fn the_library_holds_24_species_with_unique_accepted_names() {
    let library = library().unwrap();
    assert_eq!(library.len(), 24);
    let names: HashSet<String> = library.iter().map(|one| normalise(&one.accepted_name)).collect();
    assert_eq!(names.len(), 24);
}

#[test]
fn an_unknown_field_is_refused() {
    let mut value = serde_json::to_value(species("Aphonopelma chalcodes")).unwrap();
    value["colour"] = "blonde".into();
    assert!(serde_json::from_value::<StarterSpecies>(value).is_err());
}

#[test]
fn every_range_runs_upwards_and_none_is_empty() {
    for one in library().unwrap() {
        let name = &one.accepted_name;
        let days = one.stage_days;
        let mut ranges = vec![
            (one.adult_span_min_mm, one.adult_span_max_mm),
            (one.clutch_min, one.clutch_max),
            (one.pull_from_day, one.pull_to_day),
            days.post_embryo,
            days.first_instar,
            days.second_instar,
        ];
        for stage in LifeStage::ALL {
            let care = one.care.of(*stage);
            assert!(care.day_min_c <= care.day_max_c && care.rh_max <= 100, "{name}, {stage}");
            ranges.extend([
                (care.feed_min_days, care.feed_max_days),
                (care.moult_min_days, care.moult_max_days),
                (care.rh_min, care.rh_max),
            ]);
            assert!([care.water_days, care.clean_days, care.moult_check_days, care.count_days].iter().all(|days| *days > 0));
            assert_eq!((care.uneaten_hours, care.basis.as_str()), (24, "common practice, no source"), "{name}");
            for text in [&care.prey, &care.water, &care.substrate, &care.ventilation, &care.hide] {
                assert!(!text.trim().is_empty(), "{name}, {stage}");
            }
        }
        assert!(ranges.iter().all(|(min, max)| 0 < *min && min <= max), "{name}: {ranges:?}");
        assert!(days.post_embryo.0 < days.first_instar.0 && days.first_instar.0 < days.second_instar.0, "{name}");
    }
}

#[test]
fn feeding_and_moulting_slow_down_with_age() {
    for one in library().unwrap() {
        let (young, middle, adult) = (&one.care.spiderling, &one.care.juvenile, &one.care.adult);
        assert!(young.feed_min_days < middle.feed_min_days && middle.feed_min_days < adult.feed_min_days);
        assert!(young.moult_min_days < middle.moult_min_days && middle.moult_min_days < adult.moult_min_days);
    }
}

#[test]
fn adult_moult_months_are_kept_as_days_of_30_4_to_the_month() {
    // Common practice, no source: 12 to 24 months for Brachypelma hamorii.
    let adult = species("Brachypelma hamorii").care.adult;
    assert_eq!((adult.moult_min_days, adult.moult_max_days), (365, 730));
}

#[test]
fn every_listing_has_its_source_and_the_day_it_was_checked() {
    let checked = NaiveDate::from_ymd_opt(2026, 11, 25).unwrap();
    for listing in library().unwrap().iter().flat_map(|one| &one.listings) {
        assert!(!listing.scheme.is_empty() && !listing.entry.is_empty() && !listing.source.is_empty());
        assert_eq!(listing.last_checked, checked);
        assert!(listing.valid_from.is_none_or(|day| day <= checked));
        assert!(listing.verified || listing.note.to_lowercase().contains("not"), "{}: say what is unverified", listing.entry);
    }
}

#[test]
fn venom_concern_follows_the_subfamilies_with_the_highest_cramp_rates() {
    // Hauke & Herzig 2021: Poecilotheriinae, Harpactirinae and Stromatopelminae. The rest is a project classification:
    // common practice, no source.
    let significant = ["Poecilotheria", "Heteroscodra", "Stromatopelma", "Pterinochilus"];
    let moderate = ["Monocentropus", "Hysterocrates", "Cyriopagopus", "Chilobrachys", "Psalmopoeus", "Ephebopus", "Dolichothele"];
    for one in library().unwrap() {
        let genus = one.accepted_name.split(' ').next().unwrap();
        let expected = if significant.contains(&genus) {
            Venom::Significant
        } else if moderate.contains(&genus) {
            Venom::Moderate
        } else {
            Venom::Mild
        };
        assert_eq!(one.venom, expected, "{genus}");
        assert!(!one.venom_basis.is_empty());
    }
}

#[test]
fn new_world_does_not_imply_setae_on_the_abdomen() {
    // Bertani & Guadanucci 2013: about 90 % of New World species have urticating setae, and no Old World species has.
    // Foelix, Rast & Erb 2009: those of Ephebopus are on the palps.
    let off_abdomen: Vec<(String, Setae)> = library()
        .unwrap()
        .into_iter()
        .filter(|one| one.world == World::New && matches!(one.setae, Setae::None | Setae::Palps))
        .map(|one| (one.accepted_name, one.setae))
        .collect();
    assert_eq!(
        off_abdomen,
        [
            ("Psalmopoeus irminia".to_owned(), Setae::None),
            ("Ephebopus cyanognathus".to_owned(), Setae::Palps),
            ("Dolichothele diamantinensis".to_owned(), Setae::None),
        ]
    );
    assert!(library().unwrap().iter().all(|one| one.world == World::New || one.setae == Setae::None));
}

#[test]
fn listings_are_those_of_the_published_lists() {
    // CITES CoP18 proposal 46 (Poecilotheria); 83 FR 36755 (P. vittata); Fukushima et al. 2019 (Brachypelma and
    // Tliltocatl listed, of Aphonopelma only A. pallidum); CITES Appendices 2023 (C. versicolor, by France).
    let esa = "US Endangered Species Act";
    let vittata = species("Poecilotheria vittata");
    assert_eq!(entries(&vittata, "CITES"), ["Appendix II"]);
    let act = vittata.listings.iter().find(|listing| listing.scheme == esa).unwrap();
    assert_eq!(act.valid_from, NaiveDate::from_ymd_opt(2018, 8, 30));
    let regalis = species("Poecilotheria regalis");
    assert_eq!(entries(&regalis, "CITES"), ["Appendix II"]);
    assert!(entries(&regalis, esa).is_empty());
    assert_eq!(entries(&species("Brachypelma hamorii"), "CITES"), ["Appendix II"]);
    assert_eq!(entries(&species("Tliltocatl albopilosus"), "CITES"), ["Appendix II"]);
    assert_eq!(entries(&species("Caribena versicolor"), "CITES"), ["Appendix III (France)"]);
    assert!(species("Aphonopelma chalcodes").listings.is_empty());
}

#[test]
fn former_names_lead_to_the_accepted_name_and_say_so() {
    // Fukushima & Bertani 2017 (Caribena); Mendoza & Francke 2020 (Tliltocatl); Lucas & Indicatti 2015 (Dolichothele).
    // The others are synonyms in general use: common practice, no source.
    for (typed, accepted) in [
        ("Brachypelma albopilosum", "Tliltocatl albopilosus"),
        ("Avicularia versicolor", "Caribena versicolor"),
        ("Haplopelma lividum", "Cyriopagopus lividus"),
        ("Poecilotheria pederseni", "Poecilotheria vittata"),
        ("Oligoxystre diamantinensis", "Dolichothele diamantinensis"),
        ("Grammostola aureostriata", "Grammostola pulchripes"),
    ] {
        let position = library().unwrap().iter().position(|one| one.accepted_name == accepted).unwrap();
        let id = SpeciesId(i64::try_from(position).unwrap() + 1);
        assert_eq!(found(typed), NameMatch::Former { id, name: typed.to_owned(), kind: NameKind::Former });
    }
}

#[test]
fn brachypelma_smithi_is_asked_about_and_never_mapped() {
    // Mendoza & Francke 2017: B. smithi and B. hamorii are two valid species.
    for typed in ["Brachypelma smithi", "B. smithi", "brachypelma  SMITHI"] {
        let NameMatch::Ambiguous { candidates, note } = found(typed) else { panic!("{typed} was mapped") };
        assert_eq!(candidates, [SpeciesId(4)]);
        assert!(note.contains("valid species"));
    }
}

#[test]
fn an_ambiguous_name_is_asked_about_even_when_it_is_also_an_accepted_one() {
    let mut known = known_names();
    known.push(KnownName { species_id: SpeciesId(25), name: "Brachypelma smithi".into(), kind: NameKind::Accepted, ambiguous_note: None });
    assert!(
        matches!(find("Brachypelma smithi", &known), NameMatch::Ambiguous { candidates, .. } if candidates == [SpeciesId(4), SpeciesId(25)])
    );
}

#[test]
fn no_name_is_a_plain_synonym_of_two_species() {
    let mut owners: HashMap<String, SpeciesId> = HashMap::new();
    for one in known_names().into_iter().filter(|one| one.ambiguous_note.is_none()) {
        let other = owners.insert(normalise(&one.name), one.species_id);
        assert_eq!(other, None, "{} is given twice", one.name);
    }
    assert!(library().unwrap().iter().flat_map(|one| &one.names).all(|name| name.kind != NameKind::Accepted));
}

#[test]
fn names_are_found_whatever_their_case_spacing_accents_and_quotes() {
    assert_eq!(normalise("  P.Vittata "), "p vittata");
    assert_eq!(normalise("Mello-Leitão"), "mello leitao");
    assert_eq!(found("P. vittata"), NameMatch::Accepted(SpeciesId(17)));
    assert_eq!(found("POECILOTHERIA   vittata"), NameMatch::Accepted(SpeciesId(17)));
    assert!(matches!(found("chilobrachys sp. ‘electric blue’"), NameMatch::Former { id: SpeciesId(23), kind: NameKind::Trade, .. }));
    assert!(matches!(found("Cobalt Blue"), NameMatch::Former { id: SpeciesId(22), kind: NameKind::Common, .. }));
}

#[test]
fn an_initial_that_fits_two_species_is_ambiguous() {
    let name = |species_id, name: &str| KnownName {
        species_id: SpeciesId(species_id),
        name: name.into(),
        kind: NameKind::Accepted,
        ambiguous_note: None,
    };
    let known = [name(1, "Poecilotheria regalis"), name(2, "Pterinochilus regalis")];
    assert!(matches!(find("P. regalis", &known), NameMatch::Ambiguous { candidates, .. } if candidates == [SpeciesId(1), SpeciesId(2)]));
    assert_eq!(find("Pt. regalis", &known), NameMatch::Unknown { near: vec![] });
}

#[test]
fn an_unknown_name_suggests_near_spellings_only() {
    assert_eq!(found("Gramostola pulcra"), NameMatch::Unknown { near: vec![SpeciesId(6)] });
    assert_eq!(found("P. vitata"), NameMatch::Unknown { near: vec![SpeciesId(17)] });
    assert_eq!(found("hamorii"), NameMatch::Unknown { near: vec![SpeciesId(4)] });
    assert_eq!(found("Caribena versicolor (Walckenaer, 1837)"), NameMatch::Unknown { near: vec![SpeciesId(2)] });
    for nothing in ["", " . \u{0} ", "house cat", &"x".repeat(100_000)] {
        assert_eq!(found(nothing), NameMatch::Unknown { near: vec![] });
    }
}
