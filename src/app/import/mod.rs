//! Taking in a table: every bad row named by line, column and reason, and nothing half done. What
//! would come of it is worked out on a copy of the database, so that nobody waits for a look; a
//! large table is worked out there too, and then put into the database at once.

use std::time::Duration;

use crate::kinds::{self, SavedRecord};
use crate::records::Base;
use crate::work::{FormKey, Work};
use crate::{Actor, App, Failure, four_eyes};
use domain::bounds::{MAX_UNTIMED_BYTES, MAX_UNTIMED_ROWS};
use domain::cells::{Cell as _, Cells, FieldError, Input, List};
use domain::kinds::Kind;
use domain::quantities::Measured;
use domain::roles::{Action, action_for, may, refusal};
use domain::words::Role;
use exchange::days::{DateOrder, Reading, read_day};
use exchange::heads::{Mapping, MappingError, guessed, mapping};
use exchange::same_rows::RowKeys;
pub use reading::{Given, Stop};
pub use recognised::{Guess, Peek, Recognised, of_heads, peek, recognise};
pub use report::{BadRow, EitherDate, PastLimit, Report};
use report::{NAMED, Taken};
use role_columns::left_to_others;
pub use role_columns::sentences;
use store::StoreError;
use store::{forms, imports, register};
pub use uploads::{Upload, keep, kept, say_kind};

mod reading;
mod recognised;
mod report;
mod role_columns;
mod staged;
mod uploads;

/// The word that answers the question about unlikely minutes in a table.
const CONFIRMED: &str = "yes";

/// So many rows are shown under the columns that they fill.
const FIRST_ROWS: usize = 5;

/// What is to be taken in, and how.
#[derive(Debug, Clone)]
pub struct Request<'a> {
    pub kind: Kind,
    pub table: Given<'a>,
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
    /// Somebody looks at what each head fills and can choose otherwise.
    pub asks: bool,
}

impl Options {
    fn reading(&self) -> Reading {
        Reading { first_of_range: self.first_day, order: self.dates }
    }
}

/// How far a run is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Far {
    /// The rows are gone through on a copy, and nobody waits for that.
    pub is_look: bool,
    pub through: u64,
    pub rows: u64,
}

/// Imports a table, or previews it. `told` is called with how far it is.
pub async fn run(
    app: &App,
    actor: &Actor,
    request: &Request<'_>,
    key: Option<&FormKey>,
    told: impl FnMut(Far) + Send,
) -> Result<Report, Failure> {
    Box::pin(run_within(app, actor, request, key, &Limits::default(), told)).await
}

/// What ends a run before it is through, with nothing taken.
#[derive(Debug, Clone, Default)]
pub struct Limits {
    pub stop: Stop,
    /// So long others may have to wait while the table is saved; any time where that is not said.
    pub holds_up: Option<Duration>,
}

/// The same within limits.
pub(crate) async fn run_within(
    app: &App,
    actor: &Actor,
    request: &Request<'_>,
    key: Option<&FormKey>,
    limits: &Limits,
    mut told: impl FnMut(Far) + Send,
) -> Result<Report, Failure> {
    let stop = &limits.stop;
    let options = &request.options;
    may_look(actor, request.kind)?;
    if let Some(FormKey(key)) = key
        && let Some(answer) = forms::answer(&mut *app.db.reader().await?, key, &actor.name).await?
    {
        return Err(Failure::AlreadyTaken(answer));
    }
    let file = reading::File::look_over(&request.table, stop).await?;
    let columns = kinds::columns(request.kind);
    let wrong = |cause: MappingError| Failure::field("map", cause.to_string());
    let mut report;
    let heads = if options.asks {
        let there = &file.survey.heads;
        let (heads, clashes) = guessed(there, columns, &options.by_hand).map_err(wrong)?;
        let theirs = left_to_others(actor, request.kind, &heads.filled(there));
        let by_hand = left_out(&options.by_hand, &theirs);
        let (heads, _) = guessed(there, columns, &by_hand).map_err(wrong)?;
        report = Report::opening(&file.survey, &heads, request.kind);
        report.ask_about(&clashes, &heads, request.kind);
        report.first_rows = first_rows(&file).await?;
        if report.fills_nothing() {
            return Ok(report);
        }
        heads
    } else {
        let heads = mapping(&file.survey.heads, columns, &options.by_hand).map_err(wrong)?;
        report = Report::opening(&file.survey, &heads, request.kind);
        heads
    };
    let table = Table { request, heads, file, stop };
    table.find_either_dates(&mut report).await?;
    if report.either.is_some() && options.dates.is_none() {
        // Without the order nothing is imported, because a guess would put rows on other days.
        return Ok(report);
    }
    if options.history {
        may_import_history(actor, request.kind)?;
    }
    // A short table takes long where its lists do.
    let is_timed = report.rows > MAX_UNTIMED_ROWS
        || table.file.bytes().map_err(StoreError::from)? > MAX_UNTIMED_BYTES;
    if options.dry_run {
        return table.looked_at(app, actor, report, &mut told).await;
    }
    if is_timed {
        return staged::import(&table, app, (actor, key), report, limits, &mut told).await;
    }
    let work = Work::begin(app, actor, key).await?;
    let work = table.gone_through(work, &mut report, &mut told).await?;
    if report.is_good(options) {
        work.finish(format!("/{}", request.kind.plural())).await?;
        report.committed = true;
    }
    Ok(report)
}

