//! Everything that the book holds of one person, table by table: what is given to them when they ask for it.

use sqlx::sqlite::SqliteRow;
use sqlx::{Column as _, Row as _, SqliteConnection, TypeInfo as _, ValueRef as _};

use crate::house::errors::AppError;
use crate::house::ids::BuyerId;

/// For each table of the inventory, the rows that are about one buyer.
pub const TABLES: [(&str, &str); 19] = [
    (
        "buyer",
        "SELECT id AS number, name, contact, address, language, created_at, kept_until, kept_reason FROM buyer WHERE id = ?1",
    ),
    (
        "handover",
        "SELECT handover.id AS number, state, way, day, done_at, note, override_reason, order_id AS order_number, created_at
         FROM handover WHERE buyer_id = ?1 ORDER BY id",
    ),
    (
        "handover_line",
        "SELECT line.handover_id AS handover, animal.tag, cohort.code AS cohort, line.stage, line.quantity, species.accepted_name AS species
         FROM handover JOIN handover_line AS line ON line.handover_id = handover.id
         LEFT JOIN animal ON animal.id = line.animal_id LEFT JOIN cohort ON cohort.id = line.cohort_id
         JOIN species ON species.id = COALESCE(animal.species_id, cohort.species_id)
         WHERE handover.buyer_id = ?1 ORDER BY line.id",
    ),
    (
        "sale_order",
        "SELECT id AS number, state, way, wanted_on, note, created_at, ended_at FROM sale_order WHERE buyer_id = ?1 ORDER BY id",
    ),
    (
        "sale_line",
        "SELECT line.order_id AS order_number, line.handover_id AS handover, animal.tag, cohort.code AS cohort, line.stage, line.packs,
                line.pack_of, line.list_minor, line.unit_minor
         FROM sale_line AS line LEFT JOIN animal ON animal.id = line.animal_id LEFT JOIN cohort ON cohort.id = line.cohort_id
         WHERE line.order_id IN (SELECT id FROM sale_order WHERE buyer_id = ?1)
            OR line.handover_id IN (SELECT id FROM handover WHERE buyer_id = ?1)
         ORDER BY line.id",
    ),
    (
        "packed",
        "SELECT packed.handover_id AS handover, animal.tag, cohort.code AS cohort, packed.stage, packed.quantity, packed.day
         FROM handover JOIN packed ON packed.handover_id = handover.id
         LEFT JOIN animal ON animal.id = packed.animal_id LEFT JOIN cohort ON cohort.id = packed.cohort_id
         WHERE handover.buyer_id = ?1 ORDER BY packed.id",
    ),
    (
        "handover_risk_shown",
        "SELECT shown.handover_id AS handover, shown.least_age, shown.at
         FROM handover JOIN handover_risk_shown AS shown ON shown.handover_id = handover.id
         WHERE handover.buyer_id = ?1 ORDER BY handover.id",
    ),
    (
        "journey",
        "SELECT journey.handover_id AS handover, carrier, journey.day, unit, here_low, here_high, there_low, there_high, journey.note
         FROM handover JOIN journey ON journey.handover_id = handover.id WHERE handover.buyer_id = ?1 ORDER BY journey.id",
    ),
    (
        "arrival",
        "SELECT arrival.handover_id AS handover, arrived_at, claimed_at, claim_hours, arrival.note
         FROM handover JOIN arrival ON arrival.handover_id = handover.id WHERE handover.buyer_id = ?1 ORDER BY arrival.id",
    ),
    (
        "arrival_line",
        "SELECT arrival.handover_id AS handover, animal.tag, cohort.code AS cohort, arrived.alive, arrived.injured, arrived.dead
         FROM handover JOIN arrival ON arrival.handover_id = handover.id JOIN arrival_line AS arrived ON arrived.arrival_id = arrival.id
         JOIN handover_line AS line ON line.id = arrived.handover_line_id
         LEFT JOIN animal ON animal.id = line.animal_id LEFT JOIN cohort ON cohort.id = line.cohort_id
         WHERE handover.buyer_id = ?1 ORDER BY arrival.id, line.id",
    ),
    (
        "sale_return",
        "SELECT line.handover_id AS handover, animal.tag, cohort.code AS cohort, back.quantity, back.day, back.reason, back.condition
         FROM handover JOIN handover_line AS line ON line.handover_id = handover.id
         JOIN sale_return AS back ON back.handover_line_id = line.id
         LEFT JOIN animal ON animal.id = line.animal_id LEFT JOIN cohort ON cohort.id = line.cohort_id
         WHERE handover.buyer_id = ?1 ORDER BY back.id",
    ),
    (
        "credit_note",
        "SELECT paper.number AS paper, credit.handover_id AS handover, credit.currency, credit.tax_percent, credit.prices_include_tax,
                credit.net_minor, credit.tax_minor, credit.gross_minor
         FROM handover JOIN credit_note AS credit ON credit.handover_id = handover.id JOIN paper ON paper.id = credit.paper_id
         WHERE handover.buyer_id = ?1 ORDER BY paper.id",
    ),
    (
        "credit_line",
        "SELECT paper.number AS paper, animal.tag, cohort.code AS cohort, credit.quantity, credit.why, credit.charged_minor,
                credit.amount_minor
         FROM handover JOIN handover_line AS line ON line.handover_id = handover.id
         JOIN credit_line AS credit ON credit.handover_line_id = line.id JOIN paper ON paper.id = credit.paper_id
         LEFT JOIN animal ON animal.id = line.animal_id LEFT JOIN cohort ON cohort.id = line.cohort_id
         WHERE handover.buyer_id = ?1 ORDER BY paper.id, line.id",
    ),
    (
        "reservation",
        "SELECT animal.tag, cohort.code AS cohort, stage, quantity, order_id AS order_number, until, reservation.note, made_on, ended_as
         FROM reservation LEFT JOIN animal ON animal.id = reservation.animal_id LEFT JOIN cohort ON cohort.id = reservation.cohort_id
         WHERE buyer_id = ?1 OR order_id IN (SELECT id FROM sale_order WHERE buyer_id = ?1) ORDER BY reservation.id",
    ),
    (
        "paper",
        "SELECT number, kind, language, title, handover_id AS handover, issued_on, fingerprint FROM paper WHERE buyer_id = ?1 ORDER BY id",
    ),
    (
        "paper_person",
        "SELECT paper.number AS paper, CAST(part AS TEXT) AS part
         FROM paper JOIN paper_person ON paper_person.paper_id = paper.id WHERE paper.buyer_id = ?1 ORDER BY paper.id",
    ),
    (
        "buyer_link",
        "SELECT paper.number AS paper, buyer_link.created_at, buyer_link.revoked_at AS closed_at
         FROM paper JOIN buyer_link ON buyer_link.paper_id = paper.id WHERE paper.buyer_id = ?1 ORDER BY buyer_link.id",
    ),
    (
        "recall_found",
        "SELECT found.recall_id AS recall, recall.day, recall.reason, recall.words, animal.tag, cohort.code AS cohort, found.quantity,
                found.relation, found.certain, line.handover_id AS handover
         FROM handover JOIN handover_line AS line ON line.handover_id = handover.id
         JOIN recall_found AS found ON found.handover_line_id = line.id JOIN recall ON recall.id = found.recall_id
         LEFT JOIN animal ON animal.id = found.animal_id LEFT JOIN cohort ON cohort.id = found.cohort_id
         WHERE handover.buyer_id = ?1 ORDER BY found.id",
    ),
    (
        "recall_contact",
        "SELECT recall_id AS recall, what, paper.number AS paper, day, note
         FROM recall_contact LEFT JOIN paper ON paper.id = recall_contact.paper_id WHERE recall_contact.buyer_id = ?1 ORDER BY recall_contact.id",
    ),
];

