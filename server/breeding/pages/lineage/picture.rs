//! A lineage as it is drawn: what stands in each box, its shape, and the lines between.

use crate::animals::model::AnimalStatus;
use crate::breeding::model::kindred::{KinAnimal, KinCohort, KinSac, Kindred};
use crate::breeding::model::lineage::{Relative, Role, Who};
use crate::house::ids::AnimalId;
use crate::house::{paths, text};
use crate::reckoning::lineage::{BOX_HEIGHT, BOX_WIDTH, Edge, Place, Tree};
use crate::reckoning::words::Sex;

/// The most letters of a line in a box; the whole stands in its title and in the table.
const LETTERS: usize = 24;
/// What is said of one that stands in the picture before.
const AGAIN: &str = ", drawn before";

/// The outline of a box, which tells what became of it whatever the colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Outline {
    /// A rectangle.
    Alive,
    /// Cut corners.
    Dead,
    /// Pointed to the right.
    Sold,
    /// Pointed, and notched on the left.
    Escaped,
    /// Round corners.
    Cohort,
    /// Round ends.
    Sac,
    /// A rectangle in dashes.
    Unknown,
}

/// A relative in words.
pub(super) struct Told {
    /// Its tag, its code, or what it is called.
    pub(super) name: String,
    /// Where it has a page.
    pub(super) href: Option<String>,
    /// What it is beside its neighbour.
    pub(super) what: String,
    /// How it stands.
    pub(super) state: String,
    pub(super) outline: Outline,
}

/// A box of the picture.
pub(super) struct Drawn {
    pub(super) told: Told,
    pub(super) path: String,
    pub(super) class: String,
    pub(super) x: u32,
    /// The baselines of its three lines.
    pub(super) y: [u32; 3],
    pub(super) lines: [String; 3],
}

/// The picture.
pub(super) struct Picture {
    pub(super) width: u32,
    pub(super) height: u32,
    pub(super) title: String,
    pub(super) description: String,
    pub(super) boxes: Vec<Drawn>,
    /// The classes and the path of each line.
    pub(super) edges: Vec<(&'static str, String)>,
}

impl Told {
    pub(super) fn of(kin: &Kindred, relative: &Relative, neighbour: Option<&Relative>) -> Self {
        let mut told = match &relative.who {
            Who::Animal(id) => kin.animals.get(id).map_or_else(|| Self::plain("–", Outline::Unknown), Self::animal),
            Who::Cohort(id) => kin.cohorts.get(id).map_or_else(|| Self::plain("–", Outline::Unknown), Self::cohort),
            Who::Sac(id) => kin.sacs.get(id).map_or_else(|| Self::plain("–", Outline::Unknown), Self::sac),
            Who::Outside(note) => Self { state: "not one of ours".to_owned(), ..Self::plain(note, Outline::Unknown) },
            Who::Unknown(what) => Self { state: "not on record".to_owned(), ..Self::plain(what, Outline::Unknown) },
            Who::More(count) => Self { state: "see the table".to_owned(), ..Self::plain(&format!("and {count} more"), Outline::Unknown) },
        };
        told.what = what(kin, relative, neighbour);
        if relative.again {
            told.what.push_str(AGAIN);
        }
        told
    }

    fn plain(name: &str, outline: Outline) -> Self {
        Self { name: name.to_owned(), href: None, what: String::new(), state: String::new(), outline }
    }

    fn animal(animal: &KinAnimal) -> Self {
        let outline = match animal.status {
            AnimalStatus::Alive => Outline::Alive,
            AnimalStatus::Dead => Outline::Dead,
            AnimalStatus::Sold => Outline::Sold,
            AnimalStatus::Escaped => Outline::Escaped,
        };
        let since = animal.status_on.map_or_else(String::new, |day| format!(" {}", text::day(&day)));
        let sex = if animal.sex == Sex::Unknown { "unsexed".to_owned() } else { animal.sex.to_string() };
        Self {
            href: Some(paths::animal(&animal.id)),
            state: format!("{sex}, {}{since}", animal.status),
            ..Self::plain(&animal.tag, outline)
        }
    }

