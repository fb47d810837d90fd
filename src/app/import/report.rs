//! What became, or would become, of a table.

use std::collections::BTreeMap;

use super::Options;
use crate::work::Work;
use crate::{Failure, kinds};
use domain::kinds::Kind;
use exchange::days::{DateOrder, Order, order_of, read_day};
use exchange::heads::{Mapping, MappingError};
pub(super) use exchange::table::NAMED;
use exchange::table::Survey;

/// A row that was not taken, or a cell of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BadRow {
    pub line: u64,
    /// The head under which the bad cell stands; empty where the whole row is meant.
    pub column: String,
    pub reason: String,
}

/// A value past its limit, in a row that is taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PastLimit {
    pub line: u64,
    pub value: String,
    pub judgement: &'static str,
}

/// A date that could be either of two days, and where it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EitherDate {
    pub line: u64,
    pub text: String,
}

/// What became, or would become, of a table.
#[derive(Debug, Clone, Default)]
pub struct Report {
    pub rows: u64,
    /// New records.
    pub taken: u64,
    /// Records that were there and said something else before.
    pub changed: u64,
    /// Rows that said what the record says already.
    pub known: u64,
    /// Rows that were not taken.
    pub bad_rows: u64,
    pub bad: Vec<BadRow>,
    /// Values past their limits in rows that are good: no fault of the table, and no news to lose.
    pub past_limits: Vec<PastLimit>,
    /// What was made because a row named it.
    pub created: BTreeMap<&'static str, u64>,
    /// Each head of the table with the column that it fills.
    pub heads: Vec<(String, Option<&'static str>)>,
    pub unknown_heads: Vec<String>,
    pub notes: Vec<String>,
    /// The first good rows as they stand in the table; read where somebody is asked.
    pub first_rows: Vec<Vec<String>>,
    /// What is asked about the heads, in sentences.
    pub asked: Vec<String>,
    /// The first date that the two orders of day and month read differently, if there is one.
    pub either: Option<EitherDate>,
    /// Attempts whose unlikely minutes this import confirms.
    pub confirmed: u64,
    /// The codes of the first records taken, as links to look at.
    pub first_codes: Vec<String>,
    pub committed: bool,
}

/// What became of one row.
pub(super) enum Taken {
    New(String),
    Changed,
    Known,
}

impl Report {
    pub(super) fn opening(survey: &Survey, heads: &Mapping, kind: Kind) -> Self {
        let columns = kinds::columns(kind);
        let filled = |head: &String| {
            let column =
                columns.iter().find(|column| heads.head(column.name, &survey.heads) == Some(head));
            (head.clone(), column.map(|column| column.name))
        };
        let bad = survey.bad.iter().map(|bad| BadRow {
            line: bad.line,
            column: String::new(),
            reason: bad.reason.clone(),
        });
        Self {
            rows: survey.rows,
            bad_rows: survey.bad_rows,
            bad: bad.collect(),
            heads: survey.heads.iter().map(filled).collect(),
            unknown_heads: heads.unknown.clone(),
            notes: survey.notes.clone(),
            ..Self::default()
        }
    }

    /// No head fills a column, so nothing can come of the table.
    pub fn fills_nothing(&self) -> bool {
        self.heads.iter().all(|(_, column)| column.is_none())
    }

    /// Says once for the whole table what its heads leave open.
    pub(super) fn ask_about(&mut self, clashes: &[MappingError], heads: &Mapping, kind: Kind) {
        let label = |name: &str| {
            let column = kinds::columns(kind).iter().find(|column| column.name == name);
            column.map_or("", |column| column.label)
        };
        for clash in clashes {
            if let MappingError::TwoHeads { first, second, column } = clash {
                let is_out = |head: &String| {
                    self.heads.iter().any(|(known, column)| known == head && column.is_none())
                };
                let loser = if is_out(first) { first } else { second };
                self.asked.push(format!(
                    "“{first}” and “{second}” both stand for {}. “{loser}” is left out unless you \
                     choose a column for it.",
                    label(column)
                ));
            }
        }
        if self.fills_nothing() {
            self.asked.push(format!(
                "No head of this table is known for {}. Choose another kind, or say which head \
                 fills which column.",
                kind.plural()
            ));
        } else if !heads.missing.is_empty() {
            let labels: Vec<&str> = heads.missing.iter().map(|name| label(name)).collect();
            self.asked.push(format!(
                "No head fills {}, and every row needs it. Choose a head for it below, or add it \
                 to the table.",
                labels.join(" or ")
            ));
        }
    }

    /// Whether it is taken by these options.
    pub(super) const fn is_good(&self, options: &Options) -> bool {
        !options.dry_run && (self.bad_rows == 0 || options.skip_bad_rows)
    }

    /// What the work did beside the rows themselves.
    pub(super) fn sum_up(&mut self, work: &Work) {
        self.created = work.created.iter().map(|(kind, count)| (kind.plural(), *count)).collect();
        self.confirmed = work.confirmed;
        if self.confirmed > 0 {
            self.notes.push(format!(
                "Minutes that are unlikely are recorded as confirmed by {}: {}.",
                work.actor.name, self.confirmed
            ));
        }
        if work.slots_found > 0 {
            self.notes.push(format!(
                "Attempts that name no slot, recorded as planned by the slot that was set there: {}.",
                work.slots_found
            ));
        }
    }

    /// Looks at the dates of one row, each with its head, for the order of day and month.
    pub(super) fn take_dates<'d>(
        &mut self,
        line: u64,
        dates: impl Iterator<Item = (&'d str, &'d str)>,
        options: &Options,
        one_order: &mut Option<DateOrder>,
    ) {
        let mut is_bad = false;
        for (head, text) in dates {
            let is_either = match order_of(text, options.first_day) {
                Order::Same => false,
                Order::Either { .. } => true,
                Order::Only(order) => *one_order.get_or_insert(order) != order,
            };
            if !is_either {
                continue;
            }
            is_bad = true;
            if options.dates.is_none() {
                let reason = read_day(text, options.reading()).err().unwrap_or_else(|| {
                    format!("“{text}” has its day and month in another order than the dates above.")
                });
                self.name(BadRow { line, column: head.to_owned(), reason });
            }
            self.either.get_or_insert(EitherDate { line, text: text.to_owned() });
        }
        if is_bad && options.dates.is_none() {
            self.bad_rows += 1;
        }
    }

    pub(super) fn count(&mut self, taken: Taken) {
        match taken {
            Taken::New(code) => {
                self.taken += 1;
                if self.first_codes.len() < 5 {
                    self.first_codes.push(code);
                }
            }
            Taken::Changed => self.changed += 1,
            Taken::Known => self.known += 1,
        }
    }

    pub(super) fn refuse(&mut self, line: u64, failure: Failure, head: impl Fn(&str) -> String) {
        self.bad_rows += 1;
        match failure {
            Failure::Invalid(fields) => {
                for field in fields {
                    let column = head(&field.field);
                    self.name(BadRow { line, column, reason: field.message });
                }
            }
            other => self.name(BadRow { line, column: String::new(), reason: other.to_string() }),
        }
    }

    fn name(&mut self, bad: BadRow) {
        if self.bad.len() < NAMED {
            self.bad.push(bad);
        }
    }
}
