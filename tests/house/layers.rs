//! The rules of the house that the compiler does not keep: who imports what, and what templates may hold. Those of the
//! ground floor are in `tests/reckoning/ground.rs`.

use std::path::Path;

use super::sources::{Source, all};

fn uses(source: &Source) -> impl Iterator<Item = &str> {
    source.text.lines().map(str::trim).filter(|line| line.starts_with("use ") || line.starts_with("pub use "))
}

#[test]
fn imports_run_downwards() {
    for source in all("server", ".rs") {
        let name = source.path.rsplit('/').next().unwrap();
        let is_store = name == "store.rs" || source.path.contains("/store/");
        let is_model = name == "model.rs" || source.path.contains("/model/");
        if is_store || is_model {
            for above in ["::pages", "axum::", "askama::"] {
                assert!(!source.text.contains(above), "{} names {above}", source.path);
            }
        }
        if is_model {
            assert!(!uses(&source).any(|line| line.contains("store")), "{} names a store", source.path);
        }
        let room = source.path.split('/').nth(1).unwrap();
        for line in uses(&source).filter(|line| line.contains("::pages")) {
            assert!(
                line.contains("super::") || line.contains(&format!("crate::{room}::")),
                "{} reaches into another room: {line}",
                source.path
            );
        }
    }
}

#[test]
fn stores_call_other_rooms_in_one_order_only() {
    const ORDER: [&str; 11] =
        ["staff", "rooms", "species", "handling", "animals", "cohorts", "breeding", "rounds", "papers", "sales", "records"];
    for source in all("server", ".rs") {
        let mut parts = source.path.split('/').skip(1);
        let (room, rest) = (parts.next().unwrap(), source.path.clone());
        let Some(place) = ORDER.iter().position(|known| *known == room) else { continue };
        if !(rest.ends_with("/store.rs") || rest.contains("/store/")) {
            continue;
        }
        for later in &ORDER[place + 1..] {
            let named = source.text.contains(&format!("crate::{later}::store"));
            assert!(!named, "{} calls the store of {later}, which stands above it", source.path);
        }
    }
}

/// Templates that write something as it is, and why that is safe.
const AS_IT_IS: [(&str, &str); 7] = [
    ("templates/staff/tablet_link.html", "the picture of a QR code that the program drew"),
    ("templates/papers/strip-1.html", "the picture of a QR code that the program drew"),
    ("templates/papers/strip-2.html", "the picture of a QR code that the program drew"),
    ("templates/papers/strip-2-de.html", "the picture of a QR code that the program drew"),
    ("templates/papers/vial_labels.html", "the picture of a QR code that the program drew, and a mark of two figures"),
    ("templates/papers/rehouse_card.html", "the picture of a QR code that the program drew"),
    ("templates/cohorts/labels.html", "pictures of QR codes that the program drew"),
];

#[test]
fn templates_hold_no_script_style_or_unescaped_text() {
    for source in all("templates", ".html") {
        // Our own script files are no inline scripts.
        let text = source.text.to_lowercase().replace("<script type=\"module\" src=\"{{ crate::house::assets::address(", "");
        for inline in ["<script", "<style", " style=\"", "javascript:", " onclick=", " onload=", " onsubmit=", " onchange=", " onerror="] {
            assert!(!text.contains(inline), "{} holds {inline}", source.path);
        }
        if text.contains("|safe") || text.contains("| safe") {
            assert!(AS_IT_IS.iter().any(|(path, _)| *path == source.path), "{} writes something as it is", source.path);
        }
    }
}

#[test]
fn files_that_templates_name_exist() {
    let mut named = 0;
    for source in all("templates", ".html") {
        for part in source.text.split("assets::address(\"").skip(1) {
            let file = part.split('"').next().unwrap();
            assert!(Path::new(env!("CARGO_MANIFEST_DIR")).join("static").join(file).exists(), "{}: {file}", source.path);
            named += 1;
        }
    }
    assert!(named >= 3);
}

#[test]
fn files_stay_small() {
    for source in all("server", ".rs") {
        assert!(source.text.lines().count() <= 500, "{} has a second subject", source.path);
    }
    for source in all("templates", ".html") {
        assert!(source.text.lines().count() <= 120, "{} has a second subject", source.path);
    }
}
