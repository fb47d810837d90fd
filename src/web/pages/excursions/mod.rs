//! Excursions: the list of all, one planned, one flown, and what a person does with them.

use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse, Response};

use crate::addresses::{encoded, within};
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::forms::{Choice, FieldView, Pager};
use crate::frame::{Nav, PageFrame};
use crate::page::Page;
use crate::pages::slots::form::Typed;
use crate::shortened::shortened;
use crate::tables;
use crate::visitor::Viewer;
use app::read::excursion_list::{self, ExcursionRow, Filter};
use app::read::{Found, excursions, words};
use app::{App, Failure, Reader};
use domain::codes::ExcursionCode;
use domain::excursions::Excursion;
use domain::kinds::Kind;
use domain::words::ExcursionState;

pub(crate) mod acts;
mod facts;
mod flown;
pub(crate) mod planned;
mod slots;

use planned::PlannedPage;
pub(crate) use planned::in_short;
pub(crate) use planned::inhibits::{pets as arrangement_pets, step as arrangement_step};

const PAGE: i64 = 50;
/// Of the notes, so much stands in the list.
const SHORT: usize = 160;

#[derive(Template)]
#[template(path = "excursions/list.html")]
pub(crate) struct ListPage {
    page: PageFrame,
    fields: Vec<FieldView>,
    status: String,
    csv: String,
    rows: Vec<ListRow>,
    is_narrowed: bool,
    pager: Pager,
}

struct ListRow {
    row: ExcursionRow,
    notes: String,
    to_debrief: bool,
    tasks: String,
}

/// What the address asks, as typed and as the store takes it.
fn asked(viewer: &Viewer) -> (Fields, Filter) {
    let query = viewer.address().split_once('?').map_or("", |query| query.1);
    let asked = Fields::read(query.as_bytes());
    let filter = Filter {
        words: words::asked(asked.get("q")),
        flight: None,
        state: ExcursionState::read(asked.get("state")),
    };
    (asked, filter)
}

/// The excursions that the list shows, whole, as a file.
pub(crate) async fn file(State(app): State<App>, viewer: Viewer) -> Result<Response, PageError> {
    let (_, filter) = asked(&viewer);
    let mut db = app.reader().await?;
    let listed = excursion_list::page(&mut db, &filter, 0, tables::MAX_ROWS).await?;
    let codes: Vec<ExcursionCode> = listed.into_iter().map(|row| row.code).collect();
    tables::records(&excursions::these(&mut db, &codes).await?)
}

pub(crate) async fn list(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<ListPage>, PageError> {
    let (asked, filter) = asked(&viewer);
    let page = asked.get("page").parse::<i64>().unwrap_or(1);
    let mut db = app.reader().await?;
    let total = excursion_list::count(&mut db, &filter).await?;
    let (q, state) = (asked.get("q"), asked.get("state"));
    let address =
        |page| format!("/excursions?q={}&state={}&page={page}", encoded(q), encoded(state));
    let pager = Pager::new(page, PAGE, total, address);
    let rows = excursion_list::page(&mut db, &filter, (pager.page - 1) * PAGE, PAGE).await?;
    let mut states = vec![Choice::new("", "any")];
    states.extend(ExcursionState::WORDS.iter().map(|word| Choice::new(*word, *word)));
    Ok(Page(ListPage {
        page: viewer.frame("Excursions", Nav::Flights),
        fields: vec![
            FieldView::new("q", "Words, in codes, crew and notes").holding(q).first(),
            FieldView::new("state", "State").choosing(states).holding(state),
        ],
        status: match total {
            1 => "1 excursion".to_owned(),
            more => format!("{more} excursions"),
        },
        csv: tables::address_of(
            "excursions",
            &format!("q={}&state={}", encoded(q), encoded(state)),
        ),
        rows: rows.into_iter().map(list_row).collect(),
        is_narrowed: filter != Filter::default(),
        pager,
    }))
}

fn list_row(row: ExcursionRow) -> ListRow {
    let flown = row.state == ExcursionState::Flown;
    let notes = shortened(row.notes.as_str(), SHORT);
    let counted = |n: i64, one: &str, more: &str| match n {
        0 => String::new(),
        1 => format!("1 {one}"),
        n => format!("{n} {more}"),
    };
    let tasks = if flown {
        counted(row.attempts, "attempt", "attempts")
    } else {
        counted(row.slots, "slot", "slots")
    };
    ListRow { to_debrief: flown && !row.is_closed, notes, tasks, row }
}

/// One excursion: planned with its slots, or flown with its results.
pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Response, PageError> {
    let mut db = app.reader().await?;
    let excursion = Excursion::find(&mut db, &code)
        .await?
        .ok_or_else(|| Failure::NotFound(Kind::Excursion, code.clone()))?;
    if excursion.state == Some(ExcursionState::Planned) {
        let page = planned::page(&mut db, &viewer, excursion, &Typed::default()).await?;
        return Ok(Page(page).into_response());
    }
    let page = flown::page(&mut db, &viewer, excursion, None).await?;
    Ok(Page(page).into_response())
}

/// A planned excursion again, with what was typed into a form about its slots and refused.
pub(crate) async fn planned_again(
    db: &mut Reader,
    viewer: &Viewer,
    code: &ExcursionCode,
    typed: &Typed,
) -> Result<PlannedPage, Failure> {
    let excursion = planned::planned(db, code).await?;
    planned::page(db, viewer, excursion, typed).await
}

fn address(code: &ExcursionCode) -> String {
    within("excursions", code)
}
