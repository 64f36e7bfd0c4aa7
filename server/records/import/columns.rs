//! The columns of an import file.

use super::Kind;

/// One column.
#[derive(Debug)]
pub struct Column {
    /// Its name in the first line.
    pub name: &'static str,
    /// Other names that are taken for it.
    pub also: &'static [&'static str],
    /// Whether the file must have it.
    pub required: bool,
    /// What stands in it, in words.
    pub what: &'static str,
}

const fn needed(name: &'static str, what: &'static str) -> Column {
    Column { name, also: &[], required: true, what }
}

const fn may(name: &'static str, what: &'static str) -> Column {
    Column { name, also: &[], required: false, what }
}

const SUPPLIER: Column =
    Column { name: "supplier", also: &["origin"], required: false, what: "where it came from: a supplier, or your own line" };
const ROOM: Column = may("room", "with rack and shelf: where it stands; room, rack and shelf must be in the book");
const SOURCE: Column =
    may("source_code", "CITES source code W, R, C, F, U or I, with O beside it before the Convention; empty: U, source unknown");

static ANIMALS: [Column; 21] = [
    needed("tag", "its tag: 3 to 20 letters and digits"),
    needed("species", "its scientific name; a former name is taken as the accepted one and reported"),
    may("sex", "female, male or unknown; f, m, 0.1 and 1.0 are taken too"),
    may("sex_basis", "suspected, exuvium (shed skin) or mature; empty: suspected"),
    may("dls_mm", "leg span in millimetres; ~ before it for an estimate"),
    may("dls_cm", "the same in centimetres"),
    may("dls_in", "the same in inches"),
    Column {
        name: "stage",
        also: &["instar"],
        required: false,
        what: "instar now, counted in moults since the post-embryo: i5 or 5; or juvenile, subadult, adult",
    },
    may("born_on", "the day it hatched"),
    needed("acquired_on", "the day it came into the house"),
    SUPPLIER,
    may("papers", "the papers that came with it"),
    SOURCE,
    may("locality", "where its line comes from"),
    ROOM,
    may("rack", "see room"),
    may("shelf", "the shelf's number"),
    may("position", "its place on the shelf, 1 to 999"),
    may("last_moult", "the day of its last moult"),
    may("last_meal", "the day on which it last took prey"),
    may("note", "anything else, on one line"),
];

static COHORTS: [Column; 14] = [
    needed("code", "its code: 2 to 20 letters, digits and hyphens"),
    needed("species", "its scientific name; a former name is taken as the accepted one and reported"),
    needed("received_on", "the day it came into the house"),
    needed("stage", "egg, ewl (post-embryo), or the instar: i2 or 2"),
    needed("count", "how many came at that stage"),
    SUPPLIER,
    may("papers", "the papers that came with it"),
    SOURCE,
    may("locality", "where its line comes from"),
    ROOM,
    may("rack", "see room"),
    may("shelf", "the shelf's number"),
    may("housing", "communal (one tub) or vials; empty: communal"),
    may("note", "anything else, on one line"),
];

/// The columns of a kind of file, in the order of the documentation. The first is the one that a line is known by.
#[must_use]
pub fn of(kind: Kind) -> &'static [Column] {
    match kind {
        Kind::Animals => &ANIMALS,
        Kind::Cohorts => &COHORTS,
    }
}

/// A column's name as it is compared: small letters, single underscores, British moults.
#[must_use]
pub fn normalise(name: &str) -> String {
    let plain: String = name.chars().flat_map(char::to_lowercase).map(|c| if c.is_alphanumeric() { c } else { ' ' }).collect();
    plain.split_whitespace().collect::<Vec<_>>().join("_").replace("molt", "moult")
}

/// The column that a name stands for.
#[must_use]
pub fn find(columns: &'static [Column], name: &str) -> Option<&'static Column> {
    let wanted = normalise(name);
    columns.iter().find(|column| column.name == wanted || column.also.contains(&wanted.as_str()))
}
