//! Taking in a table: every bad row named by line, column and reason, and nothing half done.

use std::collections::BTreeMap;

use crate::kinds::{self, Done};
use crate::records::Base;
use crate::work::{FormKey, Work};
use crate::{Actor, App, Failure, four_eyes};
use domain::cells::{Cell as _, Cells, FieldError, Input, List};
use domain::kinds::Kind;
use domain::quantities::Measured;
use domain::roles::{Action, may, refusal};
use exchange::days::{DateOrder, Order, Reading, order_of, read_day};
use exchange::heads::{Mapping, mapping};
use exchange::same_rows::RowKeys;
use exchange::table::{self, Table};
pub use store::imports::Upload;
use store::{imports, register};

/// The word that answers the question about unlikely minutes in a table.
const CONFIRMED: &str = "yes";

/// Of this many bad rows each is named; the rest are counted.
const NAMED: usize = 1_000;

/// What is to be taken in, and how.
#[derive(Debug, Clone)]
pub struct Request<'a> {
    pub kind: Kind,
    pub bytes: &'a [u8],
    pub options: Options,
}

/// How a table is taken in.
#[expect(clippy::struct_excessive_bools, reason = "each is a choice of who imports")]
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Options {
    /// Their head, our column.
    pub by_hand: Vec<(String, String)>,
    /// Says what would happen and changes nothing.
    pub dry_run: bool,
    /// Takes the good rows and counts the rest.
    pub skip_bad_rows: bool,
    /// Takes a range of days by its first day instead of refusing it.
    pub first_day: bool,
    /// Whether the day or the month comes first where a date could be read both ways.
    pub dates: Option<DateOrder>,
    /// Records attempts whose minutes are unlikely as confirmed by the person who imports.
    pub confirms: bool,
    /// Takes what a second person judged elsewhere, marked as imported; for administrators.
    pub history: bool,
}

impl Options {
    fn reading(&self) -> Reading {
        Reading { first_of_range: self.first_day, order: self.dates }
    }
}

/// Keeps a table that was sent in until its person has looked at it; gives the name it goes by.
pub async fn keep(app: &App, actor: &Actor, upload: Upload) -> Result<String, Failure> {
    let code = crate::tokens::Token::fresh()?.show();
    let mut tx = app.db.begin().await?;
    let now = app.clock.now();
    imports::keep_upload(&mut tx, &code, &actor.name, &upload, now).await?;
    tx.commit().await?;
    Ok(code)
}

/// A table that this person sent in.
pub async fn kept(app: &App, actor: &Actor, code: &str) -> Result<Upload, Failure> {
    let mut db = app.db.reader().await?;
    imports::upload(&mut db, code, &actor.name).await?.ok_or_else(|| {
        Failure::Refused("This table is not kept any more; send the file again.".to_owned())
    })
}

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
    pub planted: BTreeMap<&'static str, u64>,
    /// Each head of the table with the column that it fills.
    pub heads: Vec<(String, Option<&'static str>)>,
    pub unknown_heads: Vec<String>,
    pub notes: Vec<String>,
    /// The first date that the two orders of day and month read differently, if there is one.
    pub either: Option<EitherDate>,
    /// Attempts whose unlikely minutes this import confirms.
    pub confirmed: u64,
    /// The codes of the first records taken, as links to look at.
    pub first_codes: Vec<String>,
    pub committed: bool,
}

