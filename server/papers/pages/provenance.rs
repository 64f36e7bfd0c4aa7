//! Where an animal or cohort comes from, through all generations: what is on file, and what is missing.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::errors::Answer;
use crate::house::extract::{Query, SignedIn};
use crate::house::ids::{AnimalId, CohortId};
use crate::house::layout::{Layout, Section, page};
use crate::papers::model::{ChainRow, Document, Kin, StockStatement};
use crate::papers::store;

/// Whose provenance is asked for.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::papers) struct Asked {
    pub(super) animal: Option<AnimalId>,
    pub(super) cohort: Option<CohortId>,
}

#[derive(Template)]
#[template(path = "papers/provenance.html")]
struct ProvenancePage {
    layout: Layout,
    kin: Kin,
    name: String,
    listed: bool,
    complete: bool,
    missing: Vec<(String, Option<Kin>)>,
    rows: Vec<ChainRow>,
    documents: Vec<Document>,
    generation: String,
    statement: Option<StockStatement>,
}

pub(in crate::papers) async fn show(State(app): State<App>, me: SignedIn, Query(asked): Query<Asked>) -> Answer {
    let kin = store::asked(asked.animal, asked.cohort)?;
    let mut db = app.read().await?;
    let provenance = store::provenance(&mut db, kin).await?;
    let key = kin.key();
    let missing =
        provenance.chain.missing.iter().map(|gap| (gap.text.clone(), provenance.facts.get(&gap.about).map(|of| of.kin))).collect();
    let (listed, statement) = match provenance.facts.get(&key) {
        Some(of) => (store::is_listed(&mut db, of.species_id).await?, store::statement_for(&mut db, of.species_id, &of.locality).await?),
        None => (false, None),
    };
    page(&ProvenancePage {
        layout: Layout::of(&app, &me, Section::Animals).await?,
        name: provenance.node(&key).map(|node| node.name.clone()).unwrap_or_default(),
        listed,
        complete: provenance.chain.complete(),
        missing,
        rows: provenance.rows(),
        documents: store::documents_of(&mut db, kin).await?,
        generation: crate::house::text::sentence(&provenance.generation().1),
        statement,
        kin,
    })
}
