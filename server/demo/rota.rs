//! The usual weeks of the made-up house, and days on which somebody is away.

use chrono::{Datelike as _, Days, NaiveDate};

use super::Building;
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::staff::model::rota::{AbsenceKind, Hours, NewAbsence, Week};
use crate::staff::store::rota;

/// Who works from when to when, with how many minutes for duties. Days off are told by how many days after the last day of
/// the book they come, so that whoever opens the demo finds everybody in, whatever weekday it is.
const WEEKS: [(&str, Hours, [u64; 2]); 4] = [
    ("ilka", Hours { starts: 540, ends: 780, minutes: 60 }, [2, 3]),
    ("tamsin", Hours { starts: 480, ends: 990, minutes: 300 }, [3, 4]),
    ("joss", Hours { starts: 480, ends: 1020, minutes: 360 }, [5, 6]),
    ("perrin", Hours { starts: 540, ends: 900, minutes: 240 }, [1, 2]),
];

/// Enters everybody's usual week, from the first day of the book on.
pub(super) async fn weeks(building: &Building, today: NaiveDate) -> Result<(), AppError> {
    for (name, hours, off) in WEEKS {
        let off = off.map(|ahead| (today + Days::new(ahead)).weekday().number_from_monday());
        let mut week = Week::default();
        for (weekday, day) in (1..).zip(&mut week) {
            *day = (!off.contains(&weekday)).then_some(hours);
        }
        let mut write = building.app.write(Some(building.named("tamsin"))).await?;
        let member = building.named(name);
        rota::set_week(&mut write, member, building.first, &week).await?;
        write.commit(Change::new("member.week_set", format!("member {member}"), name), "/staff/rota").await?;
    }
    Ok(())
}

/// Enters one past absence and those to come.
pub(super) async fn absences(building: &Building, today: NaiveDate) -> Result<(), AppError> {
    let (last_week, ahead) = (today - Days::new(9), |days: u64| today + Days::new(days));
    for (name, first_day, last_day, kind, note) in [
        ("perrin", last_week, last_week, AbsenceKind::Ill, ""),
        ("tamsin", ahead(8), ahead(8), AbsenceKind::Training, "first aid course"),
        ("joss", ahead(9), ahead(15), AbsenceKind::Leave, "walking holiday"),
    ] {
        let mut write = building.app.write(Some(building.named("tamsin"))).await?;
        let new = NewAbsence { member: building.named(name), first_day, last_day, kind, note: note.to_owned() };
        let id = rota::add_absence(&mut write, &new).await?;
        write
            .commit(Change::new("absence.noted", format!("absence {id}"), format!("{name}: {kind}, {}", new.days())), "/staff/rota")
            .await?;
    }
    Ok(())
}
