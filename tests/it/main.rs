//! The service as a browser meets it: every test asks over the router and reads the answer.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on stops where it stands")]

mod checks;
mod command_line;
mod debrief;
mod doors;
mod evidence;
mod excursions;
mod failure_reporting;
mod files;
mod findings;
mod history;
mod home;
mod inhibits;
mod lanes;
mod library;
mod limits;
mod links;
mod open;
mod outside;
mod people;
mod records;
mod revisions;
mod room;
mod search;
mod serving;
mod settings;
mod sisters;
mod slot_life;
mod slots;
mod small_record;
mod support;
mod tasks;
mod tools;
mod under_way;
mod verdicts;
mod ways_out;
