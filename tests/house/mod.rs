//! Tests of the shared services of the house: routes and roles, layers of the code, SQL, errors, sessions, the database.

mod backup;
mod database;
mod errors;
mod layers;
mod program;
mod routes;
mod sessions;
mod sources;
mod sql;
mod unchanged;
