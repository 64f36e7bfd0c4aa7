//! Shared services of the house: configuration, database, clock, the web shell (routes, access, forms, sessions, errors), and how things are written out.

pub mod access;
pub mod app;
pub mod assets;
pub mod audit;
pub mod backup;
pub mod chart;
pub mod clock;
pub mod columns;
pub mod config;
pub mod database;
pub mod errors;
pub mod extract;
pub mod forms;
pub mod ids;
pub mod layout;
pub mod money;
pub mod paths;
pub mod qr;
pub mod router;
pub mod secrets;
pub mod serve;
pub mod session;
pub mod site;
pub mod tablet;
pub mod text;
pub mod write;