/// One cell: a number, a text, or nothing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Cell {
    /// Nothing.
    Empty,
    /// A whole number.
    Whole(i64),
    /// A text.
    Text(String),
}

/// A row: the names of its columns with their cells.
pub type Cells = Vec<(String, Cell)>;

/// A table of the inventory with its rows about one person.
#[derive(Debug, Clone)]
pub struct Table {
    /// The table.
    pub name: &'static str,
    /// Its rows.
    pub rows: Vec<Cells>,
}

/// Everything that the book holds of a buyer, every table of the inventory, empty ones too.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such buyer.
pub async fn everything(db: &mut SqliteConnection, buyer: BuyerId) -> Result<Vec<Table>, AppError> {
    super::require_buyer(db, buyer).await?;
    let mut tables = Vec::new();
    for (name, statement) in TABLES {
        let rows = sqlx::query(statement).bind(buyer).fetch_all(&mut *db).await?;
        let rows = rows.iter().map(cells).collect::<sqlx::Result<_>>()?;
        tables.push(Table { name, rows });
    }
    Ok(tables)
}

fn cells(row: &SqliteRow) -> sqlx::Result<Cells> {
    let cell = |at: usize| -> sqlx::Result<Cell> {
        let raw = row.try_get_raw(at)?;
        if raw.is_null() {
            return Ok(Cell::Empty);
        }
        match raw.type_info().name() {
            "INTEGER" => row.try_get_unchecked(at).map(Cell::Whole),
            _ => row.try_get_unchecked(at).map(Cell::Text),
        }
    };
    row.columns().iter().map(|column| Ok((column.name().to_owned(), cell(column.ordinal())?))).collect()
}
