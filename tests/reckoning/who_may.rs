//! The one rule for who may. Common practice, no source.

use silkward::reckoning::hazard::Requirement;
use silkward::reckoning::who_may::{Missing, Part, Practice, Standing, TeamFault, level_for, missing, still_missing, team_faults};

const KEEPER: Standing = Standing { looks_after: true, suspended: false, level: 0 };

fn at(level: u8) -> Standing {
    Standing { level, ..KEEPER }
}

#[test]
fn the_first_holds_the_level_and_the_second_one_less() {
    let dangerous = Requirement { clearance: 3, persons: 2 };
    assert_eq!((level_for(dangerous, Part::First), level_for(dangerous, Part::Second)), (Some(3), Some(2)));
    assert_eq!(level_for(Requirement { clearance: 3, persons: 1 }, Part::Second), None);
    for level in 0..=3 {
        assert_eq!(missing(dangerous, Part::First, at(level)).is_none(), level == 3);
        assert_eq!(missing(dangerous, Part::Second, at(level)).is_none(), level >= 2);
    }
    assert_eq!(missing(dangerous, Part::First, at(1)), Some(Missing::Level { needs: 3, holds: 1 }));
}

#[test]
fn roles_and_suspensions_count_before_levels() {
    let counter = Standing { looks_after: false, suspended: false, level: 3 };
    let resting = Standing { suspended: true, ..KEEPER };
    let (free, mild) = (Requirement { clearance: 0, persons: 1 }, Requirement { clearance: 1, persons: 2 });
    assert_eq!(missing(free, Part::First, counter), Some(Missing::Role));
    assert_eq!(missing(free, Part::First, resting), None);
    assert_eq!(missing(mild, Part::First, resting), Some(Missing::Suspended));
    // The second needs no level here, and still nobody whose clearances rest takes part.
    assert_eq!(missing(mild, Part::Second, resting), Some(Missing::Suspended));
    assert_eq!(missing(mild, Part::Second, KEEPER), None);
}

#[test]
fn two_are_two_people() {
    let asked = Requirement { clearance: 3, persons: 2 };
    assert_eq!(team_faults(asked, (1, at(3)), Some((2, at(2)))), []);
    assert_eq!(team_faults(asked, (1, at(3)), Some((1, at(3)))), [TeamFault::SamePerson]);
    assert_eq!(team_faults(asked, (1, at(3)), None), [TeamFault::NoSecond]);
    let both = [TeamFault::First(Missing::Level { needs: 3, holds: 2 }), TeamFault::Second(Missing::Level { needs: 2, holds: 1 })];
    assert_eq!(team_faults(asked, (1, at(2)), Some((2, at(1)))), both);
    assert_eq!(team_faults(Requirement { clearance: 2, persons: 1 }, (1, at(2)), None), []);
}

#[test]
fn what_is_missing_is_said_in_figures() {
    let none = Practice { passed: 1, needed: 3, has_read: false };
    assert_eq!(
        still_missing(3, &none),
        ["2 more supervised rehouses of band 3 (1 of 3 passed in two years)", "reading the current text on safe work"]
    );
    assert_eq!(
        still_missing(1, &Practice { passed: 0, needed: 1, has_read: true }),
        ["1 more supervised rehouse of band 1 or above (0 of 1 passed in two years)"]
    );
    assert!(still_missing(2, &Practice { passed: 5, needed: 2, has_read: true }).is_empty());
}
