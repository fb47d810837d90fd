//! All attempts and deferrals, searched; and what stops work, ranked.

use app::read::Connection;
use askama::Template;
use axum::extract::State;
use axum::response::Response;

use crate::addresses;
use crate::drawings::cause_bars::{self, CauseBar, percent};
use crate::drawings::markup::Drawing;
use crate::extract::Fields;
use crate::failure::PageError;
use crate::forms::{Choice, FieldView, Width};
use crate::frame::{Nav, PageFrame};
use crate::page::Page;
use crate::pages::day::replayed::ReplayView;
use crate::tables;
use crate::values::{past_limits, values};
use crate::visitor::Viewer;
use app::App;
use app::read::events::{self, EventRow, Filter};
use app::read::{StoreError, words};
use domain::cells::Cell as _;
use domain::kinds::Kind;
use domain::roles::{Action, may};
use domain::words::Outcome;

const PAGE: i64 = 50;
/// Attempts are counted so far.
const COUNTED: i64 = 10_000;
/// Kinds of cause in the table beside the drawing.
const CAUSES: usize = 100;

#[derive(Template)]
#[template(path = "history/list.html")]
pub(crate) struct HistoryPage {
    page: PageFrame,
    may_record: bool,
    filters: Vec<FieldView>,
    bars: Drawing,
    causes: Vec<(String, String, i64, String, String)>,
    /// Kinds that the table leaves out.
    more_causes: usize,
    replayed: ReplayView,
    rows: Vec<EventRow>,
    /// What an empty list says where no filter is on.
    none_yet: Option<&'static str>,
    csv: String,
    number: i64,
    newer: Option<String>,
    older: Option<String>,
    /// How many attempts there are, in words.
    total: String,
}

/// What the address asks, as typed and as the store takes it.
fn asked(viewer: &Viewer) -> (Fields, Filter) {
    let query = viewer.address().split_once('?').map_or("", |(_, query)| query);
    let asked = Fields::read(query.as_bytes());
    let filter = filter_of(&asked);
    (asked, filter)
}

/// The word with which an address asks for what was not recorded.
pub(crate) const NOT_RECORDED: &str = "not recorded";

/// What the fields of an address narrow the history to.
pub(crate) fn filter_of(asked: &Fields) -> Filter {
    let some = |name: &str| {
        let value = asked.get(name).trim();
        (!value.is_empty())
            .then(|| if value == NOT_RECORDED { String::new() } else { value.to_owned() })
    };
    Filter {
        words: words::asked(asked.get("q")),
        cause: some("cause").map(Into::into),
        group: some("group"),
        technique: some("technique").map(Into::into),
        side: some("side"),
        worksite: some("site"),
        flight: some("flight"),
        outcome: Outcome::read(asked.get("outcome")),
        stopped: asked.get("stopped") == "yes",
    }
}

async fn found(
    db: &mut Connection,
    (asked, filter): (&Fields, &Filter),
    offset: i64,
    most: i64,
) -> Result<Vec<EventRow>, StoreError> {
    if asked.get("what") == "deferrals" {
        events::deferrals(db, filter, offset, most).await
    } else {
        events::attempts(db, filter, offset, most).await
    }
}

/// The attempts or deferrals that the list shows, whole, as a file.
pub(crate) async fn file(State(app): State<App>, viewer: Viewer) -> Result<Response, PageError> {
    const HEADS: &[&str] = &[
        "kind",
        "code",
        "task",
        "title",
        "excursion",
        "day",
        "technique",
        "side",
        "outcome",
        "cause",
        "words",
        "measured",
        "past_limit",
        "as_left",
    ];
    let (asked, filter) = asked(&viewer);
    let mut db = app.reader().await?;
    let rows = found(&mut db, (&asked, &filter), 0, tables::MAX_ROWS).await?;
    tables::file("history", HEADS, rows.into_iter().map(file_cells))
}

fn file_cells(row: EventRow) -> Vec<String> {
    let past = past_limits(&values(&row.measured));
    vec![
        row.kind.word().to_owned(),
        row.code,
        row.task.to_string(),
        row.title,
        row.excursion.to_string(),
        row.day.map_or_else(String::new, |day| day.to_string()),
        row.technique.map_or_else(String::new, |technique| technique.to_string()),
        row.side.map_or_else(String::new, |side| side.to_string()),
        row.outcome.map_or_else(String::new, |outcome| outcome.word().to_owned()),
        row.cause.unwrap_or_default(),
        row.words,
        row.measured.show(),
        past,
        row.as_left,
    ]
}

