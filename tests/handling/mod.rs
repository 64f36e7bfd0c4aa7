//! Who may open what, and what happens when something goes wrong.

mod cautions;
mod clearances;
mod holds;
mod incidents;
mod overview;
mod practice;
mod rehouses;
mod stock;
mod table;
mod who_may;
