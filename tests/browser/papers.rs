//! Every kind of paper as a PDF on A4 and on Letter: its text read back by `pdftotext`, its codes by `zbarimg`, its pages measured by
//! `pdfinfo`. Names of other scripts need their fonts, which `tests/run` installs.

use std::path::{Path, PathBuf};
use std::process::Command;

use base64::Engine as _;
use silkward::handling::model::{IncidentKind, NewIncident, NoteTopic};
use silkward::house::audit::Change;
use silkward::house::ids::{AnimalId, LabelSheetId};
use silkward::house::write::Write;
use silkward::papers::model::{Kin, NewDocument, Paper, PaperKind};
use silkward::papers::store::{self, NewLabels};
use silkward::reckoning::stage::Stage;
use silkward::sales::model::{Lot, NewBuyer};
use silkward::{animals, handling, sales};

use crate::driver::{Browser, Scripts, pictures};
use crate::served::{PHRASE, Served, today};

/// The house's and the buyers' names: right to left, wide, and as long as the book takes.
const HOUSE: &str = "蜘蛛屋 Webbed House";
const BUYERS: [&str; 3] = ["שרה עכביש", "田中蜘蛛子", "يوسف العنكبوتي"];

/// Nobody sees these marks; tools put them around text of either direction.
fn plain(text: &str) -> String {
    text.chars()
        .filter(|letter| {
            !('\u{200e}'..='\u{200f}').contains(letter)
                && !('\u{202a}'..='\u{202e}').contains(letter)
                && !('\u{2066}'..='\u{2069}').contains(letter)
        })
        .collect()
}

pub fn squeezed(text: &str) -> String {
    plain(text).split_whitespace().collect::<Vec<_>>().join(" ")
}

fn solid(text: &str) -> String {
    plain(text).split_whitespace().collect()
}

async fn member(house: &Served, name: &str) -> silkward::house::ids::MemberId {
    sqlx::query_scalar("SELECT id FROM member WHERE name = ?").bind(name).fetch_one(&house.app.database.writer).await.unwrap()
}

async fn hand_over(write: &mut Write, house: &Served, buyer: &str, animals: &[AnimalId], lot: Option<u32>) {
    let new = NewBuyer { name: buyer.to_owned(), contact: "0199 555".to_owned(), address: "1 Quay".to_owned() };
    let buyer = sales::store::insert_buyer(write, &new).await.unwrap();
    let handover = sales::store::insert_handover(write, buyer, "").await.unwrap();
    for animal in animals {
        sales::store::add_animal_line(write, handover, *animal).await.unwrap();
    }
    if let Some(quantity) = lot {
        let lot = Lot { cohort: house.cohort, stage: Stage::Instar(3), quantity };
        sales::store::add_lot_line(write, handover, lot).await.unwrap();
    }
    store::issue_box_label(write, &house.app, handover).await.unwrap();
    sales::store::show_risk(write, handover).await.unwrap();
    sales::store::hand_over(write, &house.app, handover, Some("for the test")).await.unwrap();
}