/// Takes in a table, or says what would come of it. `progress` hears how many rows are through.
pub async fn run(
    app: &App,
    actor: &Actor,
    request: &Request<'_>,
    key: Option<&FormKey>,
    mut progress: impl FnMut(u64, u64) + Send,
) -> Result<Report, Failure> {
    let table =
        table::read(request.bytes).map_err(|cause| Failure::field("file", cause.to_string()))?;
    let columns = kinds::columns(request.kind);
    let heads = mapping(&table.heads, columns, &request.options.by_hand)
        .map_err(|cause| Failure::field("map", cause.to_string()))?;
    let mut report = opening(&table, &heads, request.kind);
    report.find_either_dates(&table, &heads, request);
    if report.asks_for_order(request) {
        return Ok(report);
    }
    if request.options.history {
        may_import_history(actor, request.kind)?;
    }
    let mut work = Work::begin(app, actor, key).await?;
    work.plants_missing = true;
    work.is_history = request.options.history;
    work.because(format!("imported from a table of {}", request.kind.plural()));
    let mut keys = RowKeys::new(request.kind);
    let all = report.rows;
    for (number, row) in (1u64..).zip(&table.rows) {
        work.row = Some(number);
        let cells = heads.cells(row);
        let row_key = keys.next(&cells);
        let past = past_limits(request.kind, &cells, row.line);
        imports::mark(work.db()).await?;
        match take_row(&mut work, request, cells, &row_key).await {
            Ok(taken) => {
                imports::keep(work.db()).await?;
                report.count(taken);
                let room = NAMED.saturating_sub(report.past_limits.len());
                report.past_limits.extend(past.into_iter().take(room));
            }
            Err(Failure::Internal(cause)) => return Err(Failure::Internal(cause)),
            Err(failure) => {
                imports::back(work.db()).await?;
                report.refuse(row.line, failure, |field| {
                    heads.head(field, &table.heads).unwrap_or(field).to_owned()
                });
            }
        }
        progress(number, all);
    }
    report.planted = work.planted.iter().map(|(kind, count)| (kind.plural(), *count)).collect();
    report.confirmed = work.confirmed;
    if report.confirmed > 0 {
        report.notes.push(format!(
            "Minutes that are unlikely are recorded as confirmed by {}: {}.",
            actor.name, report.confirmed
        ));
    }
    if work.slots_found > 0 {
        report.notes.push(format!(
            "Attempts that name no slot, recorded as planned by the slot that was set there: {}.",
            work.slots_found
        ));
    }
    let takes = !request.options.dry_run && (report.bad_rows == 0 || request.options.skip_bad_rows);
    if takes {
        work.finish(format!("/{}", request.kind.plural())).await?;
        report.committed = true;
    }
    Ok(report)
}

fn may_import_history(actor: &Actor, kind: Kind) -> Result<(), Failure> {
    if four_eyes::judging(kind).is_none() {
        let judged: Vec<&str> = four_eyes::JUDGED.iter().map(|kind| kind.plural()).collect();
        return Err(Failure::Refused(format!(
            "A table of {} holds nothing that a second person judges; import it without “as \
             history”. That is for tables of {}.",
            kind.plural(),
            judged.join(", ")
        )));
    }
    if may(actor.role, Action::ImportHistory) {
        return Ok(());
    }
    Err(Failure::Forbidden(refusal(actor.role, Action::ImportHistory)))
}

/// The values past their limits in one row.
fn past_limits(kind: Kind, cells: &Cells, line: u64) -> Vec<PastLimit> {
    if kind != Kind::Attempt {
        return Vec::new();
    }
    let read = List::<Measured>::read(cells.get("measured")).unwrap_or_default();
    let past = |one: &Measured| {
        one.judgement().map(|judgement| PastLimit { line, value: one.entered.clone(), judgement })
    };
    read.iter().filter_map(past).collect()
}

fn opening(table: &Table, heads: &Mapping, kind: Kind) -> Report {
    let columns = kinds::columns(kind);
    let filled = |head: &String| {
        let column =
            columns.iter().find(|column| heads.head(column.name, &table.heads) == Some(head));
        (head.clone(), column.map(|column| column.name))
    };
    let mut report = Report {
        rows: (table.rows.len() + table.bad.len()) as u64,
        heads: table.heads.iter().map(filled).collect(),
        unknown_heads: heads.unknown.clone(),
        notes: table.notes.clone(),
        ..Report::default()
    };
    for bad in &table.bad {
        report.bad_rows += 1;
        report.name(BadRow { line: bad.line, column: String::new(), reason: bad.reason.clone() });
    }
    report
}

