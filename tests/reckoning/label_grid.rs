//! Sheets of labels: worked by hand on the measures of a sheet of 5 by 13 (common practice, no source).

use silkward::reckoning::label_grid::{Grid, GridError, Place, cut, fitting, mm};

const SHEET: Grid = Grid {
    page_width: 2100,
    page_height: 2970,
    margin_left: 50,
    margin_top: 108,
    columns: 5,
    rows: 13,
    label_width: 380,
    label_height: 211,
    gap_x: 25,
    gap_y: 0,
};

#[test]
fn places_run_row_by_row_and_on_to_further_pages() {
    let places = SHEET.places(64, 3);
    assert_eq!(
        places,
        [
            Place { page: 0, x: 50 + 3 * 405, y: 108 + 12 * 211 },
            Place { page: 0, x: 50 + 4 * 405, y: 108 + 12 * 211 },
            Place { page: 1, x: 50, y: 108 },
        ]
    );
    assert_eq!(SHEET.places(1, 65).last().unwrap().page, 0);
    assert_eq!(SHEET.places(1, 66).last().unwrap().page, 1);
    assert!(SHEET.places(1, 0).is_empty());
}

#[test]
fn every_label_stands_on_its_page_and_none_overlaps() {
    assert_eq!(SHEET.check(), Ok(()));
    let places = SHEET.places(1, 65);
    for place in &places {
        assert!(place.x + SHEET.label_width <= SHEET.page_width && place.y + SHEET.label_height <= SHEET.page_height);
    }
    for (at, one) in places.iter().enumerate() {
        for other in &places[at + 1..] {
            let apart = (one.x - other.x).abs() >= SHEET.label_width || (one.y - other.y).abs() >= SHEET.label_height;
            assert!(apart, "{one:?} {other:?}");
        }
    }
}

#[test]
fn a_grid_that_runs_off_its_page_is_refused() {
    let wide = Grid { columns: 6, ..SHEET };
    assert_eq!(wide.check(), Err(GridError::TooWide(50 + 6 * 380 + 5 * 25, 2100)));
    assert_eq!(wide.check().unwrap_err().to_string(), "the columns need 245.5 mm across, and the page has 210 mm");
    assert!(matches!(Grid { rows: 14, ..SHEET }.check(), Err(GridError::TooHigh(..))));
}

#[test]
fn text_is_cut_to_fit_whatever_its_script() {
    assert_eq!(cut("BHAM-26-1", 220, 34), "BHAM-26-1");
    // A code gets smaller letters before anything of it is lost.
    assert_eq!(fitting("BHAM-26-1", 220, 34, 16), 34);
    let height = fitting("BHAM-26-1", 150, 34, 16);
    assert!((16..34).contains(&height) && cut("BHAM-26-1", 150, height) == "BHAM-26-1", "{height}");
    assert_eq!(fitting(&"W".repeat(300), 150, 34, 16), 16);
    for text in ["W".repeat(300), "蜘蛛".repeat(150), "ii".repeat(150), "العنكبوت ".repeat(40)] {
        let kept = cut(&text, 220, 34);
        assert!(kept.ends_with('…') && kept.chars().count() < 25, "{kept}");
    }
    assert_eq!(cut("anything", 20, 34), "");
    assert_eq!(cut("", 0, 34), "");
}

#[test]
fn millimetres_are_written_with_what_they_need() {
    assert_eq!([mm(380), mm(211), mm(0), mm(5)], ["38", "21.1", "0", "0.5"]);
}
