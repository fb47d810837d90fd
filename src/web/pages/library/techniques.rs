//! Techniques: revision, sides, tools, steps, rehearsals, and every attempt with it.

use askama::Template;
use axum::extract::State;

use super::revisions::RevisionRow;
use super::technique_record::{self, Record};
use super::{
    EntryHead, ListHead, ShelfQuery, TaskLine, lines, minutes, open_pager, outcomes, revisions,
};
use crate::extract::Path;
use crate::failure::PageError;
use crate::forms::Pager;
use crate::frame::{Nav, PageFrame, Shelf};
use crate::page::Page;
use crate::pages::records::history::{self, ChangeRow};
use crate::visitor::Viewer;
use app::App;
use app::four_eyes::Touches;
use app::library::{self, TechniqueEntry, TechniqueRead};
use app::read::attempts::TriedBy;
use domain::kinds::Kind;
use domain::sides::Side;
use domain::techniques::{Qualification, Rehearsal, Technique};
use domain::units::Minutes;
use domain::words::{Outcome, RehearsalKind, TechniqueState};

#[derive(Template)]
#[template(path = "library/techniques.html")]
pub(crate) struct TechniquesPage {
    page: PageFrame,
    head: ListHead,
    rows: Vec<TechniqueRow>,
}

pub(super) struct TechniqueRow {
    pub code: String,
    pub name: String,
    pub revision: i64,
    pub state: TechniqueState,
    pub family: Option<String>,
    pub task: Option<String>,
    pub sides: String,
    pub tools: Vec<String>,
    pub minutes: String,
    pub record: String,
}

impl TechniqueRow {
    pub fn of(entry: &TechniqueEntry) -> Self {
        Self::new(&entry.technique, &entry.tries)
    }

    fn new(technique: &Technique, tries: &[(Outcome, i64)]) -> Self {
        let sides: Vec<&str> = technique.sides.iter().map(domain::sides::Side::as_str).collect();
        Self {
            code: technique.code.0.to_string(),
            name: technique.name.as_str().to_owned(),
            revision: technique.revision.unwrap_or(1),
            state: technique.state,
            family: technique.family.as_ref().map(ToString::to_string),
            task: technique.task.as_ref().map(ToString::to_string),
            sides: if sides.is_empty() { "any side".to_owned() } else { sides.join(", ") },
            tools: technique.tools.iter().map(ToString::to_string).collect(),
            minutes: minutes(technique.optimistic, technique.likely, technique.pessimistic),
            record: outcomes(tries),
        }
    }
}

