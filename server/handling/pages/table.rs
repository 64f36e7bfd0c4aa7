//! The risk table: shown to everybody, tightened by leads and owners.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::handling::model::{TableRow, by_band, requirement_words};
use crate::handling::store;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::paths;
use crate::reckoning::hazard::{Band, ExposureTable, Requirement};
use crate::reckoning::words::Exposure;
use crate::rounds;

#[derive(Template)]
#[template(path = "handling/table.html")]
struct TablePage {
    layout: Layout,
    bands: Vec<(i64, Vec<TableRow>)>,
}

pub(in crate::handling) async fn show(State(app): State<App>, me: SignedIn) -> Answer {
    let bands = by_band(&store::table_rows(&mut *app.read().await?).await?);
    page(&TablePage { layout: Layout::of(&app, &me, Section::Handling).await?, bands })
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::handling) struct RuleForm {
    clearance: String,
    persons: String,
}

impl RuleForm {
    /// Refuses at each field what is below the default there.
    fn check(&self, row: &TableRow) -> Result<Requirement, Mistakes> {
        let mut check = Check::new();
        let clearance = check.whole::<u8>("clearance", &self.clearance, 0..=3);
        let persons = check.whole::<u8>("persons", &self.persons, 1..=2);
        let (Some(clearance), Some(persons)) = (clearance, persons) else { return Err(check.mistakes()) };
        let asked = Requirement { clearance, persons };
        if let Err(error) = ExposureTable::default().tighten(row.band, row.exposure, asked) {
            let field = if clearance < row.least.clearance { "clearance" } else { "persons" };
            check.add(field, format!("This is looser than the default: {error}."));
            return Err(check.mistakes());
        }
        Ok(asked)
    }
}

#[derive(Template)]
#[template(path = "handling/rule.html")]
struct RulePage {
    layout: Layout,
    row: TableRow,
    levels: Vec<Choice>,
    counts: Vec<Choice>,
    input: RuleForm,
    mistakes: Mistakes,
}

impl RulePage {
    async fn of(app: &App, me: &SignedIn, row: TableRow, input: RuleForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let layout = Layout::of(app, me, Section::Handling).await?;
        let levels = (0..=3).map(|level| Choice::new(level, crate::house::text::clearance(&level))).collect();
        let counts = vec![Choice::new(1, "1 person"), Choice::new(2, "2 people")];
        Ok(Self { layout, row, levels, counts, input, mistakes })
    }
}

/// The cell that an address names.
async fn cell(app: &App, band: &str, exposure: &str) -> Result<TableRow, AppError> {
    let band = band.parse().ok().and_then(Band::new).ok_or(AppError::NotFound)?;
    let exposure: Exposure = exposure.parse().map_err(|_| AppError::NotFound)?;
    let rows = store::table_rows(&mut *app.read().await?).await?;
    rows.into_iter().find(|row| row.band == band && row.exposure == exposure).ok_or(AppError::NotFound)
}

pub(in crate::handling) async fn edit(State(app): State<App>, me: SignedIn, Path((band, exposure)): Path<(String, String)>) -> Answer {
    let row = cell(&app, &band, &exposure).await?;
    let input = RuleForm { clearance: row.asked.clearance.to_string(), persons: row.asked.persons.to_string() };
    page(&RulePage::of(&app, &me, row, input, Mistakes::none()).await?)
}

pub(in crate::handling) async fn change(
    State(app): State<App>,
    me: SignedIn,
    Path((band, exposure)): Path<(String, String)>,
    form: Form<RuleForm>,
) -> Answer {
    let row = cell(&app, &band, &exposure).await?;
    match save(&app, &me, &row, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&RulePage::of(&app, &me, row, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, row: &TableRow, form: &Form<RuleForm>) -> Answer {
    let asked = form.input.check(row)?;
    let mut write = app.begin(me.id(), &form.once).await?;
    store::tighten(&mut write, row.band, row.exposure, asked).await?;
    rounds::store::plan_house(&mut write).await?;
    let subject = format!("risk table band {} {}", row.band.level(), row.exposure.code());
    let change = Change::new("risk-table.changed", subject, requirement_words(&asked)).from(requirement_words(&row.asked));
    let say = format!("Band {}, {}: {} from now on. All open duties follow.", row.band.level(), row.exposure, requirement_words(&asked));
    me.done(write, change, paths::RISK_TABLE, say).await
}
