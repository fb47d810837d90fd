//! Families of identical units: where each unit stands, what was tried on it and how it ended.

use askama::Template;
use axum::extract::State;

use super::techniques::TechniqueRow;
use super::{EntryHead, ListHead, ShelfQuery};
use crate::addresses;
use crate::extract::Path;
use crate::failure::PageError;
use crate::forms::Pager;
use crate::frame::{Nav, PageFrame, Shelf};
use crate::page::Page;
use crate::pages::records::history::{self, ChangeRow};
use crate::pages::sisters::{self, Affected, Apart, Dismissed};
use crate::visitor::Viewer;
use app::App;
use app::library::{self, FamilyRead, TaskStanding};
use app::sisters::{Share, SistersAffected, of_family};
use domain::attempts::Attempt;
use domain::codes::{PositionCode, UnitCode};
use domain::families::Stay;
use domain::kinds::Kind;
use domain::repeat_guard::Approach;
use domain::words::{Outcome, TaskState};

#[derive(Template)]
#[template(path = "library/families.html")]
pub(crate) struct FamiliesPage {
    page: PageFrame,
    head: ListHead,
    rows: Vec<FamilyRow>,
}

struct FamilyRow {
    code: String,
    name: String,
    units: i64,
    open: i64,
    notes: String,
}

