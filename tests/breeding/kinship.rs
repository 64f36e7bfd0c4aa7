//! Kinship of the breeders of a species.

use super::kin::{brood, tag};
use super::{breeders, grown};
use crate::support::number;
use silkward::house::app::App;
use silkward::reckoning::words::{Sex, SexBasis};

async fn cell(page: &crate::support::Page, female: &str, male: &str) -> String {
    let html = scraper::Html::parse_document(&page.text());
    let select = |what: &str| scraper::Selector::parse(what).unwrap();
    let words = |cell: scraper::ElementRef<'_>| cell.text().collect::<String>().trim().trim_end_matches(" ?").to_owned();
    let table = html.select(&select("table.pinned")).next().unwrap();
    let column = table.select(&select("thead tr:first-child th")).position(|cell| words(cell) == male).unwrap();
    let row = table.select(&select("tbody tr")).find(|row| words(row.select(&select("th")).next().unwrap()) == female).unwrap();
    words(row.select(&select("td")).nth(column - 1).unwrap())
}

async fn tags(app: &App, ids: &[i64]) -> Vec<String> {
    let mut tags = Vec::new();
    for id in ids {
        tags.push(tag(app, *id).await);
    }
    tags
}

/// Falconer & Mackay 1996, chapter 5 (tests/oracles/pedigree.json): full sibs 1/4, half sibs 1/8, parent and offspring 1/4,
/// first cousins 1/16, an animal and its parent's full sib 1/8.
#[tokio::test]
async fn the_table_shows_the_textbook_values() {
    let (house, mut keeper) = breeders().await;
    // 4 and 5 are full sibs of 1 and 2; 6 and 7 half sibs of them by 1 and 3; 9 is of 4 and a stranger (8), 10 and 11 of 12 and 5.
    brood(&house.app, "ONE", 1, Some(2), "2025-06-10", 2).await;
    brood(&house.app, "TWO", 1, Some(3), "2025-08-10", 2).await;
    let stranger = grown(&house.app, "Brachypelma hamorii", Sex::Male, SexBasis::Mature).await;
    let (_, cousins) = brood(&house.app, "COUS-A", 4, Some(stranger.0), "2025-10-10", 1).await;
    let other = grown(&house.app, "Brachypelma hamorii", Sex::Female, SexBasis::Exuvium).await;
    let (_, more) = brood(&house.app, "COUS-B", other.0, Some(5), "2025-10-20", 2).await;
    let species = number(&house, "SELECT species_id FROM animal WHERE id = 1").await;
    let page = keeper.get(&format!("/breeding/kinship?species={species}")).await.ok();
    let known = tags(&house.app, &[1, 4, 5, 6, 7, stranger.0, cousins[0].0, more[1].0, 2]).await;
    let [dam, sister, brother, half_sister, half_brother, stranger, cousin, his_cousin, sire] = known.as_slice() else { panic!() };
    for (female, male, kinship) in [
        (sister, brother, "0.25"),
        (sister, half_brother, "0.125"),
        (half_sister, brother, "0.125"),
        (dam, brother, "0.25"),
        (sister, sire, "0.25"),
        (cousin, his_cousin, "0.0625"),
        (cousin, brother, "0.125"),
        (sister, stranger, "0"),
        (cousin, stranger, "0.25"),
    ] {
        assert_eq!(cell(&page, female, male).await, kinship, "{female} and {male}");
    }
    let page = page.says("Parents that are not known, or are one of several, count as strangers").says("Best pairs");
    // The least related come first, the closest are marked.
    let file = keeper.get(&format!("/breeding/kinship.csv?species={species}")).await.ok().text();
    let close = file.lines().skip(1).filter(|line| line.split(',').nth(2).unwrap().parse::<f64>().unwrap() >= 0.125).count();
    assert_eq!((page.count("table.pinned td.near strong"), close > 5), (close, true));
    let pairs = file.lines().count() - 1;
    assert_eq!(pairs, 6 * 6, "six of either sex");
    assert!(file.lines().nth(1).unwrap().contains(",0.000000,"), "{file}");
    assert!(file.contains(&format!("{sister},{brother},0.250000,")), "{file}");
}

#[tokio::test]
async fn who_has_left_is_unsexed_or_has_no_partner_is_in_no_pair() {
    let (house, mut keeper) = breeders().await;
    let species = number(&house, "SELECT species_id FROM animal WHERE id = 1").await;
    let address = format!("/breeding/kinship?species={species}");
    sqlx::query("UPDATE animal SET status = 'dead', status_on = '2026-04-01', loss_cause = 'unknown', shelf_id = NULL WHERE id = 2")
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    let (gone, left) = (tag(&house.app, 2).await, tag(&house.app, 3).await);
    keeper.get(&address).await.ok().lacks(&gone).says(&left);
    let unsexed = grown(&house.app, "Brachypelma hamorii", Sex::Unknown, SexBasis::None).await;
    sqlx::query("INSERT INTO measurement (animal_id, day, kind, mm, method, at) VALUES (?, '2026-04-01', 'dls', 160, 'measured', '2026-04-01T08:00:00+00:00')")
        .bind(unsexed)
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    let unsexed = tag(&house.app, unsexed.0).await;
    keeper.get(&address).await.ok().says(&format!("Adult by their span and not sexed, so in no pair: {unsexed}."));
    sqlx::query("UPDATE animal SET status = 'dead', status_on = '2026-04-01', loss_cause = 'unknown', shelf_id = NULL WHERE id = 1")
        .execute(&house.app.database.writer)
        .await
        .unwrap();
    keeper.get(&address).await.ok().says("No living female is known.");
    keeper.get("/breeding/kinship").await.ok().says("choose the species");
    keeper.get("/breeding/kinship?species=999").await.is(404);
    keeper.get("/breeding/kinship.csv?species=x").await.is(404);
}

/// A male alone since the dam's last moult is the sire though nobody wrote him; one of two is not.
#[tokio::test]
async fn a_sire_counts_when_it_can_only_be_him() {
    let (house, mut keeper) = breeders().await;
    super::pair(&mut keeper, "2", "2026-01-10").await;
    brood(&house.app, "SURE", 1, None, "2026-01-15", 1).await;
    super::pair(&mut keeper, "3", "2026-01-20").await;
    brood(&house.app, "MAY", 1, None, "2026-02-20", 1).await;
    let species = number(&house, "SELECT species_id FROM animal WHERE id = 1").await;
    let page = keeper.get(&format!("/breeding/kinship?species={species}")).await.ok();
    let known = tags(&house.app, &[2, 3, 4, 5]).await;
    let [first, second, sure, may] = known.as_slice() else { panic!() };
    assert_eq!(cell(&page, sure, first).await, "0.25");
    assert_eq!((cell(&page, may, first).await, cell(&page, may, second).await), ("0".to_owned(), "0".to_owned()));
}
