//! Sheets of labels: where each label stands, in tenths of a millimetre, and how much text fits on a line.

use serde::{Deserialize, Serialize};

/// A sheet of equal labels. All lengths in tenths of a millimetre.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Grid {
    /// Width of the page.
    pub page_width: i64,
    /// Height of the page.
    pub page_height: i64,
    /// From the page's left edge to the first label.
    pub margin_left: i64,
    /// From its top edge to the first label.
    pub margin_top: i64,
    /// Labels in a row.
    pub columns: i64,
    /// Labels in a column.
    pub rows: i64,
    /// Width of a label.
    pub label_width: i64,
    /// Height of a label.
    pub label_height: i64,
    /// Between two labels of a row.
    pub gap_x: i64,
    /// Between two labels of a column.
    pub gap_y: i64,
}

/// The place of a label: its page from 0, and its upper left corner.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Place {
    /// The page, from 0.
    pub page: i64,
    /// From the left edge of the page, tenths of a millimetre.
    pub x: i64,
    /// From its top edge.
    pub y: i64,
}

/// Why a sheet can't be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum GridError {
    /// Too wide.
    #[error("the columns need {needed} mm across, and the page has {has} mm", needed = mm(*.0), has = mm(*.1))]
    TooWide(i64, i64),
    /// Too high.
    #[error("the rows need {needed} mm down, and the page has {has} mm", needed = mm(*.0), has = mm(*.1))]
    TooHigh(i64, i64),
}

/// Tenths of a millimetre in millimetres: `38`, `21.2`.
pub fn mm(tenths: i64) -> String {
    if tenths % 10 == 0 { (tenths / 10).to_string() } else { format!("{}.{}", tenths / 10, (tenths % 10).abs()) }
}

impl Grid {
    /// Checks that all labels stand on the page.
    ///
    /// # Errors
    /// A grid that is wider or higher than its page.
    pub fn check(&self) -> Result<(), GridError> {
        let across = self.margin_left + self.columns * self.label_width + (self.columns - 1) * self.gap_x;
        let down = self.margin_top + self.rows * self.label_height + (self.rows - 1) * self.gap_y;
        if across > self.page_width {
            return Err(GridError::TooWide(across, self.page_width));
        }
        if down > self.page_height {
            return Err(GridError::TooHigh(down, self.page_height));
        }
        Ok(())
    }

    /// How many labels a page has.
    pub fn on_a_page(&self) -> i64 {
        self.columns * self.rows
    }

    /// The places of so many labels, from the `start`th place of the first page (1 is the first), row by row.
    pub fn places(&self, start: i64, count: i64) -> Vec<Place> {
        let (columns, each) = (self.columns.max(1), self.on_a_page().max(1));
        let first = start.clamp(1, each) - 1;
        (first..first + count.max(0))
            .map(|number| {
                let on_page = number % each;
                Place {
                    page: number / each,
                    x: self.margin_left + on_page % columns * (self.label_width + self.gap_x),
                    y: self.margin_top + on_page / columns * (self.label_height + self.gap_y),
                }
            })
            .collect()
    }
}

/// The width of a letter in thousandths of the letter height, on the generous side: wide scripts are square, capitals and digits of
/// a sans-serif face at most 0.78, other letters at most 0.62 (common practice, no source; the picture is clipped as well).
fn width(letter: char) -> i64 {
    match letter {
        'i' | 'j' | 'l' | '.' | ',' | ':' | ';' | '\'' | '|' | '!' | ' ' => 330,
        '-' => 420,
        'm' | 'w' | 'M' | 'W' | '@' | '%' => 950,
        'A'..='Z' | '0'..='9' | '×' | '·' => 740,
        '\u{1100}'..='\u{11ff}'
        | '\u{2e80}'..='\u{a4cf}'
        | '\u{ac00}'..='\u{d7a3}'
        | '\u{f900}'..='\u{faff}'
        | '\u{fe30}'..='\u{fe4f}'
        | '\u{ff00}'..='\u{ff60}' => 1000,
        '\u{0300}'..='\u{036f}' => 0,
        letter if u32::from(letter) >= 0x1_f000 => 1400,
        _ => 620,
    }
}

/// The largest letter height, from `largest` down to `smallest`, at which a text fits on a line of this width; the smallest where none
/// does. Tenths of a millimetre.
pub fn fitting(text: &str, line_width: i64, largest: i64, smallest: i64) -> i64 {
    (smallest..=largest).rev().find(|height| cut(text, line_width, *height) == text).unwrap_or(smallest)
}

/// As much of a text as fits on a line of this width (tenths of a millimetre) at this letter height, with `…` where it was cut.
pub fn cut(text: &str, line_width: i64, letter_height: i64) -> String {
    let room = line_width.max(0) * 1000;
    let taken: i64 = text.chars().map(|letter| width(letter) * letter_height).sum();
    if taken <= room {
        return text.to_owned();
    }
    let mut left = room - 1000 * letter_height;
    let fits = text.chars().take_while(|letter| {
        left -= width(*letter) * letter_height;
        left >= 0
    });
    let kept: String = fits.collect();
    if room < 1000 * letter_height { String::new() } else { format!("{}…", kept.trim_end()) }
}