pub(crate) async fn list(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<FamiliesPage>, PageError> {
    let asked = ShelfQuery::read(viewer.address());
    let mut db = app.reader().await?;
    let shelf = library::families(&mut db, &asked.typed, asked.page).await?;
    let empty = "No family is recorded yet. Add one for each group of units of the same design: a \
                 failure on one questions the approach on all.";
    let head = ListHead::new(Kind::Family, "Families", empty, &viewer, &asked, &shelf);
    let row = |(family, size): &(domain::families::Family, Option<_>)| {
        let size: Option<&app::read::library::FamilySize> = size.as_ref();
        FamilyRow {
            code: family.code.0.to_string(),
            name: family.name.as_ref().map_or_else(String::new, |name| name.as_str().to_owned()),
            units: size.map_or(0, |size| size.units),
            open: size.map_or(0, |size| size.open_items),
            notes: family.notes.as_str().lines().next().unwrap_or_default().to_owned(),
        }
    };
    Ok(Page(FamiliesPage {
        page: viewer.frame("Families", Nav::Library(Shelf::Families)),
        rows: shelf.entries.iter().map(row).collect(),
        head,
    }))
}

/// Tasks of which it is told what a swap or a move set apart.
const APART: usize = 20;

#[derive(Template)]
#[template(path = "library/family.html")]
pub(crate) struct FamilyPage {
    page: PageFrame,
    head: EntryHead,
    notes: String,
    units: Vec<UnitRow>,
    /// Work of the family at places where no unit is recorded.
    unplaced: Vec<WorkLine>,
    techniques: Vec<TechniqueRow>,
    questioned: Vec<Affected>,
    offered: Vec<Affected>,
    dismissed: Vec<Dismissed>,
    /// What a swap or a move set apart, by task.
    apart: Vec<(String, Vec<Apart>)>,
    /// Tasks with such failures that are not shown; each has them on its own page.
    apart_more: usize,
    pager: Pager,
    new_unit: bool,
    changes: Vec<ChangeRow>,
}

struct UnitRow {
    code: String,
    serial: String,
    position: Option<String>,
    stays: Vec<String>,
    work: Vec<WorkLine>,
}

/// One task on a unit, with the last try of it.
struct WorkLine {
    task: String,
    title: String,
    state: Option<TaskState>,
    approach: String,
    outcome: Option<Outcome>,
    attempt: String,
    excursion: String,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Page<FamilyPage>, PageError> {
    let page = ShelfQuery::read(viewer.address()).page;
    let mut db = app.reader().await?;
    let read = library::family(&mut db, &code, page).await?;
    let changes = history::of_record(&mut db, Kind::Family, &code).await?;
    let told = match &read.some_task {
        Some(task) => of_family(&mut db, task, Share::PART).await?,
        None => SistersAffected::default(),
    };
    let family = &read.family;
    let name = family.name.as_ref().map(domain::cells::Line::as_str);
    let head = EntryHead::new(Kind::Family, family.code.0.as_str(), name, &viewer);
    let rows = i64::try_from(read.unit_count.max(read.unplaced_count)).unwrap_or(i64::MAX);
    let at = addresses::within("families", &code);
    let mut apart = apart(&told, &read);
    let apart_more = apart.len().saturating_sub(APART);
    apart.truncate(APART);
    Ok(Page(FamilyPage {
        page: viewer.frame(head.title(), Nav::Library(Shelf::Families)),
        notes: family.notes.as_str().to_owned(),
        units: unit_rows(&read),
        unplaced: read.unplaced.iter().map(|one| work(one, None, &read)).collect(),
        pager: Pager::new(page, library::UNITS, rows, |page| format!("{at}?page={page}")),
        techniques: read.techniques.iter().map(TechniqueRow::of).collect(),
        questioned: sisters::questioned(&told, &viewer),
        offered: sisters::offered(&told, &viewer),
        dismissed: sisters::dismissed(&told.declined, &viewer),
        apart,
        apart_more,
        new_unit: head.edit.is_some(),
        head,
        changes,
    }))
}

fn apart(told: &SistersAffected, read: &FamilyRead) -> Vec<(String, Vec<Apart>)> {
    let serial = |code: &str| {
        let unit = read.units.iter().find(|(unit, _)| unit.code.0.as_str() == code);
        unit.and_then(|(unit, _)| unit.serial.as_ref()).map(ToString::to_string)
    };
    let mut all: Vec<(String, Vec<Apart>)> = Vec::new();
    for (task, one) in &told.set_apart {
        let row = sisters::apart(task, one, serial);
        match all.last_mut().filter(|(of, _)| *of == row.task) {
            Some((_, rows)) => rows.push(row),
            None => all.push((row.task.clone(), vec![row])),
        }
    }
    all
}

/// Where a unit stands now; nowhere once its last stay has ended.
fn standing_at(stays: &[Stay]) -> Option<&PositionCode> {
    stays.last().filter(|stay| stay.until_day.is_none()).map(|stay| &stay.position)
}

fn unit_rows(read: &FamilyRead) -> Vec<UnitRow> {
    read.units
        .iter()
        .map(|(unit, stays)| {
            let at = standing_at(stays);
            let here = |one: &&TaskStanding| at.is_some() && one.task.position.as_ref() == at;
            let code = &unit.code.0;
            UnitRow {
                code: code.to_string(),
                serial: unit.serial.as_ref().map_or_else(|| "none".to_owned(), ToString::to_string),
                position: at.map(ToString::to_string),
                stays: stays.iter().map(stay_words).collect(),
                work: read.tasks.iter().filter(here).map(|t| work(t, Some(code), read)).collect(),
            }
        })
        .collect()
}

/// `P-PIN-1, from 2029-02-03 until 2030-01-09`; days that nobody wrote down are left out.
fn stay_words(stay: &Stay) -> String {
    let from = stay.from_day.map_or_else(String::new, |day| format!(" from {day}"));
    let until = stay.until_day.map_or_else(String::new, |day| format!(" until {day}"));
    format!("{}{from}{until}", stay.position)
}

/// A task with its last try; on a unit, the last one made on that unit.
fn work(one: &TaskStanding, unit: Option<&UnitCode>, read: &FamilyRead) -> WorkLine {
    let task = &one.task;
    let on_it = |attempt: &&Attempt| {
        attempt.task == task.code.0
            && unit.is_none_or(|unit| attempt.unit.as_ref().is_none_or(|on| on == unit))
    };
    let last = read.attempts.iter().rfind(on_it);
    let approach = last.map(|attempt| Approach {
        technique: attempt.technique.clone(),
        side: attempt.side.clone(),
    });
    WorkLine {
        task: task.code.0.to_string(),
        title: task.title.as_str().to_owned(),
        state: one.standing.as_ref().map(|row| row.state),
        approach: approach.map_or_else(String::new, |approach| approach.to_string()),
        outcome: last.map(|attempt| attempt.outcome),
        attempt: last.map_or_else(String::new, |attempt| attempt.code.0.to_string()),
        excursion: last.map_or_else(String::new, |attempt| attempt.excursion.to_string()),
    }
}
