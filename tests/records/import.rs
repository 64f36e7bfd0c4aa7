//! Import of spreadsheets: what a small house's files hold, and everything that can be wrong with them.

use axum::body::Body;
use axum::http::{Request, header};
use silkward::house::audit::Change;
use silkward::records::import::report::{LineReport, Report};
use silkward::records::import::{Dates, Kind, run};
use silkward::rooms::{model, store as rooms};
use silkward::species;

use crate::support::{Page, Person, TestHouse, URL, number};

const ANIMALS: &str = "tag,species,sex,sex_basis,dls_cm,instar,born_on,acquired_on,supplier,papers,source_code,locality,room,rack,shelf,position,last_moult,last_meal,note
A-001,Brachypelma albopilosum,f,exuvium,9.5,8,2024-01-10,2024-06-01,\"Hill, Dale & Sons\",Bill of 1 June 2024,C,Line of 2019,quiet ROOM,b,2,4,2025-11-20,2026-04-01,\"calm, \"\"shy\"\"\"
A002,P. vittata,,,~4,,,2025-02-03,,,,,,,,,,,
";

const COHORTS: &str = "code,species,received_on,stage,count,supplier,papers,source_code,room,rack,shelf,housing,note
GPU-26-1,Grammostola pulchra,2026-03-01,i2,120,North Hall,,C,Quiet room,B,1,vials,
TAL-26-1,Tliltocatl albopilosus,2026-03-05,ewl,300,,,C/O,,,,,one sac
";

/// A house with the library and a room with one rack of three shelves.
async fn house() -> TestHouse {
    let house = TestHouse::start().await;
    let mut write = house.app.write(None).await.unwrap();
    species::store::seed_library(&mut write).await.unwrap();
    let room = rooms::insert_room(&mut write, &model::NewRoom { name: "Quiet room".into(), walk_order: 1 }).await.unwrap();
    rooms::insert_rack(&mut write, room, &model::NewRack { name: "B".into(), walk_order: 1, shelves: 3 }).await.unwrap();
    write.commit(Change::new("house.stocked", "house", ""), "/").await.unwrap();
    house
}

async fn go(house: &TestHouse, kind: Kind, text: impl Into<Vec<u8>>) -> Report {
    run(&house.app, kind, Dates::Iso, text.into(), false).await.unwrap()
}

async fn animals(house: &TestHouse) -> i64 {
    number(house, "SELECT COUNT(*) FROM animal").await
}

fn words(line: &LineReport) -> String {
    format!("{} {}: {}", line.line, line.word(), line.details().join(" "))
}

/// A sheet of one animal with the given cell.
fn with(column: &str, cell: &str) -> String {
    let mut cells = vec![("tag", "A001"), ("species", "Poecilotheria vittata"), ("acquired_on", "2025-02-03")];
    cells.retain(|(name, _)| *name != column);
    cells.push((column, cell));
    let names: Vec<&str> = cells.iter().map(|(name, _)| *name).collect();
    let values: Vec<&str> = cells.iter().map(|(_, value)| *value).collect();
    format!("{}\n{}\n", names.join(","), values.join(","))
}

/// What is wrong with the first line of a file, which changes nothing.
async fn wrong(house: &TestHouse, text: &str) -> String {
    let report = go(house, Kind::Animals, text).await;
    assert!(!report.imported && report.errors() == 1, "{report}");
    assert_eq!(animals(house).await, 0);
    report.lines.iter().find(|line| line.word() == "error").map(words).unwrap()
}

