//! Labels for the vials of a cohort, as pictures in millimetres: a page for each sheet, and one to check the printer with.

use askama::Template;
use chrono::NaiveDate;

use crate::house::errors::AppError;
use crate::house::{qr, text};
use crate::reckoning::label_grid::{Grid, Place, cut, fitting, mm};

/// Space that is kept free within a label, tenths of a millimetre.
const PAD: i64 = 12;
/// The smallest code that a camera reads from a hand's breadth, tenths of a millimetre (common practice, no source).
const LEAST_CODE: i64 = 80;
/// The tallest and the smallest letters.
const LETTERS: (i64, i64) = (34, 16);
/// Height of a line as a multiple of the letter height, in tenths.
const LINE: i64 = 12;

/// What vial labels say.
pub(super) struct Labels {
    pub(super) house: String,
    pub(super) number: String,
    pub(super) day: NaiveDate,
    /// The cohort's code.
    pub(super) code: String,
    /// The letters of its species, and the species' name with its genus cut short.
    pub(super) letters: String,
    pub(super) species: String,
    /// The address that the QR code holds.
    pub(super) address: String,
    /// The stage of each label.
    pub(super) stages: Vec<String>,
    /// The sheet that it is printed on.
    pub(super) sheet: String,
    pub(super) grid: Grid,
    /// The first place of the first sheet that is still free, from 1.
    pub(super) start: i64,
}

/// One line of text on a label.
struct Line {
    y: i64,
    size: i64,
    bold: bool,
    text: String,
}

/// One label on a page.
struct Label {
    place: Place,
    lines: Vec<Line>,
}

#[derive(Template)]
#[template(path = "papers/vial_labels.html")]
struct Sheet<'a> {
    labels: &'a Labels,
    pages: Vec<Vec<Label>>,
    /// The QR code as a symbol that each label shows; drawn by the program.
    symbol: String,
    /// The side of the code on a label; 0: labels are too small for one.
    side: i64,
    /// Where text begins.
    text_x: i64,
    count: i64,
}

/// The labels as a whole HTML document.
///
/// # Errors
/// The template fails.
pub(super) fn render(labels: &Labels) -> Result<String, AppError> {
    let grid = &labels.grid;
    let count = i64::try_from(labels.stages.len()).unwrap_or(i64::MAX);
    let side = code_side(grid);
    let text_x = if side > 0 { PAD + side + PAD / 2 } else { PAD };
    let mut pages: Vec<Vec<Label>> = Vec::new();
    for (place, stage) in grid.places(labels.start, count).into_iter().zip(&labels.stages) {
        if usize::try_from(place.page).is_ok_and(|page| page >= pages.len()) {
            pages.push(Vec::new());
        }
        if let Some(page) = pages.last_mut() {
            page.push(Label { place, lines: lines(labels, stage, grid.label_width - text_x - PAD) });
        }
    }
    let symbol = qr::symbol(&labels.address, "code")?;
    Ok(Sheet { labels, pages, symbol, side, text_x, count }.render()?)
}

/// The side of the code: as high as the label, at most two fifths of its width; 0 where that is too small to be read.
fn code_side(grid: &Grid) -> i64 {
    let side = (grid.label_height - PAD).min(grid.label_width * 2 / 5);
    if side >= LEAST_CODE { side } else { 0 }
}

/// The lines that fit, the needful first: cohort, species, stage, day.
fn lines(labels: &Labels, stage: &str, width: i64) -> Vec<Line> {
    let texts = [
        (true, labels.code.clone()),
        (false, format!("{} · {}", labels.letters, labels.species)),
        (false, stage.to_owned()),
        (false, text::day(&labels.day)),
    ];
    let room = labels.grid.label_height - PAD;
    let wanted = i64::try_from(texts.len()).unwrap_or(4);
    let tall = (room * 10 / (wanted * LINE)).clamp(LETTERS.1, LETTERS.0);
    let fit = usize::try_from(room * 10 / (tall * LINE)).unwrap_or(0);
    let placed = texts.into_iter().take(fit).enumerate().map(|(row, (bold, text))| {
        let row = i64::try_from(row).unwrap_or(0);
        // Smaller letters before anything is lost: a code that is cut short names no cohort.
        let size = fitting(&text, width, tall, LETTERS.1);
        // The base line stands a letter's height below the line's top.
        Line { y: PAD / 2 + row * tall * LINE / 10 + tall, size, bold, text: cut(&text, width, size) }
    });
    placed.filter(|line| !line.text.is_empty()).collect()
}

impl Sheet<'_> {
    fn page_mark(&self) -> String {
        super::shown::label_mark(self.labels.grid.page_width, self.labels.grid.page_height)
    }

    fn width_mm(&self) -> String {
        mm(self.labels.grid.page_width)
    }

    fn height_mm(&self) -> String {
        mm(self.labels.grid.page_height)
    }

    /// The code stands in the middle of a label's height.
    fn code_y(&self) -> i64 {
        (self.labels.grid.label_height - self.side) / 2
    }
}
