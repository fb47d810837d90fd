//! What the service can do, whoever asks: pages, files and the command line call the same
//! operations, so that a rule holds for all of them or for none.

use std::sync::Arc;

use crate::clock::Clock;
use crate::config::Config;
use domain::cells::{Cells, FieldError};
use domain::kinds::Kind;
use domain::words::Role;
use store::{Db, StoreError};

pub mod alike;
pub mod attempts;
pub mod attention;
pub mod backlog;
mod calculated;
pub mod calendar;
pub mod campaign;
pub mod causes;
pub mod checks;
pub mod clock;
pub mod config;
pub mod constraints;
mod create_missing;
pub mod day;
pub mod debrief;
pub mod declines;
pub mod demo;
pub mod dossier;
pub mod endings;
pub mod excursions;
pub mod export;
pub mod failures;
pub mod families;
pub mod feeds;
pub mod files;
pub mod fill;
pub mod findings;
pub mod first_steps;
pub mod fit;
pub mod flights;
pub mod four_eyes;
pub mod get_ahead;
pub mod import;
pub mod inhibits;
pub mod kinds;
pub(crate) mod left;
pub mod library;
pub mod limiter;
pub mod links;
pub mod matrix;
mod numbers;
pub mod outside;
pub mod passwords;
pub mod people;
pub mod read;
mod reader;
pub mod readiness;
pub mod records;
pub mod renames;
pub mod revisions;
pub mod search;
pub mod seat_plans;
mod seen;
pub mod sessions;
pub mod settings;
pub mod sisters;
pub mod slips;
mod slot_order;
pub mod slots;
pub mod standing;
pub mod statistics;
mod swaps;
pub mod sweep;
pub mod task_fit;
pub mod tasks;
pub mod techniques;
pub mod tokens;
pub mod tools;
pub(crate) mod touched;
mod trace;
pub mod under_way;
pub mod uploads;
pub mod waiting_photos;
pub mod waits;
pub mod whole_task;
pub mod work;
pub mod worksites;

pub use reader::Reader;

/// The service: its database, its clock and its settings.
#[derive(Debug, Clone)]
pub struct App {
    pub db: Db,
    pub clock: Clock,
    pub config: Arc<Config>,
    /// What all who try to sign in share.
    pub(crate) gate: Arc<sessions::Gate>,
    pub(crate) runs: Arc<under_way::Runs>,
    pub(crate) decoding: files::Decoding,
    pub uploads: uploads::Uploads,
    pub readiness: Arc<readiness::Readiness>,
    pub(crate) days: Arc<day::KeptAnswers>,
    pub(crate) calculated: Arc<calculated::Calculated>,
    pub(crate) numbers: Arc<numbers::Ranges>,
}

impl App {
    pub fn new(db: Db, clock: Clock, config: Config) -> Self {
        Self {
            db,
            clock,
            config: Arc::new(config),
            gate: Arc::default(),
            runs: Arc::default(),
            decoding: files::Decoding::default(),
            uploads: uploads::Uploads::default(),
            readiness: Arc::default(),
            days: Arc::default(),
            calculated: Arc::default(),
            numbers: Arc::default(),
        }
    }

    /// The same on a copy of the database, on which numbers are not shared with others.
    pub(crate) fn aside(&self, copy: &Db) -> Self {
        Self { db: copy.clone(), numbers: Arc::default(), ..self.clone() }
    }
}

/// Who acts. The change log names them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Actor {
    pub name: String,
    pub role: Role,
}

/// Why an operation did not do what was asked.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    #[error("There is no {0} {1}.")]
    NotFound(Kind, String),
    /// Something that was typed is wrong; each field with what to do.
    #[error("{}", first(.0))]
    Invalid(Vec<FieldError>),
    /// A rule says no; the sentence says which and what to do.
    #[error("{0}")]
    Refused(String),
    /// The role does not reach.
    #[error("{0}")]
    Forbidden(String),
    /// A flight launches on another day: whether its excursions move along is not said yet.
    #[error("Say whether the excursions of {} move along with its launch.", .0.flight)]
    Slip(Box<slips::Slip>),
    /// The record moved on since it was read.
    #[error("Somebody changed {} {} in the meantime; both versions are kept, choose between them.", .0.kind, .0.code)]
    Conflict(Box<Conflict>),
    /// This form was taken before; here is where it led.
    #[error("This form was sent already.")]
    AlreadyTaken(String),
    /// Too much of a kind is under way; so many seconds may help. Nothing was begun.
    #[error("{0}")]
    Busy(String, i64),
    /// Broke off before anything was saved.
    #[error("Something went wrong on our side; nothing was changed. Try again.")]
    Internal(#[from] StoreError),
    /// The commit itself failed, so the record may or may not have it.
    #[error("Saving was interrupted; check whether it was saved before you send it again.")]
    Unsure(#[source] StoreError),
}

/// An edit made on an old version, beside what the record says now.
#[derive(Debug)]
pub struct Conflict {
    pub kind: Kind,
    pub code: String,
    /// The version now.
    pub version: i64,
    pub changed_by: String,
    /// As it was when the edit was begun, as far as the log tells.
    pub was: Cells,
    pub theirs: Cells,
    pub yours: Cells,
}

impl Conflict {
    /// Whether the edit left a field as it found it, so that what others made of it since stands.
    pub fn leaves(&self, field: &str) -> bool {
        self.yours.get(field) == self.was.get(field)
    }

    /// For the log: which versions met.
    pub fn reason(&self) -> String {
        format!(
            "{} {} is at version {} by {}; the edit was made on an older one",
            self.kind, self.code, self.version, self.changed_by
        )
    }
}

fn first(errors: &[FieldError]) -> String {
    errors.first().map_or_else(
        || "Something that was typed is wrong.".to_owned(),
        |error| format!("{}: {}", error.field, error.message),
    )
}

impl From<sqlx::Error> for Failure {
    fn from(cause: sqlx::Error) -> Self {
        Self::Internal(StoreError::Database(cause))
    }
}

impl Failure {
    /// One field that is wrong.
    pub fn field(field: impl Into<String>, message: impl Into<String>) -> Self {
        Self::Invalid(vec![FieldError::new(field, message)])
    }
}