#[tokio::test]
async fn animals_come_in_with_all_that_the_sheet_says() {
    let house = house().await;
    let report = go(&house, Kind::Animals, ANIMALS).await;
    assert!(report.imported, "{report}");
    assert_eq!(words(&report.lines[0]), "2 added: “Brachypelma albopilosum” is now called Tliltocatl albopilosus.");
    assert_eq!(words(&report.lines[1]), "3 added: No source code is given, so it is kept as U, source unknown.");
    let row: (String, String, String, String, i64, i64, String, String, i64) = sqlx::query_as(
        "SELECT animal.tag, species.accepted_name, sex_basis, supplier, start_instar, position, place.label, animal.note, span_mm
         FROM animal JOIN species ON species.id = species_id JOIN place ON place.shelf_id = animal.shelf_id
         JOIN animal_now ON animal_id = animal.id",
    )
    .fetch_one(&house.app.database.writer)
    .await
    .unwrap();
    let expected =
        ("A001", "Tliltocatl albopilosus", "exuvium", "Hill, Dale & Sons", 7, 4, "Quiet room · B · shelf 2", "calm, \"shy\"", 95);
    assert_eq!(
        row,
        (
            expected.0.into(),
            expected.1.into(),
            expected.2.into(),
            expected.3.into(),
            expected.4,
            expected.5,
            expected.6.into(),
            expected.7.into(),
            expected.8
        )
    );
    assert_eq!(number(&house, "SELECT COUNT(*) FROM measurement WHERE mm = 40 AND method = 'estimated'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM moult WHERE day = '2025-11-20'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal WHERE day = '2026-04-01' AND outcome = 'took'").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'file.imported'").await, 1);
    assert!(number(&house, "SELECT COUNT(*) FROM duty").await > 0);
}

#[tokio::test]
async fn cohorts_come_in_with_their_first_count() {
    let house = house().await;
    let report = go(&house, Kind::Cohorts, COHORTS).await;
    assert!(report.imported, "{report}");
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE bucket = 'i2'").await, 120);
    assert_eq!(number(&house, "SELECT quantity FROM ledger_balance WHERE bucket = 'ewl'").await, 300);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM cohort WHERE pre_convention = 1 AND housing = 'communal'").await, 1);
    let again = go(&house, Kind::Cohorts, COHORTS).await;
    assert_eq!((again.unchanged(), again.imported), (2, false));
    let other = go(&house, Kind::Cohorts, COHORTS.replace(",120,", ",121,")).await;
    assert_eq!(
        words(&other.lines[0]),
        "2 error: count: The book has another first count of this cohort. Correct it in the cohort's ledger."
    );
}

#[tokio::test]
async fn a_dry_run_tells_all_and_writes_nothing() {
    let house = house().await;
    let report = run(&house.app, Kind::Animals, Dates::Iso, ANIMALS.into(), true).await.unwrap();
    assert_eq!((report.added(), report.errors(), report.imported, animals(&house).await), (2, 0, false, 0));
    assert!(report.to_string().ends_with("Nothing was written: 2 to add, 0 unchanged, 0 with an error.\n"), "{report}");
}

#[tokio::test]
async fn the_same_file_again_changes_nothing_even_after_the_book_went_on() {
    let house = house().await;
    go(&house, Kind::Animals, ANIMALS).await;
    let rows = "SELECT (SELECT COUNT(*) FROM animal) + (SELECT COUNT(*) FROM meal) + (SELECT COUNT(*) FROM audit)";
    sqlx::query("UPDATE animal SET position = 9, shelf_id = 3").execute(&house.app.database.writer).await.unwrap();
    let before = number(&house, rows).await;
    let again = go(&house, Kind::Animals, ANIMALS).await;
    assert_eq!((again.unchanged(), again.errors(), again.imported), (2, 0, false));
    assert!(again.imported_before.is_some());
    assert_eq!(number(&house, rows).await, before);
}

#[tokio::test]
async fn a_line_that_says_what_the_book_says_is_unchanged_and_another_names_its_column() {
    let house = house().await;
    go(&house, Kind::Animals, ANIMALS).await;
    let more = format!("{ANIMALS}A003,P. vittata,,,,,,2025-02-03,,,C,,,,,,,,\n");
    let report = go(&house, Kind::Animals, more).await;
    assert_eq!((report.added(), report.unchanged(), report.imported), (1, 2, true), "{report}");
    let other = ANIMALS.replace("2024-06-01", "2024-06-02").replace(",9.5,", ",10,").replace("quiet ROOM,b,2", "quiet ROOM,b,3");
    let report = go(&house, Kind::Animals, other).await;
    let line = words(&report.lines[0]);
    for said in
        ["acquired_on: The book says “2024-06-01”.", "shelf: The book says “Quiet room · B · shelf 2”.", "dls_mm: The book has no such"]
    {
        assert!(line.contains(said), "{line}");
    }
}

#[tokio::test]
async fn one_wrong_line_keeps_all_out() {
    let house = house().await;
    let report = go(&house, Kind::Animals, ANIMALS.replace("P. vittata", "Brachypelma smithi")).await;
    assert_eq!((report.added(), report.errors(), report.imported, animals(&house).await), (1, 1, false, 0));
    let line = words(&report.lines[1]);
    assert!(line.contains("may mean more than one species") && line.contains("Brachypelma hamorii"), "{line}");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM import_run").await, 0);
}

#[tokio::test]
async fn every_wrong_cell_is_named_with_what_to_change() {
    let house = house().await;
    for (column, cell, said) in [
        ("tag", "A", "tag: A tag has 3 to 20"),
        ("tag", "Ä01", "tag: A tag has 3 to 20"),
        ("species", "Gramostola pulcra", "Near it: Grammostola pulchra"),
        ("species", "", "species: Fill this in."),
        ("acquired_on", "", "acquired_on: Fill this in."),
        ("acquired_on", "3/29/2026", "is not a day written as year-month-day"),
        ("acquired_on", "2026-04-16", "still to come"),
        ("acquired_on", "1950-01-01", "more than 40 years ago"),
        ("born_on", "2025-02-04", "acquired_on: This day is before the animal hatched"),
        ("sex", "girl", "sex: Write female, male or unknown."),
        ("sex_basis", "mature", "the sex is not given"),
        ("dls_mm", "big", "dls_mm: Enter a length in mm"),
        ("dls_in", "40", "dls_in: Enter a length in inches"),
        ("dls_cm", "NaN", "dls_cm: Enter"),
        ("stage", "L4", "name different skins"),
        ("source_code", "CB", "not a CITES source code"),
        ("source_code", "X", "not for spiders"),
        ("position", "0", "position: Enter a whole number from 1 to 999."),
        ("room", "Quiet room", "rack: Give room, rack and shelf together"),
        ("last_meal", "2026-13-01", "last_meal: “2026-13-01” is not a day"),
        ("note", "a\u{202e}b", "note: This holds characters that can't be seen."),
    ] {
        let line = wrong(&house, &with(column, cell)).await;
        assert!(line.starts_with("2 error: ") && line.contains(said), "{column} = {cell}: {line}");
    }
}

#[tokio::test]
async fn a_place_that_is_not_there_is_told_with_those_that_are() {
    let house = house().await;
    let sheet = |room: &str, rack: &str, shelf: &str| {
        format!("tag,species,acquired_on,room,rack,shelf\nA001,P. vittata,2025-02-03,{room},{rack},{shelf}\n")
    };
    assert!(wrong(&house, &sheet("Loft", "B", "1")).await.contains("There are: quiet room."));
    assert!(wrong(&house, &sheet("Quiet room", "Z", "1")).await.contains("There are: b."));
    assert!(wrong(&house, &sheet("Quiet room", "B", "4")).await.contains("has 3 shelves, and none is number 4"));
}

#[tokio::test]
async fn days_are_read_in_the_way_that_was_chosen() {
    let house = house().await;
    let dry =
        async |dates, cell: &str| run(&house.app, Kind::Animals, dates, with("acquired_on", cell).into(), true).await.unwrap().errors();
    for day in ["03.02.2025", "3/2/2025", "03-02-2025", "2025-02-03"] {
        assert_eq!((dry(Dates::Dmy, day).await, dry(Dates::Mdy, day).await), (0, 0), "{day}");
    }
    assert_eq!((dry(Dates::Dmy, "31/01/2025").await, dry(Dates::Mdy, "31/01/2025").await, dry(Dates::Iso, "31/01/2025").await), (0, 1, 1));
    assert_eq!(dry(Dates::Dmy, "31/01/25").await, 1);
}

#[tokio::test]
async fn byte_order_marks_line_ends_and_dividers_make_no_difference() {
    let house = house().await;
    let sheet = with("note", "a;b");
    for variant in [
        format!("\u{feff}{sheet}"),
        sheet.replace('\n', "\r\n"),
        sheet.replace("a;b", "\"a;b\"").replace(',', ";"),
        sheet.replace(',', "\t"),
        format!("\n\n{sheet}\n,,,\n"),
        sheet.replace("tag,species,acquired_on", "\"Tag\", SPECIES ,Acquired On"),
    ] {
        let report = run(&house.app, Kind::Animals, Dates::Iso, variant.clone().into(), true).await.unwrap();
        assert_eq!((report.added(), report.errors()), (1, 0), "{variant:?}: {report}");
    }
    // Lines are counted as an editor counts them, also below blank lines and cells of several lines.
    let gaps = "tag,species,acquired_on\r\n\r\nA001,P. vittata,2025-02-03\r\n\r\n\r\nA002,P. vittata,soon\r\n";
    let report = run(&house.app, Kind::Animals, Dates::Iso, gaps.into(), true).await.unwrap();
    assert_eq!(report.lines.iter().map(|line| line.line).collect::<Vec<_>>(), [3, 6]);
}

#[tokio::test]
async fn a_file_that_is_no_sheet_is_refused_whole_with_what_to_do() {
    let house = house().await;
    let windows: Vec<u8> = [b"tag,species,acquired_on,note\nA001,P. vittata,2025-02-03,caf".as_slice(), b"\xe9\n"].concat();
    let utf16: Vec<u8> = std::iter::once(0xfeff_u16).chain("tag".encode_utf16()).flat_map(u16::to_le_bytes).collect();
    let cases: [(Vec<u8>, &str); 12] = [
        (Vec::new(), "The file is empty."),
        (b" \n\n".to_vec(), "nothing but blank lines"),
        (windows, "Line 2 is not UTF-8. Read as Windows-1252 it would hold “é”"),
        (b"tag\n\n\x81".to_vec(), "Line 3 is not UTF-8. Save"),
        (utf16, "UTF-16"),
        (b"PK\x03\x04rest".to_vec(), "spreadsheet file, not CSV"),
        (b"tag,spe\0cies".to_vec(), "zero bytes"),
        (b"tag,species\nA001,P. vittata\n".to_vec(), "these are missing: acquired_on."),
        (b"A001,P. vittata,2025-02-03\n".to_vec(), "these are missing: tag, species, acquired_on."),
        (b"tag,species,acquired_on,Tag\n1,2,3,4\n".to_vec(), "“tag” is named twice"),
        (b"tag,species,acquired_on,dls_mm,dls_cm\n1,2,3,4,5\n".to_vec(), "more than one column"),
        (b"tag,species,acquired_on\n".to_vec(), "no line below it"),
    ];
    for (bytes, said) in cases {
        let report = go(&house, Kind::Animals, bytes).await;
        assert!(report.problems.join(" ").contains(said) && !report.imported && report.lines.is_empty(), "{said}: {report}");
    }
    assert_eq!(animals(&house).await, 0);
}

#[tokio::test]
async fn extra_columns_are_named_and_left_out_and_ragged_lines_refused() {
    let house = house().await;
    let report = go(&house, Kind::Animals, with("price", "40")).await;
    assert!(report.imported && report.warnings == ["Not one of the columns below, so it is left out: “price”."], "{report}");
    let ragged = "tag,species,acquired_on\nA002,P. vittata\nA003,P. vittata,2025-02-03,more\n\"A004,P. vittata,2025-02-03\n";
    let report = go(&house, Kind::Animals, ragged).await;
    assert_eq!((report.errors(), report.added()), (3, 0));
    assert!(words(&report.lines[0]).contains("This line has 2 cells, but the first line names 3 columns."));
}

#[tokio::test]
async fn a_tag_that_stands_twice_is_refused_at_the_second() {
    let house = house().await;
    let sheet = "tag,species,acquired_on\nA-001,P. vittata,2025-02-03\na001,P. vittata,2025-02-03\n";
    assert_eq!(wrong(&house, sheet).await, "3 error: tag: “a001” stands on line 2 already. Keep one of the two lines.");
}

#[tokio::test]
async fn a_hundred_thousand_lines_are_read_in_seconds() {
    let house = house().await;
    let mut sheet = "tag,species,acquired_on,source_code,note\n".to_owned();
    for serial in 0..100_000_u64 {
        sheet.push_str(&format!("{},Avicularia versicolor,2025-02-03,C,line {serial}\n", silkward::reckoning::tag::from_serial(serial)));
    }
    let began = std::time::Instant::now();
    let report = run(&house.app, Kind::Animals, Dates::Iso, sheet.into(), true).await.unwrap();
    assert_eq!((report.lines.len(), report.added(), report.errors()), (100_000, 100_000, 0));
    assert!(began.elapsed().as_secs() < 30, "{:?}", began.elapsed());
}

async fn upload(person: &mut Person, file: &[u8], fields: &[(&str, &str)]) -> Page {
    let (csrf, once) = person.get("/records/import").await.ok().tokens();
    send(person, file, &[&[("csrf", csrf.as_str()), ("once", once.as_str())], fields].concat()).await
}

async fn send(person: &mut Person, file: &[u8], fields: &[(&str, &str)]) -> Page {
    let mut body = Vec::new();
    for (name, value) in fields {
        body.extend(format!("--cut\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n").bytes());
    }
    body.extend(b"--cut\r\nContent-Disposition: form-data; name=\"file\"; filename=\"a.csv\"\r\nContent-Type: text/csv\r\n\r\n");
    body.extend(file);
    body.extend(b"\r\n--cut--\r\n");
    let request = Request::post("/records/import")
        .header(header::CONTENT_TYPE, "multipart/form-data; boundary=cut")
        .header(header::ORIGIN, URL)
        .body(Body::from(body))
        .unwrap();
    person.send(request).await
}

#[tokio::test]
async fn the_page_tries_a_file_and_then_imports_what_it_carried() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let tried = upload(&mut lead, ANIMALS.as_bytes(), &[("kind", "animals"), ("dates", "iso"), ("what", "try")]).await.ok();
    let tried = tried.says("Ready to import").says("2 to add, 0 unchanged, 0 with an error").says("is now called Tliltocatl albopilosus");
    assert_eq!(animals(&house).await, 0);
    let carried = tried.value("input[name=carried]");
    let fields = [("kind", "animals"), ("dates", "iso"), ("carried", carried.as_str()), ("what", "import")];
    assert_eq!(upload(&mut lead, b"", &fields).await.sent_to(), "/records/import");
    lead.get("/records/import").await.ok().says("Imported 2 animals; 0 were in the book already.");
    assert_eq!(animals(&house).await, 2);
    let again = upload(&mut lead, ANIMALS.as_bytes(), &[("kind", "animals"), ("dates", "iso"), ("what", "import")]).await.ok();
    again.says("Nothing to import").says("This very file was imported on 15 Apr 2026");
}

