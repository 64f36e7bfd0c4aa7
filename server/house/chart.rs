//! Charts: pictures drawn here as SVG, coloured by the style sheet's tokens only, so that every theme and paper fits them.
//! Each has a title, a description for whoever can't see it, the same figures as a table and as CSV, and no script.
//!
//! The drawing is 340 units wide: about the width of a phone in its own units, so that its letters stay legible there; on
//! wider screens it grows and the style sheet sets smaller letters.

mod axis;
mod figures;

use std::fmt::Write as _;

pub use axis::{Axis, Tick, day_value};
pub use figures::{Figures, download};

/// The size of the drawing and what the axes take of it, in its own units.
const WIDTH: f64 = 340.0;
const PLOT: f64 = 168.0;
const LEFT: f64 = 40.0;
const RIGHT: f64 = 8.0;
const TOP: f64 = 8.0;
const FOOT: f64 = 34.0;
const ROW: f64 = 28.0;

/// How a mark is drawn; each has its own stroke or fill in every theme, told apart by dash and weight and not by colour alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Style {
    /// What the chart is about.
    Main,
    /// A reckoned line: a fit or a forecast.
    Reckoned,
    /// The limits of what is reckoned.
    Limits,
    /// What stands behind for comparison.
    Quiet,
    /// What is wanted: the range that should be kept.
    Wanted,
    /// What asks for attention.
    Alert,
}

impl Style {
    fn class(self) -> &'static str {
        match self {
            Self::Main => "main",
            Self::Reckoned => "reckoned",
            Self::Limits => "limits",
            Self::Quiet => "quiet",
            Self::Wanted => "wanted",
            Self::Alert => "alert",
        }
    }
}

/// What is drawn, in the units of the axes.
#[derive(Debug, Clone)]
pub enum Shape {
    /// A line through points.
    Line(Vec<(f64, f64)>),
    /// A line that stays at each value until the next point.
    Steps(Vec<(f64, f64)>),
    /// Single points.
    Dots(Vec<(f64, f64)>),
    /// The area between a lower and an upper value, straight from point to point: (x, lower, upper).
    Band(Vec<(f64, f64, f64)>),
    /// The same in steps.
    StepBand(Vec<(f64, f64, f64)>),
    /// From one x to another over the whole height.
    Span(f64, f64),
    /// One x over the whole height.
    Rule(f64),
}

/// A mark with its words in the key; a mark without words is not in the key.
#[derive(Debug, Clone)]
pub struct Mark {
    /// How it is drawn.
    pub style: Style,
    /// What is drawn.
    pub shape: Shape,
    /// What it is, for the key; empty for none.
    pub label: String,
}

/// A row of figures under the x axis, such as the numbers at risk: each stands at its x.
#[derive(Debug, Clone)]
pub struct Under {
    /// What they are.
    pub label: String,
    /// Where each stands, and what it says.
    pub values: Vec<(f64, String)>,
}

/// A chart, ready to be drawn by `shared/chart.html`.
#[derive(Debug, Clone)]
pub struct Chart {
    /// Names it on its page; the picture's title and description have ids made of it.
    pub id: &'static str,
    /// What it shows, in a few words.
    pub title: String,
    /// What can be seen in it, in sentences.
    pub description: String,
    /// The axis across.
    pub x: Axis,
    /// The axis up.
    pub y: Axis,
    /// What is drawn, from the back to the front.
    pub marks: Vec<Mark>,
    /// Figures under the x axis.
    pub under: Option<Under>,
    /// The same figures as a table.
    pub figures: Figures,
    /// Where the figures are given as CSV.
    pub csv: String,
}

/// One mark as the template writes it.
#[derive(Debug)]
pub struct Drawn {
    /// The classes of its style and kind.
    pub class: String,
    /// The path.
    pub path: String,
}

/// A line of the axes with its words.
#[derive(Debug)]
pub struct Place {
    /// Where it stands, in the drawing's units.
    pub at: String,
    /// Which end of the words stands there: start, middle, end.
    pub anchor: &'static str,
    /// What it says.
    pub label: String,
}

impl Chart {
    /// The drawing's width and height.
    #[must_use]
    pub fn view_box(&self) -> String {
        format!("0 0 {WIDTH} {}", self.height())
    }

    fn height(&self) -> f64 {
        TOP + PLOT + FOOT + if self.under.is_some() { ROW } else { 0.0 }
    }

    /// Where the frame of the plot stands: left, right, top and bottom, and the middle across.
    #[must_use]
    pub fn frame(&self) -> [f64; 5] {
        [LEFT, WIDTH - RIGHT, TOP, TOP + PLOT, (LEFT + WIDTH - RIGHT) / 2.0]
    }

    /// The marks, from the back to the front. What lies outside the axes is cut off by the frame.
    #[must_use]
    pub fn drawn(&self) -> Vec<Drawn> {
        self.marks.iter().map(|mark| Drawn { class: mark.class(), path: self.path(&mark.shape) }).collect()
    }

    /// The marks that have words.
    pub fn key(&self) -> impl Iterator<Item = &Mark> {
        self.marks.iter().filter(|mark| !mark.label.is_empty())
    }

