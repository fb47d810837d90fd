//! Bringing in a table: see what each column would become and every bad row, then take it.

use std::fmt::Write as _;
use std::time::Duration;

use askama::Template;
use axum::extract::{FromRequest as _, Multipart, Request, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};

use crate::addresses;
use crate::extract::{Fields, Path};
use crate::failure::{PageError, Problem};
use crate::forms::{Choice, ErrorSummary, FieldView, Width};
use crate::frame::{Nav, PageFrame};
use crate::page::{Done, Page, see_other};
use crate::received::{broken, short_text, to_disk};
use crate::visitor::Viewer;
use app::import::{self, EitherDate, Far, Options, Report, Upload};
use app::under_way::{self, Run};
use app::{App, Failure, four_eyes, kinds};
use domain::bounds::{MAX_TABLE_COLUMNS, MAX_TABLE_ROWS};
use domain::kinds::Kind;
use domain::roles::{Action, may};
use domain::words::Role;
use exchange::days::DateOrder;

mod first_rows;
mod kinds_told;

use first_rows::{FirstRows, under_columns};
pub(crate) use kinds_told::say_kind;
use kinds_told::{ask, kinds_field, theirs, what_it_is};

/// What is through by then is answered at once; the rest shows how far it is.
const SHORT: Duration = Duration::from_millis(800);
/// So long the page of a run waits for its end, which it looks for again every two seconds.
const GLANCE: Duration = Duration::from_millis(50);

/// What is sent for the kind of the rows where the heads of the table are to tell it.
const BY_HEADS: &str = "by-heads";

