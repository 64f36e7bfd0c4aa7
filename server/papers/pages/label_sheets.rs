//! Saved sheets of labels: any grid on any page, in millimetres.

use askama::Template;
use axum::extract::State;
use axum::http::header;
use axum::response::IntoResponse as _;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{ButtonForm, Check, Form, Mistakes};
use crate::house::ids::LabelSheetId;
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::papers::model::LabelSheet;
use crate::papers::{shown, store};
use crate::reckoning::label_grid::{Grid, mm};

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::papers) struct SheetForm {
    name: String,
    page_width: String,
    page_height: String,
    margin_left: String,
    margin_top: String,
    columns: String,
    rows: String,
    label_width: String,
    label_height: String,
    gap_x: String,
    gap_y: String,
}

/// A length in millimetres with at most one decimal place, in tenths; it must be given.
fn length(check: &mut Check, field: &'static str, typed: &str, range: std::ops::RangeInclusive<i64>) -> Option<i64> {
    if typed.trim().is_empty() {
        check.add(field, "Enter millimetres; 0 where there is none.");
        return None;
    }
    check.optional_tenths(field, typed, range)
}

impl SheetForm {
    fn check(&self) -> Result<(String, Grid), Mistakes> {
        let mut check = Check::new();
        let name = check.text("name", &self.name, 60);
        let page_width = length(&mut check, "page_width", &self.page_width, 200..=5000);
        let page_height = length(&mut check, "page_height", &self.page_height, 200..=5000);
        let margin_left = length(&mut check, "margin_left", &self.margin_left, 0..=2000);
        let margin_top = length(&mut check, "margin_top", &self.margin_top, 0..=2000);
        let columns = check.whole("columns", &self.columns, 1..=40);
        let rows = check.whole("rows", &self.rows, 1..=80);
        let label_width = length(&mut check, "label_width", &self.label_width, 80..=3000);
        let label_height = length(&mut check, "label_height", &self.label_height, 50..=3000);
        let gap_x = length(&mut check, "gap_x", &self.gap_x, 0..=500);
        let gap_y = length(&mut check, "gap_y", &self.gap_y, 0..=500);
        let sizes = page_width.zip(page_height).zip(margin_left.zip(margin_top)).zip(columns.zip(rows));
        let labels = label_width.zip(label_height).zip(gap_x.zip(gap_y));
        let (Some(name), Some((((page_width, page_height), (margin_left, margin_top)), (columns, rows))), Some(labels)) =
            (name, sizes, labels)
        else {
            return Err(check.mistakes());
        };
        let ((label_width, label_height), (gap_x, gap_y)) = labels;
        let grid = Grid { page_width, page_height, margin_left, margin_top, columns, rows, label_width, label_height, gap_x, gap_y };
        match grid.check() {
            Ok(()) => Ok((name, grid)),
            Err(error) => Err(Mistakes::one("columns", text::sentence(&error))),
        }
    }
}

/// A sheet as the list shows it.
struct Shown {
    sheet: LabelSheet,
    page: String,
    grid: String,
    label: String,
    margins: String,
    gaps: String,
}

impl Shown {
    fn of(sheet: LabelSheet) -> Self {
        let grid = sheet.grid();
        let pair = |one: i64, other: i64| format!("{} × {}", mm(one), mm(other));
        Self {
            page: pair(grid.page_width, grid.page_height),
            grid: format!("{} × {}", grid.columns, grid.rows),
            label: pair(grid.label_width, grid.label_height),
            margins: format!("{} left, {} top", mm(grid.margin_left), mm(grid.margin_top)),
            gaps: pair(grid.gap_x, grid.gap_y),
            sheet,
        }
    }
}

#[derive(Template)]
#[template(path = "papers/label_sheets.html")]
struct ListPage {
    layout: Layout,
    sheets: Vec<Shown>,
    input: SheetForm,
    mistakes: Mistakes,
}

impl ListPage {
    async fn of(app: &App, me: &SignedIn, input: SheetForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let sheets = store::label_sheets(&mut *app.read().await?).await?.into_iter().map(Shown::of).collect();
        Ok(Self { layout: Layout::of(app, me, Section::Cohorts).await?, sheets, input, mistakes })
    }
}

pub(in crate::papers) async fn list(State(app): State<App>, me: SignedIn) -> Answer {
    page(&ListPage::of(&app, &me, SheetForm::default(), Mistakes::none()).await?)
}

pub(in crate::papers) async fn add(State(app): State<App>, me: SignedIn, form: Form<SheetForm>) -> Answer {
    match save(&app, &me, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&ListPage::of(&app, &me, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, form: &Form<SheetForm>) -> Answer {
    let (name, grid) = form.input.check()?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let id = store::add_label_sheet(&mut write, &name, &grid).await?;
    let what = format!("{name}: {} × {} labels of {} × {} mm", grid.columns, grid.rows, mm(grid.label_width), mm(grid.label_height));
    me.done(write, Change::new("label-sheet.added", format!("label sheet {id}"), what), paths::LABEL_SHEETS, "The sheet is saved.").await
}

pub(in crate::papers) async fn retire(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<LabelSheetId>,
    form: Form<ButtonForm>,
) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    store::retire_label_sheet(&mut write, id).await?;
    let change = Change::new("label-sheet.retired", format!("label sheet {id}"), "retired").from("in use");
    me.done(write, change, paths::LABEL_SHEETS, "Retired. Labels that were issued on it stay as issued.").await
}

/// The style sheet that sets the size of a page of labels. The sizes are all it says, so it never changes for an address.
pub(in crate::papers) async fn page_style(_me: SignedIn, Path(size): Path<String>) -> Answer {
    let (width, height) = shown::label_size(&size).ok_or(AppError::NotFound)?;
    let style = format!("@page {{ size: {}mm {}mm; margin: 0; }}\n", mm(width.into()), mm(height.into()));
    Ok(([(header::CONTENT_TYPE, "text/css; charset=utf-8")], style).into_response())
}
