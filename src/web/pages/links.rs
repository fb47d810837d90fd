//! The links of the whole record: what holds up most, what is left to close, and every link.

use askama::Template;
use axum::extract::State;

use crate::addresses;
use crate::failure::PageError;
use crate::frame::{Nav, PageFrame};
use crate::page::Page;
use crate::pages::tasks::links::{LeftOver, left_over, place};
use crate::tables;
use crate::visitor::Viewer;
use app::App;
use app::links::{self, Overview};
use domain::codes::TaskCode;
use domain::kinds::Kind;
use domain::roles::{Action, may};
use domain::words::{LinkKind, TaskState};

/// So many are ranked; what holds up less is found on the pages of its tasks.
const RANKED: usize = 30;

#[derive(Template)]
#[template(path = "links/list.html")]
pub(crate) struct LinksPage {
    page: PageFrame,
    holds_up: Vec<HoldsUpRow>,
    not_shown: usize,
    left: Vec<LeftOver>,
    rows: Vec<LinkRow>,
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
    let mut db = app.db.reader().await?;
    let all = links::overview(&mut db).await?;
    drop(db);
    let folder = addresses::folder(Kind::Link);
    Ok(Page(LinksPage {
        page: viewer.frame("What holds up what", Nav::OpenItems),
        not_shown: all.holds_up.len().saturating_sub(RANKED),
        holds_up: all.holds_up.iter().take(RANKED).map(|one| holds_up(one, &all)).collect(),
        left: all.left.iter().map(|left| left_over(left, &viewer)).collect(),
        rows: all
            .links
            .iter()
            .map(|link| LinkRow {
                code: link.code.0.to_string(),
                kind: link.kind,
                from: end(&link.task, &all),
                to: end(&link.other, &all),
                words: link.words.as_ref().map_or_else(String::new, ToString::to_string),
            })
            .collect(),
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

fn holds_up(one: &links::HoldsUp, all: &Overview) -> HoldsUpRow {
    let linked = all.standing.of(&one.task);
    HoldsUpRow {
        task: one.task.to_string(),
        title: linked.map_or_else(String::new, |linked| linked.title.clone()),
        state: linked.map(|linked| linked.state),
        place: linked.map_or_else(String::new, place),
        count: one.waiting.len(),
        worth: format!("{:.0}", one.worth),
        waiting: one.waiting.iter().map(ToString::to_string).collect(),
        in_danger: one
            .waiting
            .iter()
            .any(|task| all.standing.of(task).is_some_and(|linked| linked.in_danger)),
    }
}
