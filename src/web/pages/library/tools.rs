//! Tools: how many are aboard, what brings more, and where each is needed.

use askama::Template;
use axum::extract::State;

use super::{Asked, EntryHead, ListHead, TaskLine};
use crate::app::{App, library};
use crate::domain::excursions::ExcursionTool;
use crate::domain::kinds::Kind;
use crate::domain::tools::Tool;
use crate::domain::words::{TechniqueState, ToolState};
use crate::web::extract::Path;
use crate::web::failure::PageError;
use crate::web::frame::{Nav, PageFrame, Shelf};
use crate::web::page::Page;
use crate::web::pages::records::history::{self, ChangeRow};
use crate::web::visitor::Viewer;

#[derive(Template)]
#[template(path = "library/tools.html")]
pub(crate) struct ToolsPage {
    page: PageFrame,
    head: ListHead,
    rows: Vec<ToolRow>,
}

struct ToolRow {
    code: String,
    name: String,
    on_board: String,
    arrives: Option<String>,
    state: ToolState,
    mass: String,
    volume: String,
    needed: i64,
}

pub(crate) async fn list(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<ToolsPage>, PageError> {
    let asked = Asked::read(viewer.address());
    let mut db = app.db.reader().await?;
    let shelf = library::tools(&mut db, &asked.typed, asked.page).await?;
    let empty = "No tool is kept yet. Enter what is aboard and what a flight brings; a technique \
                 names its tools, and a slot asks whether they are there.";
    let head = ListHead::new(Kind::Tool, "Tools", empty, &viewer, &asked, &shelf);
    Ok(Page(ToolsPage {
        page: viewer.frame("Tools", Nav::Library(Shelf::Tools)),
        rows: shelf.entries.iter().map(|(tool, needed)| row(tool, *needed)).collect(),
        head,
    }))
}

fn row(tool: &Tool, needed: i64) -> ToolRow {
    ToolRow {
        code: tool.code.0.to_string(),
        name: tool.name.0.clone(),
        on_board: on_board(tool),
        arrives: tool.arrives_with.as_ref().map(ToString::to_string),
        state: tool.state,
        mass: tool.mass.map_or_else(String::new, |mass| format!("{} kg", mass.0)),
        volume: tool.volume.map_or_else(String::new, |volume| format!("{} l", volume.0)),
        needed,
    }
}

fn on_board(tool: &Tool) -> String {
    tool.on_board.map_or_else(|| "unknown".to_owned(), |count| count.to_string())
}

#[derive(Template)]
#[template(path = "library/tool.html")]
pub(crate) struct ToolPage {
    page: PageFrame,
    head: EntryHead,
    tool: ToolRow,
    notes: String,
    techniques: Vec<TechniqueLine>,
    tasks: Vec<TaskLine>,
    outings: Vec<Outing>,
    changes: Vec<ChangeRow>,
}

struct TechniqueLine {
    code: String,
    name: String,
    state: TechniqueState,
}

struct Outing {
    excursion: String,
    out: i64,
    back: String,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Page<ToolPage>, PageError> {
    let mut db = app.db.reader().await?;
    let read = library::tool(&mut db, &code).await?;
    let changes = history::of_record(&mut db, Kind::Tool, &code).await?;
    let tool = &read.tool;
    let head = EntryHead::new(Kind::Tool, tool.code.0.as_str(), Some(tool.name.as_str()), &viewer);
    let needed = i64::try_from(read.techniques.len()).unwrap_or(i64::MAX);
    let techniques = read
        .techniques
        .iter()
        .map(|technique| TechniqueLine {
            code: technique.code.0.to_string(),
            name: technique.name.0.clone(),
            state: technique.state,
        })
        .collect();
    Ok(Page(ToolPage {
        page: viewer.frame(head.title(), Nav::Library(Shelf::Tools)),
        tool: row(tool, needed),
        notes: tool.notes.0.clone(),
        techniques,
        tasks: read.open.iter().map(TaskLine::from).collect(),
        outings: read.outings.iter().map(outing).collect(),
        head,
        changes,
    }))
}

fn outing(row: &ExcursionTool) -> Outing {
    let parts =
        [(row.brought_in, "back in"), (row.left_outside, "left outside"), (row.lost, "lost")];
    let told: Vec<String> = parts
        .into_iter()
        .filter_map(|(count, word)| count.filter(|n| *n > 0).map(|n| format!("{n} {word}")))
        .collect();
    let back = match &row.not_counted {
        Some(why) => format!("not counted: {why}"),
        None if told.is_empty() => "not counted yet".to_owned(),
        None => told.join(", "),
    };
    Outing { excursion: row.excursion.to_string(), out: row.taken_out, back }
}
