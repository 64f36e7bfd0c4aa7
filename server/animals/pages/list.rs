//! The list of animals.

use askama::Template;
use axum::extract::State;
use serde::{Deserialize, Serialize};

use super::subject::statuses;
use crate::animals::model::AnimalStatus;
use crate::animals::model::list::{BySex, Filter, Line};
use crate::animals::store;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError, redirect};
use crate::house::extract::{Query, SignedIn};
use crate::house::layout::{Choice, Layout, Section, choices, page};
use crate::house::{paths, text};
use crate::reckoning::words::Sex;
use crate::{rooms, species};

/// What the address asks for, as typed.
#[derive(Debug, Default, Clone, Deserialize, Serialize)]
#[serde(default)]
pub(in crate::animals) struct Asked {
    text: String,
    species: String,
    rack: String,
    status: String,
    sex: String,
    page: String,
}

impl Asked {
    /// What can't be read narrows nothing.
    fn filter(&self) -> Filter {
        let status = match self.status.as_str() {
            "any" => None,
            code => Some(code.parse().unwrap_or(AnimalStatus::Alive)),
        };
        let text: String = self.text.trim().chars().filter(|letter| !letter.is_control()).take(80).collect();
        Filter { text, species: self.species.parse().ok(), rack: self.rack.parse().ok(), status, sex: self.sex.parse().ok() }
    }

    fn page(&self) -> i64 {
        self.page.parse().unwrap_or(0).clamp(0, 100_000)
    }

    /// The address of another page of the same list.
    fn link(&self, page: i64) -> String {
        let asked = Self { page: page.to_string(), ..self.clone() };
        let mut question = url::form_urlencoded::Serializer::new(String::new());
        for (name, value) in [
            ("text", asked.text),
            ("species", asked.species),
            ("rack", asked.rack),
            ("status", asked.status),
            ("sex", asked.sex),
            ("page", asked.page),
        ] {
            if !value.is_empty() {
                question.append_pair(name, &value);
            }
        }
        format!("{}?{}", paths::ANIMALS, question.finish())
    }
}

#[derive(Template)]
#[template(path = "animals/list.html")]
struct ListPage {
    layout: Layout,
    asked: Asked,
    lines: Vec<Line>,
    by_sex: BySex,
    species: Vec<Choice>,
    racks: Vec<Choice>,
    statuses: Vec<Choice>,
    sexes: Vec<Choice>,
    earlier: Option<String>,
    later: Option<String>,
}

pub(in crate::animals) async fn list(State(app): State<App>, me: SignedIn, Query(asked): Query<Asked>) -> Answer {
    let mut db = app.read().await?;
    if let Some(id) = store::find_by_tag(&mut db, &asked.text).await? {
        return Ok(redirect(&paths::animal(&id)));
    }
    let (filter, at) = (asked.filter(), asked.page());
    let lines = store::search(&mut db, &filter, at).await?;
    let by_sex = store::by_sex(&mut db, &filter).await?;
    let (species, racks) = narrowing(&mut db).await?;
    let layout = Layout::of(&app, &me, Section::Animals).await?;
    page(&ListPage {
        layout,
        earlier: (at > 0).then(|| asked.link(at - 1)),
        later: (by_sex.total() > (at + 1) * store::PAGE).then(|| asked.link(at + 1)),
        asked,
        lines,
        by_sex,
        species,
        racks,
        statuses: statuses(),
        sexes: with_any("any sex", choices(Sex::ALL, Sex::code)),
    })
}

fn with_any(label: &str, rest: Vec<Choice>) -> Vec<Choice> {
    std::iter::once(Choice::new("", label)).chain(rest).collect()
}

/// The species and racks that the list can be narrowed to.
async fn narrowing(db: &mut sqlx::SqliteConnection) -> Result<(Vec<Choice>, Vec<Choice>), AppError> {
    let species = species::store::all(&mut *db).await?.into_iter().map(|line| Choice::new(line.id, line.accepted_name)).collect();
    let racks = rooms::store::racks(&mut *db).await?.into_iter();
    let racks = racks.map(|rack| Choice::new(rack.id, format!("{} · {}", rack.room_name, rack.name))).collect();
    Ok((with_any("any species", species), with_any("any rack", racks)))
}