/// Issues every kind; gives the papers in the order of their ids.
async fn issue_all(house: &Served) -> Vec<Paper> {
    let lead = member(house, "Lena").await;
    sqlx::query("UPDATE site SET name = ?, address = 'Reed Lane 3', emergency = 'Emergency: 112'")
        .bind(HOUSE)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    house.app.refresh_site().await.unwrap();
    let mut write = house.app.write(Some(lead)).await.unwrap();
    let paper = NewDocument {
        kin: Kin::Animal(house.risky),
        kind: "permit".parse().unwrap(),
        number: "IMP-9".to_owned(),
        issuer: "Ministry of Reeds".to_owned(),
        dated_on: today(),
        note: String::new(),
    };
    store::add_document(&mut write, &paper).await.unwrap();
    store::issue_rehouse_card(&mut write, &house.app, house.risky).await.unwrap();
    let sheet = LabelSheetId(1);
    let labels = NewLabels { cohort: house.cohort, sheet, start: 4, count: Some(70), stage: None };
    store::issue_vial_labels(&mut write, &house.app, &labels).await.unwrap();
    let incident = NewIncident { kind: "bite".parse::<IncidentKind>().unwrap(), animal: Some(house.risky), cohort: None, duty: None };
    let incident = handling::store::record_incident(&mut write, &incident).await.unwrap();
    handling::store::add_note(&mut write, incident, "symptoms".parse::<NoteTopic>().unwrap(), "At 14:05: cramp in the arm").await.unwrap();
    store::issue_incident_report(&mut write, &house.app, incident).await.unwrap();
    hand_over(&mut write, house, BUYERS[0], &[house.risky], None).await;
    hand_over(&mut write, house, BUYERS[1], &house.ready_for_sale[..1], Some(40)).await;
    hand_over(&mut write, house, BUYERS[2], &house.ready_for_sale[1..2], None).await;
    write.commit(Change::new("test.papers", "house", "every kind"), "/").await.unwrap();
    let ids: Vec<silkward::house::ids::PaperId> =
        sqlx::query_scalar("SELECT id FROM paper ORDER BY id").fetch_all(&house.app.database.writer).await.unwrap();
    let mut papers = Vec::new();
    for id in ids {
        papers.push(store::require(&mut house.app.read().await.unwrap(), id).await.unwrap());
    }
    papers
}

/// Prints the open page as a PDF, on pages of the size that its own style sheets ask for.
pub async fn print(browser: &Browser, file: &Path) {
    let wanted = serde_json::json!({ "preferCSSPageSize": true, "printBackground": false, "generateTaggedPDF": true });
    let printed = browser.driver.cdp().send_raw("Page.printToPDF", wanted).await.unwrap();
    let bytes = base64::engine::general_purpose::STANDARD.decode(printed["data"].as_str().unwrap()).unwrap();
    std::fs::write(file, bytes).unwrap();
}

pub fn run(command: &str, arguments: &[&str]) -> String {
    let done =
        Command::new(command).args(arguments).output().unwrap_or_else(|error| panic!("{command} is installed by tests/run: {error}"));
    String::from_utf8_lossy(&done.stdout).into_owned()
}

/// The width and height of each page, in points.
fn sizes(pdf: &str) -> Vec<(f64, f64)> {
    let told = run("pdfinfo", &["-f", "1", "-l", "50", pdf]);
    let size = |line: &str| {
        let (_, size) = line.split_once("size:")?;
        let mut figures = size.split_whitespace().filter_map(|word| word.parse::<f64>().ok());
        Some((figures.next()?, figures.next()?))
    };
    told.lines().filter(|line| line.starts_with("Page ")).filter_map(size).collect()
}

/// What an independent reader finds in the codes of every page.
pub fn codes(pdf: &str, folder: &Path) -> Vec<String> {
    let stem = folder.join("page");
    run("pdftoppm", &["-r", "220", "-gray", "-png", pdf, stem.to_str().unwrap()]);
    let mut pages: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|file| file.unwrap().path())
        .filter(|path| path.extension().is_some_and(|kind| kind == "png"))
        .collect();
    pages.sort();
    let found = pages
        .iter()
        .flat_map(|page| run("zbarimg", &["--raw", "-q", page.to_str().unwrap()]).lines().map(str::to_owned).collect::<Vec<_>>())
        .collect();
    for page in pages {
        std::fs::remove_file(page).unwrap();
    }
    found
}