pub(crate) async fn list(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<TechniquesPage>, PageError> {
    let asked = ShelfQuery::read(viewer.address());
    let mut db = app.reader().await?;
    let shelf = library::techniques(&mut db, &asked.typed, asked.page).await?;
    let empty = "No technique is recorded yet. Add how each kind of work is done, with its access \
                 sides; each attempt and each slot names one.";
    let head = ListHead::new(Kind::Technique, "Techniques", empty, &viewer, &asked, &shelf);
    Ok(Page(TechniquesPage {
        page: viewer.frame("Techniques", Nav::Library(Shelf::Techniques)),
        rows: shelf.entries.iter().map(TechniqueRow::of).collect(),
        head,
    }))
}

#[derive(Template)]
#[template(path = "library/technique.html")]
pub(crate) struct TechniquePage {
    page: PageFrame,
    head: EntryHead,
    technique: TechniqueRow,
    seats: String,
    rehearsal_demanded: bool,
    training_demanded: bool,
    may_pause: bool,
    steps: Vec<String>,
    notes: String,
    revisions: Vec<RevisionRow>,
    /// Where the next revision is made, for those who may.
    revise: Option<String>,
    record: Record,
    rehearsals: Vec<RehearsalRow>,
    trained: Vec<TrainedRow>,
    rehearsed: Vec<String>,
    sides: Vec<SideRecord>,
    tasks: Vec<TaskLine>,
    pager: Pager,
    new_rehearsal: Option<String>,
    new_qualification: Option<String>,
    changes: Vec<ChangeRow>,
}

/// One crew code trained in it.
struct TrainedRow {
    code: String,
    crew: String,
    day: String,
    revision: String,
    side: String,
    place: String,
    notes: String,
}

struct RehearsalRow {
    code: String,
    day: String,
    kind: RehearsalKind,
    side: String,
    revision: String,
    /// It was another revision than the one that stands.
    is_old: bool,
    success: bool,
    minutes: String,
    notes: String,
}

/// Every try from one side.
struct SideRecord {
    side: String,
    summary: String,
    /// The last of them.
    tries: Vec<TryRow>,
    /// How many came before those, and where all of them are listed.
    earlier: usize,
    all: String,
}

/// So many tries from one side are shown.
const TRIES: usize = 10;

struct TryRow {
    code: String,
    unit: Option<String>,
    serial: String,
    task: String,
    excursion: String,
    revision: String,
    outcome: Outcome,
    said: String,
    minutes: String,
    words: String,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Page<TechniquePage>, PageError> {
    let mut db = app.reader().await?;
    let read = library::technique(&mut db, &code, ShelfQuery::read(viewer.address()).page).await?;
    let changes = history::of_record(&mut db, Kind::Technique, &code).await?;
    let codes: Vec<String> = read.revisions.iter().map(|one| one.code.0.to_string()).collect();
    let touches = Touches::of(&mut db, Kind::Revision, &codes).await?;
    let technique = &read.technique;
    let own = technique.code.0.as_str();
    let head = EntryHead::new(Kind::Technique, own, Some(technique.name.as_str()), &viewer);
    let tries: Vec<(Outcome, i64)> = read.attempts.iter().map(|a| (a.outcome, 1)).collect();
    let may_add = head.edit.is_some();
    let new_of = |folder: &str| {
        may_add.then(|| format!("/{folder}/new?technique={}", crate::addresses::encoded(own)))
    };
    Ok(Page(TechniquePage {
        page: viewer.frame(head.title(), Nav::Library(Shelf::Techniques)),
        technique: TechniqueRow::new(technique, &tries),
        seats: technique.seats.map_or_else(|| "as the task".to_owned(), |n| n.to_string()),
        rehearsal_demanded: technique.rehearsal_demanded,
        training_demanded: technique.training_demanded,
        may_pause: technique.may_pause,
        steps: lines(technique.steps.as_str()),
        notes: technique.notes.as_str().to_owned(),
        trained: read.qualifications.iter().map(trained).collect(),
        revisions: revisions::list(technique, &read.revisions, &read.attempts, &touches, &viewer),
        revise: head
            .edit
            .is_some()
            .then(|| format!("{}/revise", crate::addresses::within("techniques", own))),
        record: technique_record::of(&read.attempts, &read.calendar),
        rehearsals: read.rehearsals.iter().map(|row| rehearsal(row, technique)).collect(),
        rehearsed: rehearsed(technique, &read.rehearsals),
        sides: by_side(&read),
        tasks: read.open.entries.iter().map(TaskLine::from).collect(),
        pager: open_pager(&viewer, &code, Kind::Technique, read.open.total),
        new_rehearsal: new_of("rehearsals"),
        new_qualification: new_of("qualifications"),
        head,
        changes,
    }))
}

fn trained(row: &Qualification) -> TrainedRow {
    TrainedRow {
        code: row.code.0.to_string(),
        crew: row.crew.as_str().to_owned(),
        day: row.day.map_or_else(|| "unknown".to_owned(), |day| day.to_string()),
        revision: row.revision.map_or_else(|| "every".to_owned(), |n| n.to_string()),
        side: row.side.as_ref().map_or_else(|| "every side".to_owned(), ToString::to_string),
        place: row.place.as_ref().map_or_else(String::new, |place| place.as_str().to_owned()),
        notes: row.notes.as_str().to_owned(),
    }
}

/// What this revision was rehearsed, side by side.
fn rehearsed(technique: &Technique, all: &[Rehearsal]) -> Vec<String> {
    let number = domain::revisions::number(technique);
    let told = |side: Option<&Side>| {
        let runs: Vec<&Rehearsal> = all
            .iter()
            .filter(|run| run.revision == Some(number))
            .filter(|run| run.side.is_none() || run.side.as_ref() == side)
            .collect();
        let good = runs.iter().filter(|run| run.success).count();
        let from = side.map_or_else(|| "Any side".to_owned(), |side| format!("From {side}"));
        match (runs.len(), good) {
            (0, _) => format!("{from}: revision {number} was not rehearsed."),
            (1, 1) => format!("{from}: one run of revision {number}, a success."),
            (runs, good) => {
                format!("{from}: {good} of {runs} runs of revision {number} succeeded.")
            }
        }
    };
    if technique.sides.is_empty() {
        return vec![told(None)];
    }
    technique.sides.iter().map(|side| told(Some(side))).collect()
}

fn rehearsal(row: &Rehearsal, technique: &Technique) -> RehearsalRow {
    let number = domain::revisions::number(technique);
    RehearsalRow {
        is_old: row.revision.is_some_and(|revision| revision != number),
        code: row.code.0.to_string(),
        day: row.day.map_or_else(|| "unknown".to_owned(), |day| day.to_string()),
        kind: row.kind,
        side: row.side.as_ref().map_or_else(|| "not recorded".to_owned(), ToString::to_string),
        revision: row.revision.map_or_else(|| "unknown".to_owned(), |n| n.to_string()),
        success: row.success,
        minutes: row.minutes.map_or_else(String::new, |m| m.0.to_string()),
        notes: row.notes.as_str().to_owned(),
    }
}

/// The sides it is for in their order, then every other side from which it was tried.
fn by_side(read: &TechniqueRead) -> Vec<SideRecord> {
    let mut sides: Vec<String> =
        read.technique.sides.iter().map(|side| side.as_str().to_owned()).collect();
    for attempt in &read.attempts {
        let side = side_of(attempt);
        if !sides.contains(&side) {
            sides.push(side);
        }
    }
    let record = |side: String| {
        let of_side: Vec<&TriedBy> =
            read.attempts.iter().filter(|attempt| side_of(attempt) == side).collect();
        let told: Vec<(Outcome, i64)> = of_side.iter().map(|a| (a.outcome, 1)).collect();
        let earlier = of_side.len().saturating_sub(TRIES);
        let mut tries: Vec<TryRow> = of_side.into_iter().skip(earlier).map(try_row).collect();
        // The tries on one unit stand together.
        tries.sort_by(|a, b| (&a.unit, &a.task).cmp(&(&b.unit, &b.task)));
        let technique = crate::addresses::encoded(read.technique.code.0.as_str());
        let named = of_side_in_history(&side, read);
        let all = format!("/history?technique={technique}&side={named}");
        SideRecord { summary: outcomes(&told), tries, side, earlier, all }
    };
    sides.into_iter().map(record).collect()
}

/// A side as the history is narrowed to it.
fn of_side_in_history(side: &str, read: &TechniqueRead) -> String {
    let recorded = read.attempts.iter().filter_map(|attempt| attempt.side.as_ref());
    let of_technique = read.technique.sides.iter().chain(recorded);
    let known = of_technique.map(Side::as_str).find(|known| *known == side);
    crate::addresses::encoded(known.unwrap_or(crate::pages::history::NOT_RECORDED))
}

fn side_of(attempt: &TriedBy) -> String {
    attempt.side.as_ref().map_or_else(|| "side not recorded".to_owned(), ToString::to_string)
}

fn try_row(attempt: &TriedBy) -> TryRow {
    TryRow {
        code: attempt.code.to_string(),
        unit: attempt.unit.as_ref().map(ToString::to_string),
        serial: attempt
            .serial
            .as_ref()
            .map_or_else(String::new, |serial| serial.as_str().to_owned()),
        task: attempt.task.to_string(),
        excursion: attempt.excursion.to_string(),
        revision: attempt.revision.map_or_else(String::new, |n| n.to_string()),
        outcome: attempt.outcome,
        said: attempt.said().map_or_else(String::new, |said| said.to_string()),
        minutes: attempt.minutes.map_or_else(String::new, Minutes::clock),
        words: attempt.words.clone(),
    }
}