pub(crate) async fn list(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<HistoryPage>, PageError> {
    let (asked, filter) = asked(&viewer);
    let number: i64 = asked.get("page").parse().unwrap_or(1).clamp(1, 1_000_000);
    let offset = (number - 1) * PAGE;
    let mut db = app.reader().await?;
    let mut rows = found(&mut db, (&asked, &filter), offset, PAGE + 1).await?;
    let more = rows.len() > 50;
    rows.truncate(50);
    let total_rows = if asked.get("what") == "deferrals" {
        None
    } else {
        Some(events::count_attempts(&mut db, &filter, COUNTED).await?)
    };
    let counted = events::causes(&mut db, &filter).await?;
    let total: i64 = counted.iter().map(|cause| cause.count).sum();
    let replayed = ReplayView::of(&*app::day::replayed(&mut db).await?);
    let bars: Vec<CauseBar> = counted
        .iter()
        .take(12)
        .map(|cause| CauseBar { label: cause.words.clone(), count: cause.count, address: None })
        .collect();
    let address = |page: i64, cause: Option<&str>| {
        let mut pairs: Vec<(String, String)> = asked
            .0
            .iter()
            .filter(|(name, value)| {
                name != "page" && !value.is_empty() && !(cause.is_some() && name == "cause")
            })
            .cloned()
            .collect();
        if let Some(cause) = cause {
            pairs.push(("cause".to_owned(), cause.to_owned()));
        }
        if page > 1 {
            pairs.push(("page".to_owned(), page.to_string()));
        }
        let joined: Vec<String> = pairs
            .iter()
            .map(|(name, value)| format!("{name}={}", addresses::encoded(value)))
            .collect();
        format!("/history?{}", joined.join("&"))
    };
    Ok(Page(HistoryPage {
        page: viewer.frame("History", Nav::History),
        may_record: may(viewer.actor.role, Action::RecordAttempt),
        none_yet: none_yet(&asked),
        filters: fields(&asked),
        bars: cause_bars::draw(&bars, "attempts", "causes"),
        more_causes: counted.len().saturating_sub(CAUSES),
        causes: counted
            .iter()
            .take(CAUSES)
            .map(|cause| {
                (
                    address(1, Some(cause.code.as_str())),
                    cause.words.clone(),
                    cause.count,
                    percent(cause.count, total),
                    cause.cause_group.clone(),
                )
            })
            .collect(),
        replayed,
        total: total_rows.map_or_else(String::new, told),
        rows,
        csv: address(1, None).replacen("/history?", "/history.csv?", 1),
        number,
        newer: (number > 1).then(|| address(number - 1, None)),
        older: more.then(|| address(number + 1, None)),
    }))
}

fn told(count: i64) -> String {
    match count {
        1 => "1 attempt".to_owned(),
        more if more > COUNTED => format!("More than {COUNTED} attempts"),
        count => format!("{count} attempts"),
    }
}

fn fields(asked: &Fields) -> Vec<FieldView> {
    let line = |name: &str, label: &str| {
        FieldView::new(name, label).holding(asked.get(name)).wide(Width::Medium)
    };
    let outcomes = std::iter::once(Choice::new("", "any"))
        .chain(Outcome::ALL.iter().map(|outcome| Choice::new(outcome.word(), outcome.word())))
        .collect();
    vec![
        FieldView::new("q", "Words in what was written").holding(asked.get("q")).first(),
        FieldView::new("what", "Of")
            .choosing(vec![Choice::new("", "attempts"), Choice::new("deferrals", "deferrals")])
            .holding(asked.get("what"))
            .wide(Width::Small),
        FieldView::new("outcome", "Outcome")
            .choosing(outcomes)
            .holding(asked.get("outcome"))
            .wide(Width::Small),
        line("technique", "Technique"),
        line("side", "Side"),
        line("site", "Worksite"),
        line("flight", "Flight"),
        line("cause", "Cause, by code"),
        line("group", "Group of causes"),
        FieldView::new("stopped", "Stopped")
            .choosing(vec![Choice::new("", "or not"), Choice::new("yes", "by some cause")])
            .holding(asked.get("stopped"))
            .wide(Width::Small),
    ]
}

fn none_yet(asked: &Fields) -> Option<&'static str> {
    let is_filter = |name: &str| name != "page" && name != "what";
    if asked.0.iter().any(|(name, value)| is_filter(name) && !value.trim().is_empty()) {
        return None;
    }
    Some(match asked.get("what") {
        "deferrals" => "No deferral is recorded yet.",
        _ => "No attempt is recorded yet.",
    })
}

impl HistoryPage {
    fn values(row: &EventRow) -> Vec<crate::values::ValueView> {
        values(&row.measured)
    }

    fn folder(kind: Kind) -> &'static str {
        if kind == Kind::Deferral { "deferrals" } else { "attempts" }
    }
}