    fn cohort(cohort: &KinCohort) -> Self {
        let tagged = if cohort.tagged > 0 { format!(", {} tagged", cohort.tagged) } else { String::new() };
        let state = format!("{} in, {} alive{tagged}", cohort.came_in, cohort.alive);
        Self { href: Some(paths::cohort(&cohort.id)), state, ..Self::plain(&cohort.code, Outline::Cohort) }
    }

    fn sac(sac: &KinSac) -> Self {
        let name = format!("Sac of {}", text::day(&sac.laid_on));
        Self { href: Some(paths::sac(&sac.id)), state: sac.state.to_string(), ..Self::plain(&name, Outline::Sac) }
    }
}

/// What a relative is beside its neighbour; of a brood, with whom it was had.
fn what(kin: &Kindred, relative: &Relative, neighbour: Option<&Relative>) -> String {
    let Some(role) = relative.role else {
        return match relative.who {
            Who::Cohort(_) => "cohort".to_owned(),
            Who::Animal(_) => "animal".to_owned(),
            _ => String::new(),
        };
    };
    let parent = neighbour.and_then(|near| if let Who::Animal(id) = near.who { Some(id) } else { None });
    let sac = match relative.who {
        Who::Cohort(id) => kin.sac_of(id),
        Who::Sac(id) => kin.sacs.get(&id),
        _ => None,
    };
    match (role, parent.zip(sac)) {
        (Role::Brood, Some((parent, sac))) => with(kin, sac, parent),
        (Role::Dam, _) if matches!(relative.who, Who::Unknown("from the wild" | "parents not known")) => "parents".to_owned(),
        _ => role.to_string(),
    }
}

/// With whom a brood was had.
fn with(kin: &Kindred, sac: &KinSac, parent: AnimalId) -> String {
    let tag = |id: &AnimalId| kin.animals.get(id).map_or("–", |animal| animal.tag.as_str());
    let sires: Vec<&str> = kin.sires_of(sac.id).iter().map(tag).collect();
    if sac.dam_id == Some(parent) {
        return if sires.is_empty() { "with a male not known".to_owned() } else { format!("with {}", sires.join(" or ")) };
    }
    let dam = sac.dam_id.as_ref().map_or("a female not ours", tag);
    if sires.len() > 1 { format!("possibly, with {dam}") } else { format!("with {dam}") }
}

impl Picture {
    pub(super) fn of(kin: &Kindred, label: &str, tree: &Tree, boxes: &[Relative]) -> Self {
        let layout = tree.layout();
        let drawn: Vec<Drawn> = boxes
            .iter()
            .zip(&layout.places)
            .enumerate()
            .map(|(number, (relative, place))| {
                Drawn::of(Told::of(kin, relative, boxes.get(relative.next_to)), relative, *place, number == 0)
            })
            .collect();
        let line = |edge: &Edge| {
            let far = boxes.get(edge.parent.max(edge.young));
            let unsure = far.is_some_and(|relative| relative.role == Some(Role::PossibleSire));
            let ((x, y), turn, (to_x, to_y)) = (edge.from, edge.turn, edge.to);
            (if unsure { "edge unsure" } else { "edge" }, format!("M{x} {y}H{turn}V{to_y}H{to_x}"))
        };
        Self {
            width: layout.width,
            height: layout.height,
            title: format!("Lineage of {label}"),
            description: described(label, boxes),
            edges: layout.edges.iter().map(line).collect(),
            boxes: drawn,
        }
    }
}

/// What can be seen in the picture, in sentences.
fn described(label: &str, boxes: &[Relative]) -> String {
    use crate::reckoning::lineage::Side;
    let relatives = boxes.get(1..).unwrap_or_default();
    let count = |side: Side, test: fn(&Who) -> bool| relatives.iter().filter(|one| one.side == side && test(&one.who)).count();
    let known = count(Side::Up, |who| matches!(who, Who::Animal(_)));
    let unknown = count(Side::Up, |who| matches!(who, Who::Unknown(_) | Who::Outside(_)));
    let cohorts = count(Side::Down, |who| matches!(who, Who::Cohort(_) | Who::Sac(_)));
    let animals = count(Side::Down, |who| matches!(who, Who::Animal(_)));
    format!(
        "{label} stands between its ancestors on the left and its descendants on the right. Ancestors: {known} in the book, {unknown} not \
         known or not ours. Descendants: {cohorts} sacs and cohorts, {animals} tagged animals that bred. The same stands in the table below."
    )
}

impl Drawn {
    fn of(told: Told, relative: &Relative, place: Place, is_self: bool) -> Self {
        let mut class = format!("kin {}", told.outline.class());
        if relative.role == Some(Role::PossibleSire) {
            class.push_str(" unsure");
        }
        if is_self {
            class.push_str(" self");
        }
        // A box has room for the main figures; the whole stands in its title and in the table.
        let (state, what) = (told.state.split(", ").take(2).collect::<Vec<_>>().join(", "), told.what.trim_end_matches(AGAIN));
        let lines = [clipped(&told.name), clipped(if relative.again { "drawn before" } else { &state }), clipped(what)];
        let inset = if told.outline == Outline::Escaped { 20 } else { 12 };
        Self { path: told.outline.path(place), class, x: place.x + inset, y: [place.y + 20, place.y + 37, place.y + 53], lines, told }
    }
}

fn clipped(words: &str) -> String {
    if words.chars().count() <= LETTERS { words.to_owned() } else { words.chars().take(LETTERS - 1).chain(['…']).collect() }
}

impl Outline {
    fn class(self) -> &'static str {
        match self {
            Self::Alive => "alive",
            Self::Dead => "dead",
            Self::Sold => "sold",
            Self::Escaped => "escaped",
            Self::Cohort => "brood",
            Self::Sac => "sac",
            Self::Unknown => "unknown",
        }
    }