/// Leaves these heads out, unless somebody said what they fill.
fn left_out(by_hand: &[(String, String)], theirs: &[&str]) -> Vec<(String, String)> {
    let mut all = by_hand.to_vec();
    let is_free = |head: &&&str| !by_hand.iter().any(|(known, _)| known == **head);
    all.extend(theirs.iter().filter(is_free).map(|head| ((*head).to_owned(), String::new())));
    all
}

/// The first good rows as they stand in the table.
async fn first_rows(file: &reading::File) -> Result<Vec<Vec<String>>, Failure> {
    let mut rows = file.rows().await?.next().await?;
    rows.truncate(FIRST_ROWS);
    Ok(rows.into_iter().map(|row| row.cells).collect())
}

/// A table that is being taken in.
struct Table<'a> {
    request: &'a Request<'a>,
    heads: Mapping,
    file: reading::File,
    stop: &'a Stop,
}

impl Table<'_> {
    /// What would come of it, worked out on a copy that is thrown away.
    async fn looked_at(
        &self,
        app: &App,
        actor: &Actor,
        mut report: Report,
        told: &mut (impl FnMut(Far) + Send),
    ) -> Result<Report, Failure> {
        let copy = app.db.copied().await?;
        let work = Work::begin(&app.aside(&copy.db), actor, None).await?;
        let mut told = |far: Far| told(Far { is_look: true, ..far });
        let gone = self.gone_through(work, &mut report, &mut told).await.map(drop);
        copy.discard().await;
        gone.map(|()| report)
    }

    /// Saves row by row in one operation, which is not committed yet.
    async fn gone_through(
        &self,
        mut work: Work,
        report: &mut Report,
        told: &mut (impl FnMut(Far) + Send),
    ) -> Result<Work, Failure> {
        let Self { request, heads, file, stop } = self;
        let mut rows = file.rows().await?;
        work.creates_missing = true;
        work.is_history = request.options.history;
        work.because(format!("imported from a table of {}", request.kind.plural()));
        let mut keys = RowKeys::new(request.kind);
        let mut far = Far { is_look: false, through: 0, rows: report.rows };
        loop {
            let batch = rows.next().await?;
            if batch.is_empty() {
                break;
            }
            for row in batch {
                stop.asked()?;
                far.through += 1;
                work.row = Some(far.through);
                let cells = heads.cells(&row);
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
                            heads.head(field, &file.survey.heads).unwrap_or(field).to_owned()
                        });
                    }
                }
                told(far);
            }
        }
        report.sum_up(&work);
        Ok(work)
    }

    /// Names every date that the two orders read differently; and, in a table that writes one date
    /// with the day first and another with the month first, each that is not like the first.
    async fn find_either_dates(&self, report: &mut Report) -> Result<(), Failure> {
        let heads = &self.file.survey.heads;
        let days: Vec<&str> = kinds::columns(self.request.kind)
            .iter()
            .filter(|column| column.input == Input::Day)
            .filter(|column| self.heads.head(column.name, heads).is_some())
            .map(|column| column.name)
            .collect();
        if days.is_empty() {
            return Ok(());
        }
        let mut rows = self.file.rows().await?;
        let mut one_order = None;
        loop {
            self.stop.asked()?;
            let batch = rows.next().await?;
            if batch.is_empty() {
                return Ok(());
            }
            for row in batch {
                let cells = self.heads.cells(&row);
                let dates = days.iter().map(|name| {
                    let head = self.heads.head(name, heads).unwrap_or(name);
                    (head, cells.get(name).trim())
                });
                report.take_dates(row.line, dates, &self.request.options, &mut one_order);
            }
        }
    }
}

/// Refuses whoever may take in no row of such a table, before anything of it is read.
pub fn may_look(actor: &Actor, kind: Kind) -> Result<(), Failure> {
    if takes_in(actor.role, kind) {
        return Ok(());
    }
    Err(Failure::Forbidden(refusal(actor.role, action_for(kind))))
}

fn takes_in(role: Role, kind: Kind) -> bool {
    let as_history = four_eyes::judging(kind).is_some() && may(role, Action::ImportHistory);
    Kind::IMPORTED.contains(&kind) && (as_history || may(role, action_for(kind)))
}

/// Why a role takes in no table at all; `None` where it takes in those of some kind.
pub fn refuses(role: Role) -> Option<String> {
    let takes_some = Kind::IMPORTED.iter().any(|kind| takes_in(role, *kind));
    (!takes_some).then(|| format!("A {role} may not import tables. Ask an engineer or a lead."))
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
        let SavedRecord { code, .. } = kinds::save_whole(work, kind, &cells, Base::New).await?;
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