    /// The lines of the x axis.
    #[must_use]
    pub fn across(&self) -> Vec<Place> {
        self.places(self.x.ticks.iter().map(|tick| (tick.at, tick.label.clone())))
    }

    /// The lines of the y axis.
    #[must_use]
    pub fn up(&self) -> Vec<Place> {
        let place = |tick: &Tick| Place { at: short(self.y_of(tick.at)), anchor: "end", label: tick.label.clone() };
        self.y.ticks.iter().map(place).collect()
    }

    /// The row of figures under the axis.
    #[must_use]
    pub fn below(&self) -> Vec<Place> {
        self.under.as_ref().map(|under| self.places(under.values.iter().cloned())).unwrap_or_default()
    }

    /// Words at x: those at either end stay inside the drawing.
    fn places(&self, ticks: impl Iterator<Item = (f64, String)>) -> Vec<Place> {
        ticks
            .map(|(at, label)| {
                let x = self.x_of(at);
                let anchor = if x > WIDTH - RIGHT - 14.0 { "end" } else { "middle" };
                Place { at: short(x), anchor, label }
            })
            .collect()
    }

    fn x_of(&self, value: f64) -> f64 {
        LEFT + self.x.share(value) * (WIDTH - LEFT - RIGHT)
    }

    fn y_of(&self, value: f64) -> f64 {
        TOP + (1.0 - self.y.share(value)) * PLOT
    }

    fn path(&self, shape: &Shape) -> String {
        let at = |(x, y): (f64, f64)| format!("{} {}", short(self.x_of(x)), short(self.y_of(y)));
        match shape {
            Shape::Line(points) => joined(points.iter().map(|point| at(*point))),
            Shape::Steps(points) => joined(stepped(points).into_iter().map(at)),
            Shape::Dots(points) => points.iter().fold(String::new(), |mut path, point| {
                // A line of no length with round ends is a dot of the stroke's width.
                let _ = write!(path, "M{}h0", at(*point));
                path
            }),
            Shape::Band(points) => {
                let lower = points.iter().rev().map(|(x, lower, _)| (*x, *lower));
                closed(points.iter().map(|(x, _, upper)| (*x, *upper)).chain(lower).map(at))
            }
            Shape::StepBand(points) => {
                let upper: Vec<_> = points.iter().map(|(x, _, upper)| (*x, *upper)).collect();
                let lower: Vec<_> = points.iter().map(|(x, lower, _)| (*x, *lower)).collect();
                closed(stepped(&upper).into_iter().chain(stepped(&lower).into_iter().rev()).map(at))
            }
            Shape::Span(from, to) => {
                let (from, to) = (short(self.x_of(*from)), short(self.x_of(*to)));
                format!("M{from} {TOP}H{to}V{}H{from}Z", TOP + PLOT)
            }
            Shape::Rule(x) => format!("M{} {TOP}V{}", short(self.x_of(*x)), TOP + PLOT),
        }
    }
}

impl Mark {
    /// A mark with its words in the key.
    #[must_use]
    pub fn new(style: Style, shape: Shape, label: impl Into<String>) -> Self {
        Self { style, shape, label: label.into() }
    }

    /// The classes of its style and kind.
    #[must_use]
    pub fn class(&self) -> String {
        let kind = match self.shape {
            Shape::Line(_) | Shape::Steps(_) | Shape::Rule(_) => "line",
            Shape::Dots(_) => "dots",
            Shape::Band(_) | Shape::StepBand(_) | Shape::Span(..) => "area",
        };
        format!("{kind} {}", self.style.class())
    }

    /// A small piece of the mark, for the key: 24 wide, 12 high.
    #[must_use]
    pub fn swatch(&self) -> &'static str {
        match self.shape {
            Shape::Line(_) | Shape::Steps(_) => "M1 6H23",
            Shape::Rule(_) => "M12 0V12",
            Shape::Dots(_) => "M12 6h0",
            Shape::Band(_) | Shape::StepBand(_) | Shape::Span(..) => "M1 1H23V11H1Z",
        }
    }
}

/// The corners of a line that stays at each value until the next point.
fn stepped(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut corners = Vec::with_capacity(points.len() * 2);
    let mut level = None;
    for (x, y) in points {
        corners.extend(level.map(|level| (*x, level)));
        corners.push((*x, *y));
        level = Some(*y);
    }
    corners
}

fn joined(points: impl Iterator<Item = String>) -> String {
    points.enumerate().fold(String::new(), |mut path, (index, point)| {
        let _ = write!(path, "{}{point}", if index == 0 { 'M' } else { 'L' });
        path
    })
}

fn closed(points: impl Iterator<Item = String>) -> String {
    let path = joined(points);
    if path.is_empty() { path } else { path + "Z" }
}

/// A coordinate with a tenth of a unit, which is finer than a screen shows.
fn short(value: f64) -> String {
    let text = format!("{value:.1}");
    text.strip_suffix(".0").map(ToOwned::to_owned).unwrap_or(text)
}
