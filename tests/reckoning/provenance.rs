use silkward::reckoning::provenance::{SourceCode, SourceError, check_brood, check_source};

// Worked value: CITES Res. Conf. 12.3; wording in 50 CFR 23.24.
#[test]
fn codes_that_no_spider_can_have_are_refused() {
    for code in ["A", "Y", "X", "D", "a", " d "] {
        let refused = check_source(code).unwrap_err();
        assert!(matches!(refused, SourceError::NotForSpiders { .. }), "{code}");
    }
    assert!(check_source("D").unwrap_err().to_string().contains("Appendix I"));
    assert!(check_source("C/A").is_err());
}

// Worked value: O is used with another code (50 CFR 23.24).
#[test]
fn pre_convention_needs_a_second_code() {
    assert_eq!(check_source("O"), Err(SourceError::PreConventionAlone));
    for typed in ["C/O", "O C", "c o", "O,C"] {
        let source = check_source(typed).unwrap();
        assert_eq!((source.code, source.pre_convention), (SourceCode::Captive, true), "{typed}");
    }
}

#[test]
fn the_codes_of_spiders_are_taken_and_others_are_not() {
    for code in SourceCode::ALL {
        let source = check_source(code.code()).unwrap();
        assert_eq!((source.code, source.pre_convention), (*code, false));
    }
    assert_eq!(check_source(" "), Err(SourceError::Empty));
    assert_eq!(check_source("C F"), Err(SourceError::SeveralCodes));
    assert!(matches!(check_source("CB"), Err(SourceError::NotACode(_))));
    assert!(check_source(&"Ω".repeat(10_000)).unwrap_err().to_string().len() < 300);
}

// CITES Notification 1998/14.
#[test]
fn the_brood_of_a_wild_mated_dam_is_neither_bred_nor_born_in_captivity() {
    for code in [SourceCode::Captive, SourceCode::Born] {
        assert_eq!(check_brood(code, true), Err(SourceError::WildMated(code.code())));
        assert_eq!(check_brood(code, false), Ok(()));
    }
    assert_eq!(check_brood(SourceCode::Wild, true), Ok(()));
    assert_eq!(check_brood(SourceCode::Ranched, true), Ok(()));
}
