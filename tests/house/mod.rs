//! Tests of the shared services of the house: routes and roles, layers of the code, SQL, errors, sessions, the database.

mod backup;
mod chart;
mod database;
mod errors;
mod layers;
mod program;
mod routes;
mod sessions;
pub mod sources;
mod sql;
mod unchanged;
mod upgrade;
