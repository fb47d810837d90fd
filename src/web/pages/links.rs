//! The links of the whole record: what holds up most, what is left to close, and every link.

use askama::Template;
use axum::extract::State;

use crate::addresses;
use crate::extract::Fields;
use crate::failure::PageError;
use crate::forms::Pager;
use crate::frame::{Nav, PageFrame};
use crate::page::Page;
use crate::pages::tasks::links::{LeftOver, left_over, place};
use crate::tables;
use crate::visitor::Viewer;
use app::App;
use app::links::{self, HoldsUp, Overview};
use domain::codes::TaskCode;
use domain::kinds::Kind;
use domain::roles::{Action, may};
use domain::tasks::Link;
use domain::words::{LinkKind, TaskState};

/// Rows of each list on one page: what holds others up, what is left to close, every link.
const ROWS: usize = 25;
/// Of what waits for one task so many are named.
const WAITING: usize = 10;

#[derive(Template)]
#[template(path = "links/list.html")]
pub(crate) struct LinksPage {
    page: PageFrame,
    /// A page of each list, and how many there are in all.
    holds_up: Vec<HoldsUpRow>,
    holds_up_count: usize,
    left: Vec<LeftOver>,
    left_count: usize,
    rows: Vec<LinkRow>,
    row_count: usize,
    pager: Pager,
    csv: String,
    new: bool,
}

struct HoldsUpRow {
    task: String,
    title: String,
    state: Option<TaskState>,
    place: String,
    count: usize,
    worth: String,
    /// The first of what waits.
    waiting: Vec<String>,
    in_danger: bool,
}

struct LinkRow {
    code: String,
    kind: LinkKind,
    from: End,
    to: End,
    words: String,
}

struct End {
    task: String,
    title: String,
    state: Option<TaskState>,
}

pub(crate) async fn list(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<LinksPage>, PageError> {
    let query = viewer.address().split_once('?').map_or("", |(_, query)| query);
    let page = Fields::read(query.as_bytes()).get("page").parse().unwrap_or(1).clamp(1, 100_000);
    let mut db = app.reader().await?;
    let all = links::overview(&mut db).await?;
    drop(db);
    let folder = addresses::folder(Kind::Link);
    let longest = all.links.len().max(all.holds_up.len()).max(all.left.len());
    let whole = |count: usize| i64::try_from(count).unwrap_or(i64::MAX);
    let pager = Pager::new(page, whole(ROWS), whole(longest), |page| format!("/links?page={page}"));
    let skip = usize::try_from(pager.page - 1).unwrap_or(0) * ROWS;
    let row = |link: &Link| LinkRow {
        code: link.code.0.to_string(),
        kind: link.kind,
        from: end(&link.task, &all),
        to: end(&link.other, &all),
        words: link.words.as_ref().map_or_else(String::new, ToString::to_string),
    };
    let on_page = |one: &HoldsUp| holds_up(one, &all);
    Ok(Page(LinksPage {
        page: viewer.frame("Task dependencies", Nav::Backlog),
        holds_up: all.holds_up.iter().skip(skip).take(ROWS).map(on_page).collect(),
        holds_up_count: all.holds_up.len(),
        left: all.left.iter().skip(skip).take(ROWS).map(|left| left_over(left, &viewer)).collect(),
        left_count: all.left.len(),
        rows: all.links.iter().skip(skip).take(ROWS).map(row).collect(),
        row_count: all.links.len(),
        pager,
        csv: tables::address_of(folder, ""),
        new: may(viewer.actor.role, Action::SetLinks),
    }))
}

fn end(task: &TaskCode, all: &Overview) -> End {
    let linked = all.standing.of(task);
    End {
        task: task.to_string(),
        title: linked.map_or_else(String::new, |linked| linked.title.clone()),
        state: linked.map(|linked| linked.state),
    }
}

fn holds_up(one: &HoldsUp, all: &Overview) -> HoldsUpRow {
    let linked = all.standing.of(&one.task);
    HoldsUpRow {
        task: one.task.to_string(),
        title: linked.map_or_else(String::new, |linked| linked.title.clone()),
        state: linked.map(|linked| linked.state),
        place: linked.map_or_else(String::new, place),
        count: one.waiting.len(),
        worth: format!("{:.0}", one.worth),
        waiting: one.waiting.iter().take(WAITING).map(ToString::to_string).collect(),
        in_danger: one
            .waiting
            .iter()
            .any(|task| all.standing.of(task).is_some_and(|linked| linked.at_risk)),
    }
}