    /// The outline, with its left upper corner at a place.
    fn path(self, place: Place) -> String {
        let (left, top, right, foot, middle) = (place.x, place.y, place.x + BOX_WIDTH, place.y + BOX_HEIGHT, place.y + BOX_HEIGHT / 2);
        match self {
            Self::Alive | Self::Unknown => format!("M{left} {top}H{right}V{foot}H{left}Z"),
            Self::Dead => {
                let (l, r, t, f) = (left + 10, right - 10, top + 10, foot - 10);
                format!("M{l} {top}H{r}L{right} {t}V{f}L{r} {foot}H{l}L{left} {f}V{t}Z")
            }
            Self::Sold => format!("M{left} {top}H{0}L{right} {middle}L{0} {foot}H{left}Z", right - 14),
            Self::Escaped => format!("M{left} {top}H{0}L{right} {middle}L{0} {foot}H{left}L{1} {middle}Z", right - 14, left + 12),
            Self::Cohort => rounded(place, 12),
            Self::Sac => rounded(place, BOX_HEIGHT / 2),
        }
    }
}

fn rounded(place: Place, radius: u32) -> String {
    let (left, top, right, foot) = (place.x, place.y, place.x + BOX_WIDTH, place.y + BOX_HEIGHT);
    let (l, r, t, f) = (left + radius, right - radius, top + radius, foot - radius);
    let arc = |x: u32, y: u32| format!("A{radius} {radius} 0 0 1 {x} {y}");
    format!("M{l} {top}H{r}{}V{f}{}H{l}{}V{t}{}Z", arc(right, t), arc(r, foot), arc(left, f), arc(l, top))
}
