//! The backlog: browsed, filtered, sorted, kept as views, worked on in several rows.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse, Response};

use crate::addresses;
use crate::drawings::columns::Columns;
use crate::drawings::markup::Drawing;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::forms::{FieldView, Pager};
use crate::frame::{Nav, PageFrame};
use crate::page::{Done, Page, see_other};
use crate::pages::carry;
use crate::tables;
use crate::visitor::Viewer;
use app::backlog::{self, BacklogPage};
use app::read::open_items::PAGE;
use app::work::Work;
use app::{App, Failure};
use domain::bounds::refuses_search;
use domain::kinds::Kind;
use domain::roles::{Action, action_for, may};

mod asked;
pub(crate) mod row;
pub(crate) mod together;

use asked::BacklogQuery;
use row::TaskRow;

/// On paper the list is not cut into pages; this many rows are the most.
const PAPER: i64 = 1_000;

#[derive(Template)]
#[template(path = "open/list.html")]
pub(crate) struct OpenPage {
    page: PageFrame,
    status: String,
    columns: Columns,
    head: Drawing,
    heads: Vec<Head>,
    rows: Vec<TaskRow>,
    filters: Vec<FieldView>,
    /// Those that are on, each with the address without it.
    active: Vec<(String, String)>,
    views: Vec<ViewLink>,
    pager: Pager,
    asked: BacklogQuery,
    /// A lead works on several rows at once.
    may_work: bool,
    may_add: bool,
    csv: String,
    paper: String,
    /// What is asked, without the page: kept under a name.
    query: String,
}

/// A column head that sorts.
struct Head {
    word: &'static str,
    label: &'static str,
    class: &'static str,
    address: String,
    here: bool,
}

struct ViewLink {
    name: String,
    address: String,
    here: bool,
    /// The code of a view of one's own, which can be removed.
    own: Option<String>,
}

pub(crate) async fn list(State(app): State<App>, viewer: Viewer) -> Result<Response, PageError> {
    let asked = BacklogQuery::read(viewer.address());
    let mut db = app.reader().await?;
    if asked.could_be_a_code()
        && let Some((kind, code)) = backlog::by_code(&mut db, &asked.words).await?
    {
        return Ok(see_other(&addresses::of(kind, code)));
    }
    let most = if asked.on_paper { PAPER } else { PAGE };
    let offset = if asked.on_paper { 0 } else { (asked.page - 1) * PAGE };
    let who = viewer.actor.name.clone();
    let listed = backlog::list(&mut db, &who, &asked.filter, asked.sort, offset, most).await?;
    Ok(Page(view(&viewer, &listed, asked, most)).into_response())
}

fn view(viewer: &Viewer, listed: &BacklogPage, asked: BacklogQuery, most: i64) -> OpenPage {
    let columns = carry::columns(&listed.dossier.calendar);
    let rows: Vec<TaskRow> =
        listed.items.iter().map(|item| TaskRow::of(item, &listed.dossier, &columns)).collect();
    let pager = Pager::new(asked.page, most, listed.total, |page| asked.on_page(page));
    let shown = rows.len();
    let total = listed.total;
    let noun = if asked.ended() { "tasks that ended" } else { "open tasks" };
    let status = format!("{total} {noun} · {shown} on this page · sorted by {}", asked.sorted_by());
    let heads = [
        ("rank", "Task, by class, needed by, carried", "what"),
        ("carry", "Carried", "count"),
        ("need", "Needed by", "need"),
    ]
    .into_iter()
    .map(|(word, label, class)| Head {
        word,
        label,
        class,
        address: asked.sorted(word),
        here: asked.sort_word() == word,
    })
    .collect();
    let title = format!("Backlog, page {} of {}", pager.page, pager.pages);
    let filters = asked.fields(&listed.choices);
    OpenPage {
        page: viewer.frame(title, Nav::Backlog),
        status,
        head: columns.head(),
        heads,
        active: asked.active(&filters),
        filters,
        views: views(&asked, listed),
        may_work: may(viewer.actor.role, Action::Park),
        may_add: may(viewer.actor.role, action_for(Kind::Task)),
        csv: asked.file(),
        paper: asked.paper(),
        query: asked.query_alone(),
        columns,
        rows,
        pager,
        asked,
    }
}

/// The views that everybody has, then the person's own.
fn views(asked: &BacklogQuery, listed: &BacklogPage) -> Vec<ViewLink> {
    let here = asked.query_alone();
    let built_in = [
        ("All open", ""),
        ("At risk", "at_risk=yes"),
        ("Approach questioned", "questioned=yes"),
        ("Same approach tried twice", "twice=yes"),
        ("Waits for a tool", "waiting_for=tool"),
        ("Ended", "state=done"),
    ];
    let link = |name: &str, query: &str, own: Option<String>| ViewLink {
        name: name.to_owned(),
        address: if query.is_empty() { "/open".to_owned() } else { format!("/open?{query}") },
        // A view that was kept before its words were replaced asks the same.
        here: BacklogQuery::read(&format!("/open?{query}")).query_alone() == here,
        own,
    };
    let own =
        listed.views.iter().map(|view| link(&view.name, &view.query, Some(view.code.to_string())));
    built_in.into_iter().map(|(name, query)| link(name, query, None)).chain(own).collect()
}

/// The same rows as a file.
pub(crate) async fn file(State(app): State<App>, viewer: Viewer) -> Result<Response, PageError> {
    let asked = BacklogQuery::read(viewer.address());
    let mut db = app.reader().await?;
    let items =
        app::read::open_items::page(&mut db, &asked.filter, asked.sort, 0, tables::MAX_ROWS)
            .await?;
    tables::file("open", row::FILE_HEADS, items.iter().map(row::file_cells))
}

pub(crate) async fn keep_view(
    State(app): State<App>,
    viewer: Viewer,
    typed: Fields,
) -> Result<Done, PageError> {
    let asked = Fields::read(typed.get("query").as_bytes());
    if let Some(why) = asked.all("q").find_map(refuses_search) {
        return Err(Failure::field("query", why).into());
    }
    let query = BacklogQuery::read(&format!("/open?{}", typed.get("query"))).query_alone();
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    backlog::keep_view(&mut work, typed.get("name"), &query).await?;
    let to = work.finish(format!("/open?{query}")).await?;
    Ok(Done::to(to).saying(format!("Saved as “{}”.", typed.get("name").trim())))
}

pub(crate) async fn drop_view(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    backlog::drop_view(&mut work, &code).await?;
    let to = work.finish("/open").await?;
    Ok(Done::to(to).saying("The view was removed."))
}

/// Pairs of an address in the order of their names, the empty ones left out.
fn joined(pairs: &BTreeMap<String, String>) -> String {
    pairs
        .iter()
        .filter(|(_, value)| !value.is_empty())
        .map(|(name, value)| format!("{name}={}", addresses::encoded(value)))
        .collect::<Vec<_>>()
        .join("&")
}

/// The filter, the order and the typed words that a saved view asks for.
pub(crate) fn asked_of(
    query: &str,
) -> (app::read::open_items::Filter, app::read::open_items::Sort, String) {
    let asked = asked::BacklogQuery::read(&format!("?{query}"));
    (asked.filter, asked.sort, asked.words)
}