/// What a paper of each kind says, among the rest.
fn expected(kind: PaperKind) -> &'static [&'static str] {
    match kind {
        PaperKind::OriginStatement => &[
            "Statement of origin",
            "CITES source code",
            "Captive generation",
            "Ancestors on record",
            "does not decide law",
            "are not CITES codes",
        ],
        PaperKind::RiskAcknowledgement => {
            &["Risk acknowledgement", "Band 3 of 0 to 3", "Fuchs et al. 2014", "Call your local emergency number", "at least 18 years"]
        }
        PaperKind::HandoverNote => {
            &["Handover note", "What left", "Papers that go with it", "Terms of live arrival", "Received in good order"]
        }
        PaperKind::BoxLabel => &["LIVE INVERTEBRATES", "LIVE ANIMALS", "THIS WAY UP", "Keep between 5 °C and 30 °C", "0199 555"],
        PaperKind::VialLabels => &["TALB26-1", "third instar", "15 Apr 2026", "100 mm"],
        PaperKind::RehouseCard => &["Poecilotheria regalis", "Band 3", "Next rehouse", "Enclosure"],
        PaperKind::IncidentReport => &[
            "Call your local emergency number, poison centre or a clinician. This is not medical advice.",
            "cramp in the arm",
            "Emergency: 112",
        ],
        PaperKind::CareSheet => &["Care sheet"],
        PaperKind::Receipt | PaperKind::CreditNote | PaperKind::RecallLetter => &[],
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn every_kind_of_paper_prints_on_a4_and_letter_and_is_read_back() {
    let house = Served::start().await;
    let papers = issue_all(&house).await;
    let mut browser = Browser::start(1000, 1200, Scripts::On).await;
    browser.open(&format!("{}/sign-in", house.address)).await;
    browser.type_in("#sign_in_name", "lena").await;
    browser.type_in("#pass_phrase", PHRASE).await;
    browser.tap("main form.sheet button").await;
    browser.says("Today").await;
    let folder = tempfile::tempdir().unwrap();
    let mut buyers_read = [0; BUYERS.len()];
    for paper in &papers {
        let printed = paper.printed_address(&house.app.link_key);
        for (size, points) in [("a4", (595.3, 841.9)), ("letter", (612.0, 792.0))] {
            let what = format!("{} {} on {size}", paper.number, paper.kind);
            browser.open(&format!("{}/papers/{}?size={size}", house.address, paper.id)).await;
            let pdf = folder.path().join(format!("{}-{size}.pdf", paper.number));
            print(&browser, &pdf).await;
            std::fs::copy(&pdf, pictures().join(format!("{}-{size}.pdf", paper.kind.code()))).unwrap();
            let pdf = pdf.to_str().unwrap();
            let text = squeezed(&run("pdftotext", &[pdf, "-"]));
            for words in expected(paper.kind) {
                assert!(text.contains(words), "{what} does not say “{words}”:\n{text}");
            }
            assert!(text.contains(&paper.number), "{what}:\n{text}");
            assert!(solid(&text).contains(&paper.fingerprint), "{what} does not carry its fingerprint:\n{text}");
            // Labels keep the page of their own sheet, whatever paper is in the printer.
            let page = if paper.kind == PaperKind::VialLabels { (595.3, 841.9) } else { points };
            for got in sizes(pdf) {
                assert!((got.0 - page.0).abs() < 1.0 && (got.1 - page.1).abs() < 1.0, "{what}: {got:?}");
            }
            let codes = codes(pdf, folder.path());
            assert!(codes.contains(&printed), "{what}: {printed} is not among {codes:?}");
            assert!(solid(&text).contains(&solid(&printed)), "{what}: the address does not stand in words");
            if paper.kind == PaperKind::VialLabels {
                let tag = format!("{}/t/TALB26-1", house.app.config.public_url);
                assert_eq!(sizes(pdf).len(), 3, "{what}");
                assert!(codes.contains(&tag), "{what}: {codes:?}");
                assert_eq!(text.matches("TALB26-1").count(), 70 + 2, "{what}");
            } else if paper.kind != PaperKind::CareSheet {
                assert!(text.contains("Webbed House") && solid(&text).contains("蜘蛛屋"), "{what} does not name the house:\n{text}");
            }
            if paper.names_person {
                for (buyer, read) in BUYERS.iter().zip(&mut buyers_read) {
                    *read += usize::from(solid(&text).contains(&solid(buyer)));
                }
            }
        }
    }
    assert!(buyers_read.iter().all(|read| *read >= 6), "names came back so often: {buyers_read:?} of {BUYERS:?}");
    let kinds: std::collections::BTreeSet<&str> = papers.iter().map(|paper| paper.kind.code()).collect();
    assert_eq!(kinds.len(), 8);
    browser.end().await;
    assert!(!animals::store::require(&mut house.app.read().await.unwrap(), house.risky).await.unwrap().is_alive());
}