#[derive(Template)]
#[template(path = "import/send.html")]
pub(crate) struct SendPage {
    page: PageFrame,
    summary: ErrorSummary,
    may_import: bool,
    role: Role,
    bounds: String,
    kinds: FieldView,
    columns: Vec<(&'static str, Vec<ColumnRow>)>,
    /// What this role may not import, by kind.
    withheld: Vec<(String, String)>,
    /// The kinds that it may not import at all.
    not_theirs: String,
}

struct ColumnRow {
    name: &'static str,
    label: &'static str,
    also: String,
    required: bool,
}

#[derive(Template)]
#[template(path = "import/look.html")]
pub(crate) struct LookPage {
    page: PageFrame,
    summary: ErrorSummary,
    code: String,
    name: String,
    kind: Kind,
    heads: Vec<HeadRow>,
    report: Report,
    /// The heads by which this kind is known.
    known: Vec<String>,
    kinds: FieldView,
    withheld: Vec<String>,
    first_rows: FirstRows,
    first: Vec<(String, String)>,
    options: Options,
    /// Why nothing of it can be imported as it is.
    stopped_by: Option<String>,
    /// Which comes first, day or month: asked where a date of the table could be either.
    dates: Option<FieldView>,
    /// Attempts are imported, whose minutes may have to be confirmed.
    may_confirm: bool,
    /// Whether reviews and verifications are imported as history; nothing where that is not asked.
    history: Option<bool>,
}

/// A table that takes longer than a moment.
#[derive(Template)]
#[template(path = "import/under_way.html")]
pub(crate) struct UnderWayPage {
    page: PageFrame,
    here: String,
    stop: String,
    dry_run: bool,
    far: Far,
}

/// A head of the table and the column that it fills.
struct HeadRow {
    field: FieldView,
}

pub(crate) async fn show(State(app): State<App>, viewer: Viewer) -> Page<SendPage> {
    let limit = app.config.table_limit;
    Page(send_page(&viewer, limit, ErrorSummary { heading: String::new(), lines: Vec::new() }))
}

fn send_page(viewer: &Viewer, limit: usize, summary: ErrorSummary) -> SendPage {
    let taken = theirs(viewer);
    let others: Vec<String> = Kind::IMPORTED
        .iter()
        .filter(|kind| !taken.contains(kind))
        .map(|kind| kind.plural().replace('-', " "))
        .collect();
    let mut withheld: Vec<(String, String)> = Vec::new();
    for kind in &taken {
        let words = import::sentences(viewer.actor.role, *kind).join(" ");
        let plural = kind.plural().replace('-', " ");
        match withheld.iter_mut().find(|(_, said)| *said == words) {
            _ if words.is_empty() => {}
            Some((plurals, _)) => *plurals = format!("{plurals}, {plural}"),
            None => withheld.push((plural, words)),
        }
    }
    let choices = std::iter::once(Choice::new(BY_HEADS, "what its heads say"))
        .chain(taken.iter().map(|kind| Choice::new(kind.plural(), kind.plural().replace('-', " "))))
        .collect();
    let columns = Kind::IMPORTED
        .iter()
        .map(|kind| {
            let rows = kinds::columns(*kind)
                .iter()
                .map(|column| ColumnRow {
                    name: column.name,
                    label: column.label,
                    also: column.also.join(", "),
                    required: column.required,
                })
                .collect();
            (kind.plural(), rows)
        })
        .collect();
    SendPage {
        page: viewer.frame("Import", Nav::Import).refusing(!summary.is_empty()),
        summary,
        may_import: !taken.is_empty(),
        role: viewer.actor.role,
        bounds: bounds(limit),
        kinds: FieldView::new("kind", "What the rows are")
            .choosing(choices)
            .first()
            .wide(Width::Medium),
        columns,
        withheld,
        not_theirs: others.join(", "),
    }
}

/// What a table may hold at the most, in a sentence.
fn bounds(bytes: usize) -> String {
    format!(
        "At most {MAX_TABLE_ROWS} rows, {MAX_TABLE_COLUMNS} columns and {} MB in one table.",
        bytes / 1_000_000
    )
}

/// Takes the file in, to be looked at.
pub(crate) async fn send(
    State(app): State<App>,
    viewer: Viewer,
    request: Request,
) -> Result<Response, PageError> {
    let mut kind = None;
    let mut by_heads = false;
    let mut parts = Multipart::from_request(request, &app).await.map_err(|cause| {
        tracing::debug!(%cause, "no form with a file");
        Problem::new(StatusCode::BAD_REQUEST, "No file came in", "Choose a file and send it again.")
    })?;
    while let Some(part) = parts.next_field().await.map_err(|cause| broken(&cause))? {
        match part.name() {
            Some("kind") => {
                let named = short_text(part).await?;
                by_heads = named == BY_HEADS;
                kind = Kind::named(&named).filter(|kind| Kind::IMPORTED.contains(kind));
            }
            Some("file") => {
                if kind.is_none() && !by_heads {
                    break;
                }
                if let Some(kind) = kind {
                    import::may_look(&viewer.actor, kind)?;
                }
                let name: String = part.file_name().unwrap_or("table").chars().take(120).collect();
                let most = app.config.table_limit;
                let words = match to_disk(&app, part, most).await? {
                    None => "Choose a file that is not empty.".to_owned(),
                    Some((_, bytes)) if bytes > most => format!(
                        "{name} is larger than {} MB, the most for one file. Split it into \
                         several tables.",
                        most / 1_000_000
                    ),
                    Some((file, _)) => match what_it_is(&viewer, kind, &file, &name).await {
                        Ok((kind, is_sure)) => {
                            let code =
                                import::keep(&app, &viewer.actor, (kind, &name), file).await?;
                            let at = addresses::within("import", &code);
                            let to = if is_sure { at } else { format!("{at}?ask=kind") };
                            return Ok(Done::to(to).into_response());
                        }
                        Err(Failure::Refused(words)) => words,
                        Err(failure) => return Err(failure.into()),
                    },
                };
                return Ok(refuse(&viewer, most, &words));
            }
            _ => {}
        }
    }
    let words = if kind.is_none() && !by_heads {
        "Choose what the rows are."
    } else {
        "Choose a file that is not empty."
    };
    Ok(refuse(&viewer, app.config.table_limit, words))
}

fn refuse(viewer: &Viewer, limit: usize, words: &str) -> Response {
    let page = Page(send_page(viewer, limit, ErrorSummary::saying(words)));
    (StatusCode::UNPROCESSABLE_ENTITY, page).into_response()
}

/// What would come of the table; nothing is changed.
pub(crate) async fn look(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Response, PageError> {
    if under_way::find(&app, &viewer.actor, &code).is_some() {
        return Ok(see_other(&under_way_at(&code)));
    }
    let query = viewer.address().split_once('?').map_or("", |(_, query)| query).to_owned();
    let asked = Fields::read(query.as_bytes());
    if asked.get("ask") == "kind" {
        return ask(&app, &viewer, &code).await;
    }
    run(&app, &viewer, &code, &asked, true).await
}

/// Takes it.
pub(crate) async fn take(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Response, PageError> {
    run(&app, &viewer, &code, &typed, false).await
}

async fn run(
    app: &App,
    viewer: &Viewer,
    code: &str,
    asked: &Fields,
    dry_run: bool,
) -> Result<Response, PageError> {
    let upload = import::kept(app, &viewer.actor, code).await?;
    let by_hand = asked
        .0
        .iter()
        .filter_map(|(name, value)| Some((name.strip_prefix("head-")?.to_owned(), value.clone())))
        .filter(|(_, column)| column != "as known")
        .collect();
    let options = Options {
        by_hand,
        dry_run,
        skip_bad_rows: asked.get("skip") == "yes",
        first_day: asked.get("first_day") == "yes",
        dates: DateOrder::named(asked.get("dates")),
        confirms: asked.get("confirm") == "yes",
        history: asked.get("history") == "yes",
        asks: true,
    };
    let key = if dry_run { None } else { asked.key() };
    import::may_look(&viewer.actor, upload.kind)?;
    let run = under_way::start(app, &viewer.actor, (code.to_owned(), upload), options, key)?;
    if run.ends_within(SHORT).await {
        return ended(app, viewer, code, &run).await;
    }
    Ok(Done::to(under_way_at(code)).into_response())
}

fn under_way_at(code: &str) -> String {
    format!("{}/under-way", addresses::within("import", code))
}

/// How far a table is; once it is through, what came of it.
pub(crate) async fn look_how_far(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Response, PageError> {
    let Some(run) = under_way::find(&app, &viewer.actor, &code) else {
        return Ok(see_other(&addresses::within("import", &code)));
    };
    if run.ends_within(GLANCE).await {
        return ended(&app, &viewer, &code, &run).await;
    }
    let page = Page(UnderWayPage {
        page: viewer.frame("Import under way", Nav::Import),
        here: under_way_at(&code),
        stop: format!("{}/stop", addresses::within("import", &code)),
        dry_run: run.options.dry_run,
        far: run.far(),
    });
    Ok(([(header::REFRESH, "2")], page).into_response())
}

/// Ends a run before it is through, with nothing taken. One that is being saved already is shown
/// to its end.
pub(crate) async fn stop(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Response, PageError> {
    let Some(run) = under_way::find(&app, &viewer.actor, &code) else {
        return Ok(see_other(&addresses::within("import", &code)));
    };
    run.stop();
    if !run.ends_within(SHORT).await {
        return Ok(see_other(&under_way_at(&code)));
    }
    match under_way::outcome(&app, &viewer.actor, &run) {
        Some(Ok(report)) if report.committed => {
            let upload = import::kept(&app, &viewer.actor, &code).await?;
            Ok(taken(upload.kind, &report))
        }
        _ => Ok(Done::to("/import").saying("Stopped; nothing was changed.").into_response()),
    }
}

/// Leads to the list in which the rows now stand, and to the first of them.
fn taken(kind: Kind, report: &Report) -> Response {
    let rows = if report.taken == 1 { "row" } else { "rows" };
    let mut words = format!(
        "{} {rows} imported as new, {} changed, {} known already, {} refused.",
        report.taken, report.changed, report.known, report.bad_rows
    );
    if !report.first_codes.is_empty() {
        let _ = write!(words, " First: {}.", report.first_codes.join(", "));
    }
    Done::to(format!("/{}", addresses::folder(kind))).saying(words).into_response()
}

async fn ended(app: &App, viewer: &Viewer, code: &str, run: &Run) -> Result<Response, PageError> {
    let Some(outcome) = under_way::outcome(app, &viewer.actor, run) else {
        return Ok(see_other(&addresses::within("import", code)));
    };
    let upload = import::kept(app, &viewer.actor, code).await?;
    let (report, summary) = match outcome {
        Ok(report) => (report, ErrorSummary { heading: String::new(), lines: Vec::new() }),
        Err(Failure::Invalid(errors)) => {
            let words: Vec<String> = errors.into_iter().map(|error| error.message).collect();
            (Report::default(), ErrorSummary::saying(words.join(" ")))
        }
        Err(other) => return Err(other.into()),
    };
    if report.committed {
        return Ok(taken(upload.kind, &report));
    }
    let options = &run.options;
    let summary = match stopped_by(&report, options) {
        Some(why) if !options.dry_run && summary.is_empty() => ErrorSummary::saying(why),
        _ => summary,
    };
    let status = if options.dry_run { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    let page = look_page(viewer, code, upload, report, summary, options);
    Ok((status, Page(page)).into_response())
}

/// Why nothing of the table can be imported as it is, and what to do.
fn stopped_by(report: &Report, options: &Options) -> Option<String> {
    if let (Some(_), None) = (&report.either, options.dates) {
        let words = "Nothing is imported until the order of day and month is chosen. Choose it \
                     under Columns, then preview again.";
        return Some(words.to_owned());
    }
    let refused = match report.bad_rows {
        0 => return None,
        _ if options.skip_bad_rows => return None,
        1 => "1 row is".to_owned(),
        more => format!("{more} rows are"),
    };
    Some(format!(
        "Nothing is imported: {refused} refused. Correct the table and send it again, or choose under \
         Columns to leave them out."
    ))
}

/// Asks once for the whole file.
fn order_field(either: &EitherDate, chosen: Option<DateOrder>) -> FieldView {
    let mut choices = vec![Choice::new("", "choose")];
    choices.push(Choice::new(DateOrder::DayFirst.word(), "the day comes first"));
    choices.push(Choice::new(DateOrder::MonthFirst.word(), "the month comes first"));
    let mut field = FieldView::new("dates", "Dates in this file")
        .choosing(choices)
        .holding(chosen.map_or("", DateOrder::word))
        .hinting(format!("Line {} has {}.", either.line, either.text))
        .wide(Width::Medium);
    if chosen.is_none() {
        field.error = Some("Choose one: some dates of this file can be read both ways.".to_owned());
    }
    field
}

fn look_page(
    viewer: &Viewer,
    code: &str,
    upload: Upload,
    report: Report,
    summary: ErrorSummary,
    options: &Options,
) -> LookPage {
    let history = four_eyes::judging(upload.kind)
        .filter(|_| may(viewer.actor.role, Action::ImportHistory))
        .map(|_| options.history);
    let heads = report
        .heads
        .iter()
        .map(|(head, column)| {
            let mut choices = vec![Choice::new("", "left out")];
            choices
                .extend(kinds::columns(upload.kind).iter().map(|c| Choice::new(c.name, c.label)));
            let field = FieldView::new(format!("head-{head}"), head.clone())
                .choosing(choices)
                .holding(column.unwrap_or(""))
                .wide(Width::Medium);
            HeadRow { field }
        })
        .collect();
    let first = report
        .first_codes
        .iter()
        .map(|code| (addresses::of(upload.kind, code), code.clone()))
        .collect();
    let all_heads: Vec<String> = report.heads.iter().map(|(head, _)| head.clone()).collect();
    let told = import::of_heads(&all_heads);
    let guess = told.guesses.iter().find(|guess| guess.kind == upload.kind);
    let known = guess.map(|guess| guess.known.clone()).unwrap_or_default();
    let first_rows = under_columns(upload.kind, &report);
    let dates = report.either.as_ref().map(|either| order_field(either, options.dates));
    LookPage {
        stopped_by: stopped_by(&report, options),
        page: viewer
            .frame(format!("Import {}", upload.name), Nav::Import)
            .refusing(!summary.is_empty()),
        summary,
        code: code.to_owned(),
        name: upload.name,
        kind: upload.kind,
        heads,
        known,
        kinds: kinds_field(viewer, &told, upload.kind),
        withheld: import::sentences(viewer.actor.role, upload.kind),
        first_rows,
        report,
        first,
        dates,
        may_confirm: upload.kind == Kind::Attempt,
        options: options.clone(),
        history,
    }
}