#[tokio::test]
async fn the_page_keeps_the_choices_and_tells_what_is_wrong() {
    let house = house().await;
    let mut lead = house.person("Ada", "lead").await;
    let none = upload(&mut lead, b"", &[("kind", "cohorts"), ("dates", "mdy"), ("what", "try")])
        .await
        .is(422)
        .says("Choose a file that is not empty.");
    assert_eq!(none.attribute("#dates option[selected]", "value"), "mdy");
    let bad = with("sex", "girl");
    let wrong = upload(&mut lead, bad.as_bytes(), &[("kind", "animals"), ("dates", "iso"), ("what", "import")]).await.is(422);
    wrong.says("Nothing can be imported yet").says("sex: Write female, male or unknown.");
    upload(&mut lead, bad.as_bytes(), &[("kind", "plants"), ("dates", "iso"), ("what", "shred")])
        .await
        .is(422)
        .says("Choose one of the list.");
    upload(&mut lead, &vec![b'x'; 18 * 1024 * 1024], &[("kind", "animals"), ("dates", "iso"), ("what", "try")]).await.is(413);
    send(&mut lead, ANIMALS.as_bytes(), &[("csrf", "forged"), ("once", "aaaaaaaaaaaaaaaaaaaaaa"), ("what", "import")]).await.is(403);
    assert_eq!(animals(&house).await, 0);
}

#[tokio::test]
async fn a_larger_file_passes_and_a_keeper_does_not() {
    let house = house().await;
    let mut sheet = "tag,species,acquired_on,note\n".to_owned();
    for serial in 0..6000_u64 {
        sheet.push_str(&format!("{},P. vittata,2025-02-03,{}\n", silkward::reckoning::tag::from_serial(serial), "a".repeat(40)));
    }
    let mut lead = house.person("Ada", "lead").await;
    let fields = [("kind", "animals"), ("dates", "iso"), ("what", "try")];
    let tried = upload(&mut lead, sheet.as_bytes(), &fields).await.ok();
    let tried = tried.says("The file is large: choose it again").says("5500 more lines are not shown");
    assert_eq!(tried.count("input[name=carried]"), 0);
    house.person("Bo", "keeper").await.get("/records/import").await.is(403);
}
