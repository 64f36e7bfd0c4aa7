//! The loss alarm on a cohort's page and on the lead's day.

use silkward::cohorts::model::NewLine;
use silkward::reckoning::stage::Stage;
use silkward::reckoning::words::LossCause;

use super::stock::{april, cohort, library, post};
use crate::support::{TestHouse, number};

const SECOND: Stage = Stage::Instar(2);

async fn dying() -> TestHouse {
    let house = TestHouse::start().await;
    library(&house.app).await;
    let id = cohort(&house.app, &[(SECOND, 120)]).await;
    cohort(&house.app, &[(SECOND, 150)]).await;
    for day in [11, 12, 14] {
        post(&house.app, id, &NewLine::lost(april(day), SECOND, 4, LossCause::Desiccation)).await.unwrap();
    }
    house
}

/// 12 of 120 in a week, where about 0.9 are usual (90-day survival of 87.5 % at the second instar: common practice).
#[tokio::test]
async fn a_cohort_that_loses_far_more_than_usual_alarms_and_its_sister_does_not() {
    let house = dying().await;
    let mut lead = house.person("Ada", "lead").await;
    lead.get("/cohorts/1").await.ok().says("Losses: alarm.").says("12 lost of 120").says("at most 3 false alarms a year");
    lead.get("/cohorts/2").await.ok().lacks("Losses: alarm.").lacks("Losses: watch.");
    lead.get("/today").await.ok().says("Alarm BHAM-26-1").lacks("Every cohort loses as is usual");
}

#[tokio::test]
async fn once_somebody_has_looked_into_it_the_alarm_rests() {
    let house = dying().await;
    let mut keeper = house.person("Bo", "keeper").await;
    keeper.submit("/cohorts/1/looked-into", &[("note", "")]).await.is(422);
    keeper.submit("/cohorts/1/looked-into", &[("note", "The lids dried out; damp moss added.")]).await.sent_to();
    keeper.get("/cohorts/1").await.ok().lacks("Losses: alarm.").says("The lids dried out; damp moss added.");
    house.person("Ada", "lead").await.get("/today").await.ok().says("Every cohort loses as is usual");
    assert_eq!(number(&house, "SELECT COUNT(*) FROM audit WHERE action = 'losses.looked_into'").await, 1);
    let mut counter = house.person("Cyprian", "counter").await;
    counter.get("/cohorts/1/looked-into").await.is(403);
}

#[tokio::test]
async fn a_single_death_and_an_escape_never_alarm() {
    let house = TestHouse::start().await;
    library(&house.app).await;
    let id = cohort(&house.app, &[(SECOND, 10)]).await;
    post(&house.app, id, &NewLine::lost(april(14), SECOND, 1, LossCause::Unknown)).await.unwrap();
    post(&house.app, id, &NewLine::lost(april(14), SECOND, 5, LossCause::Escape)).await.unwrap();
    house.person("Ada", "lead").await.get("/cohorts/1").await.ok().lacks("Losses: alarm.").says("5 missing");
}