/// What became of one row.
enum Taken {
    New(String),
    Changed,
    Known,
}

async fn take_row(
    work: &mut Work,
    request: &Request<'_>,
    mut cells: Cells,
    row_key: &str,
) -> Result<Taken, Failure> {
    let kind = request.kind;
    days_as_written(kind, &mut cells, request.options.reading())?;
    if request.options.confirms && kind == Kind::Attempt && cells.get("confirmed").is_empty() {
        cells.set("confirmed", CONFIRMED);
    }
    let code = cells.get("code").trim().to_owned();
    if code.is_empty() {
        if imports::known_row(work.db(), kind, row_key).await?.is_some() {
            return Ok(Taken::Known);
        }
        let Done { code, .. } = kinds::save_whole(work, kind, &cells, Base::New).await?;
        imports::remember_row(work.db(), kind, row_key, &code).await?;
        return Ok(Taken::New(code));
    }
    let there = register::find(work.db(), kind, &code).await?.is_some();
    if !there {
        return Ok(Taken::New(kinds::save_whole(work, kind, &cells, Base::New).await?.code));
    }
    // A file that does not carry a column says nothing about it.
    if let Some(before) = kinds::find(work.db(), kind, &code).await? {
        for (name, text) in before.iter() {
            if !cells.has(name) {
                cells.set(name, text);
            }
        }
    }
    let done = kinds::save_whole(work, kind, &cells, Base::Current).await?;
    Ok(if done.changed { Taken::Changed } else { Taken::Known })
}

/// Turns every way of writing a day into the one that records read.
fn days_as_written(kind: Kind, cells: &mut Cells, reading: Reading) -> Result<(), Failure> {
    let mut wrong = Vec::new();
    for column in kinds::columns(kind).iter().filter(|column| column.input == Input::Day) {
        let text = cells.get(column.name).trim().to_owned();
        if text.is_empty() {
            continue;
        }
        match read_day(&text, reading) {
            Ok(day) => cells.set(column.name, day.to_string()),
            Err(message) => wrong.push(FieldError::new(column.name, message)),
        }
    }
    if wrong.is_empty() { Ok(()) } else { Err(Failure::Invalid(wrong)) }
}

impl Report {
    /// Names every date that the two orders read differently; and, in a table that writes one date
    /// with the day first and another with the month first, each that is not like the first.
    fn find_either_dates(&mut self, table: &Table, heads: &Mapping, request: &Request<'_>) {
        let options = &request.options;
        let columns = kinds::columns(request.kind).iter();
        let days: Vec<&str> =
            columns.filter(|column| column.input == Input::Day).map(|column| column.name).collect();
        let mut one_order: Option<DateOrder> = None;
        for row in &table.rows {
            let cells = heads.cells(row);
            let mut is_bad = false;
            for (name, text) in days.iter().map(|name| (*name, cells.get(name).trim())) {
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
                        format!(
                            "“{text}” has its day and month in another order than the dates above."
                        )
                    });
                    let column = heads.head(name, &table.heads).unwrap_or(name).to_owned();
                    self.name(BadRow { line: row.line, column, reason });
                }
                let either = EitherDate { line: row.line, text: text.to_owned() };
                self.either.get_or_insert(either);
            }
            if is_bad && options.dates.is_none() {
                self.bad_rows += 1;
            }
        }
    }

    /// Without the order nothing is imported, because a guess would put rows on other days.
    fn asks_for_order(&self, request: &Request<'_>) -> bool {
        self.either.is_some() && request.options.dates.is_none()
    }

    fn count(&mut self, taken: Taken) {
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

    fn refuse(&mut self, line: u64, failure: Failure, head: impl Fn(&str) -> String) {
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
