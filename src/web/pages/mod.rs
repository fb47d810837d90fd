//! Handlers and what their templates show, one file per aggregate.

pub(crate) mod account;
pub(crate) mod alike;
pub(crate) mod carry;
pub(crate) mod changes;
pub(crate) mod debrief;
pub(crate) mod excursions;
pub(crate) mod findings;
pub(crate) mod flights;
pub(crate) mod gates;
pub(crate) mod held;
pub(crate) mod history;
pub(crate) mod home;
pub(crate) mod import;
pub(crate) mod library;
pub(crate) mod open;
pub(crate) mod outside;
pub(crate) mod people;
pub(crate) mod records;
pub(crate) mod search;
pub(crate) mod settings;
pub(crate) mod sign_in;
mod sisters;
pub(crate) mod slots;
pub(crate) mod tasks;
pub(crate) mod welcome;
pub(crate) mod worth;
