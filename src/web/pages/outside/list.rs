//! What is outside, the most pressing first.

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use super::asked::ListQuery;
use super::disagreements::{Question, question};
use super::rows::{ItemRow, RowContext, dated, row};
use super::{map_sites, map_ways};
use crate::drawings::lanes::LegendEntry;
use crate::drawings::markup::Drawing;
use crate::drawings::worksite_map;
use crate::failure::PageError;
use crate::forms::{FieldView, Pager};
use crate::frame::{Nav, PageFrame};
use crate::page::Page;
use crate::tables;
use crate::visitor::Viewer;
use app::read::Found;
use app::{App, outside};
use domain::kinds::Kind;
use domain::outside::OutsideItem;
use domain::roles::{action_for, may};
use domain::words::OutsideState;
use domain::worksites::{Route, Worksite};

/// No list of these is longer.
const MAX_READ: i64 = 5_000;
/// Items on one page.
const PAGE: i64 = 100;

#[derive(Template)]
#[template(path = "outside/list.html")]
pub(crate) struct OutsidePage {
    page: PageFrame,
    csv: String,
    filters: Vec<FieldView>,
    status: String,
    narrowed: bool,
    questions: Vec<Question>,
    map: Drawing,
    legend: Vec<LegendEntry>,
    /// The flights that have a column.
    flights: Vec<String>,
    here: Vec<ItemRow>,
    ended: Vec<ItemRow>,
    /// How many of each all pages hold together.
    in_place: usize,
    gone: usize,
    pager: Pager,
    may_write: bool,
}

pub(crate) async fn list(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<OutsidePage>, PageError> {
    let asked = ListQuery::read(viewer.address());
    let today = viewer.now().day();
    let mut db = app.reader().await?;
    let items = OutsideItem::after(&mut db, "", MAX_READ).await?;
    let routes = Route::after(&mut db, "", MAX_READ).await?;
    let sites = Worksite::after(&mut db, "", MAX_READ).await?;
    let flights = outside::ahead(&mut db).await?;
    let plan = outside::plan(&mut db).await?;
    let lost = plan.lost();
    let around = RowContext { routes: &routes, flights: &flights, plan: &plan, lost: &lost, today };

    let in_place: Vec<&OutsideItem> =
        items.iter().filter(|item| item.state == OutsideState::InPlace).collect();
    let shown = items.iter().filter(|item| asked.takes(item, &routes, &flights, today));
    let (mut here, mut ended): (Vec<&OutsideItem>, Vec<&OutsideItem>) =
        shown.partition(|item| item.state == OutsideState::InPlace);
    here.sort_by_key(|item| (item.runs_out().is_none(), item.runs_out()));
    ended.sort_by_key(|item| std::cmp::Reverse(item.ended_on));
    let (of_here, of_ended) = (here.len(), ended.len());
    let shown = of_here + of_ended;
    let total = i64::try_from(shown).unwrap_or(i64::MAX);
    let pager = Pager::new(asked.page, PAGE, total, |page| asked.on_page(page));
    let on_page = pager.rows();
    let (here, ended): (Vec<ItemRow>, Vec<ItemRow>) = here
        .into_iter()
        .chain(ended)
        .skip(on_page.start)
        .take(on_page.len())
        .map(|item| row(item, &around))
        .partition(|row| row.item.state == OutsideState::InPlace);

    let narrowed = asked.is_narrowed();
    let status = match (narrowed, shown) {
        (true, 1) => format!("1 item of {}", items.len()),
        (true, count) => format!("{count} items of {}", items.len()),
        (false, count) => format!("{count} items"),
    };
    let map =
        worksite_map::draw(&map_sites(&sites, &in_place), &map_ways(&routes, &in_place), "map");
    Ok(Page(OutsidePage {
        page: viewer.frame("Outside list", Nav::OutsideList),
        csv: tables::address_of("outside", &asked.query()),
        filters: asked.fields(&sites, &flights),
        status,
        narrowed,
        questions: outside::disagreements(&mut db).await?.iter().map(question).collect(),
        map,
        legend: worksite_map::legend(false),
        flights: dated(&flights).map(|ahead| ahead.flight.to_string()).collect(),
        here,
        ended,
        in_place: of_here,
        gone: of_ended,
        pager,
        may_write: may(viewer.actor.role, action_for(Kind::OutsideItem)),
    }))
}

/// The items that the list shows, as a file.
pub(crate) async fn file(State(app): State<App>, viewer: Viewer) -> Result<Response, PageError> {
    let asked = ListQuery::read(viewer.address());
    let mut db = app.reader().await?;
    let mut items = OutsideItem::after(&mut db, "", tables::MAX_ROWS).await?;
    let routes = Route::after(&mut db, "", MAX_READ).await?;
    let flights = outside::ahead(&mut db).await?;
    items.retain(|item| asked.takes(item, &routes, &flights, viewer.now().day()));
    tables::records(&items)
}
