//! Two thumbs at once.

use super::stock::{CALM, animal, house, open_duty, plan};
use crate::support::number;

#[tokio::test]
async fn of_twenty_sign_offs_at_once_one_is_written_and_the_rest_are_told() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    let path = format!("/round/duties/{feed}");
    let mut tasks = Vec::new();
    for person in 0..20 {
        let mut keeper = house.keeper(&format!("Keeper {person}"), 2).await;
        let path = path.clone();
        tasks.push(tokio::spawn(async move { keeper.submit_at("/round", &path, &[("outcome", "took")]).await }));
    }
    let (mut written, mut told) = (0, 0);
    for task in tasks {
        let page = task.await.unwrap();
        match page.status.as_u16() {
            303 => written += 1,
            409 => {
                told += 1;
                page.says("was already done by Keeper").says("Do not feed again.");
            }
            other => panic!("{other}: {}", page.words()),
        }
    }
    assert_eq!((written, told), (1, 19));
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM meal").await, 1);
}

#[tokio::test]
async fn fifty_posts_of_one_form_write_one_row_and_answer_alike() {
    let house = house().await;
    let animal = animal(&house, CALM, 1).await;
    plan(&house).await;
    let feed = open_duty(&house, animal, "feed").await.unwrap();
    let path = format!("/round/duties/{feed}");
    let mut bo = house.keeper("Bo", 2).await;
    let (csrf, once) = bo.get("/round").await.tokens();
    let mut tasks = Vec::new();
    for _ in 0..50 {
        let (mut bo, csrf, once, path) = (bo.clone(), csrf.clone(), once.clone(), path.clone());
        tasks.push(tokio::spawn(async move {
            bo.post_raw(&path, &[("csrf", csrf.as_str()), ("once", once.as_str()), ("outcome", "took")]).await.sent_to()
        }));
    }
    let mut answers = std::collections::BTreeSet::new();
    for task in tasks {
        answers.insert(task.await.unwrap());
    }
    assert_eq!(answers.len(), 1, "{answers:?}");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM signoff").await, 1);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'duty.signed'").await, 1);
}
