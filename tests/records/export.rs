//! The export: every kind of record, readable elsewhere, and no more than it should tell.

use silkward::records::export::write_all;
use silkward::records::import::{Dates, Kind, run};

use crate::species::book::stocked;
use crate::support::TestHouse;

const SHEET: &str = "tag,species,acquired_on,source_code,supplier,dls_mm,last_meal,note
A001,P. vittata,2025-02-03,C,\"Hill, \"\"Dale\"\" & Sons\",66,2026-04-01,\"=HYPERLINK(\"\"x\"\")\"
A002,P. vittata,2025-02-03,U,@north,,,-5
A003,P. vittata,2025-02-03,U,,,,+ shy
";

async fn filled() -> TestHouse {
    let house = stocked().await;
    assert!(run(&house.app, Kind::Animals, Dates::Iso, SHEET.into(), false).await.unwrap().imported);
    house
}

fn rows(folder: &std::path::Path, file: &str) -> Vec<csv::StringRecord> {
    csv::Reader::from_path(folder.join(file)).unwrap().records().map(Result::unwrap).collect()
}

#[tokio::test]
async fn every_kind_of_record_has_its_file_with_a_line_of_names() {
    let house = filled().await;
    let folder = tempfile::tempdir().unwrap();
    let written = write_all(&house.app, &folder.path().join("out")).await.unwrap();
    let counted: Vec<(&str, u64)> = written.iter().map(|one| (one.file.as_str(), one.records)).collect();
    assert_eq!(counted[..3], [("species.csv", 24), ("animals.csv", 3), ("cohorts.csv", 0)]);
    assert_eq!(counted.len(), 25);
    let ledger = std::fs::read_to_string(folder.path().join("out/ledger.csv")).unwrap();
    assert_eq!(ledger, "id,cohort,day,kind,from_bucket,to_bucket,quantity,cause,reverses,note,member,at\r\n");
    let handovers = std::fs::read_to_string(folder.path().join("out/handovers.csv")).unwrap();
    assert!(!handovers.contains("buyer") && !handovers.contains("contact"));
}

#[tokio::test]
async fn cells_are_quoted_and_formulas_defused() {
    let house = filled().await;
    let folder = tempfile::tempdir().unwrap();
    write_all(&house.app, folder.path()).await.unwrap();
    let animals = rows(folder.path(), "animals.csv");
    let cells: Vec<(&str, &str)> = animals.iter().map(|row| (&row[8], &row[18])).collect();
    assert_eq!(cells, [("Hill, \"Dale\" & Sons", "'=HYPERLINK(\"x\")"), ("'@north", "-5"), ("", "'+ shy")]);
    assert_eq!((&animals[0][4], &animals[0][17], &animals[0][10]), ("66", "2026-04-01", "C"));
}

#[tokio::test]
async fn what_was_exported_can_be_imported_and_says_what_the_book_says() {
    let house = stocked().await;
    run(&house.app, Kind::Animals, Dates::Iso, SHEET.replace("=HYP", "HYP").replace('@', "").replace("+ ", "").into(), false)
        .await
        .unwrap();
    let folder = tempfile::tempdir().unwrap();
    write_all(&house.app, folder.path()).await.unwrap();
    let exported = std::fs::read(folder.path().join("animals.csv")).unwrap();
    let report = run(&house.app, Kind::Animals, Dates::Iso, exported, false).await.unwrap();
    assert_eq!((report.unchanged(), report.errors()), (3, 0), "{report}");
}

#[tokio::test]
async fn a_file_that_is_there_is_not_overwritten() {
    let house = filled().await;
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("cohorts.csv"), "mine").unwrap();
    let refused = write_all(&house.app, folder.path()).await.unwrap_err();
    assert_eq!(refused.to_string(), "cohorts.csv could not be written");
    assert_eq!(std::fs::read_to_string(folder.path().join("cohorts.csv")).unwrap(), "mine");
}
