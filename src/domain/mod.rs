//! What things are and which changes are allowed. Nothing here waits, stores, draws or asks the
//! time.

pub mod alike;
pub mod attempts;
pub mod cells;
pub mod codes;
pub mod debrief;
pub mod endings;
pub mod excursions;
pub mod families;
pub mod findings;
pub mod flights;
pub mod history;
pub mod inhibits;
pub mod kinds;
pub mod order_of_work;
pub mod outside;
pub mod people;
pub mod quantities;
pub mod quotes;
pub mod records;
pub mod repeat_guard;
pub mod roles;
pub mod seats;
pub mod settings;
pub mod sides;
pub mod slots;
pub mod spelling;
pub mod tasks;
pub mod techniques;
pub mod time;
pub mod tools;
pub mod units;
pub mod verdicts;
pub mod waits;
pub mod words;
pub mod worksites;
