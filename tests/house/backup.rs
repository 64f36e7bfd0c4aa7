//! A backup brings the same house back, and a damaged one is refused.

use silkward::house::app::App;
use silkward::house::audit;
use silkward::house::backup;
use silkward::house::clock::Clock;
use silkward::house::config::Config;
use silkward::house::database::Durability;

use crate::support::{TestHouse, noon};

fn at(folder: &tempfile::TempDir) -> Config {
    Config::new(folder.path().join("data"), "127.0.0.1:7373".parse().unwrap(), None).unwrap()
}

#[tokio::test]
async fn a_backup_of_a_house_at_work_brings_the_same_house_back() {
    let house = TestHouse::start().await;
    let mut lead = house.person("Ada", "lead").await;
    lead.submit("/rooms/new", &[("name", "Quiet room"), ("walk_order", "1")]).await.sent_to();
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("monday.backup");
    backup::write(&house.app.config, &file).await.unwrap();
    backup::restore(&at(&folder), &file).await.unwrap();
    let restored = App::open(at(&folder), Clock::standing_at(noon()), Durability::Full).await.unwrap();
    let rooms: Vec<String> = sqlx::query_scalar("SELECT name FROM room").fetch_all(&restored.database.reader).await.unwrap();
    assert_eq!(rooms, ["Quiet room"]);
    let before = audit::head(&mut house.app.read().await.unwrap()).await.unwrap();
    let after = audit::head(&mut restored.read().await.unwrap()).await.unwrap();
    assert_eq!(before, after);
    assert_eq!(house.app.link_key.token("a nonce"), restored.link_key.token("a nonce"));
}

#[tokio::test]
async fn a_backup_with_one_changed_byte_is_refused_and_writes_nothing() {
    let house = TestHouse::start().await;
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("monday.backup");
    backup::write(&house.app.config, &file).await.unwrap();
    let mut bytes = std::fs::read(&file).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    std::fs::write(&file, bytes).unwrap();
    let refused = backup::restore(&at(&folder), &file).await.unwrap_err().to_string();
    assert!(refused.contains("does not match its checksum"), "{refused}");
    assert!(!at(&folder).database_file().exists());
}

#[tokio::test]
async fn a_backup_replaces_nothing_and_a_restore_overwrites_no_house() {
    let house = TestHouse::start().await;
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("monday.backup");
    backup::write(&house.app.config, &file).await.unwrap();
    assert!(backup::write(&house.app.config, &file).await.is_err());
    let over = backup::restore(&house.app.config, &file).await.unwrap_err().to_string();
    assert!(over.contains("holds a house already"), "{over}");
}
