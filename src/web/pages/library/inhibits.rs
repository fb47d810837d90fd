//! Inhibits: what each is, who does it, which work needs it, and how far it is on each excursion.

use askama::Template;
use axum::extract::State;

use super::{EntryHead, ListHead, ShelfQuery, TaskLine, open_pager};
use crate::addresses;
use crate::extract::Path;
use crate::failure::PageError;
use crate::forms::Pager;
use crate::frame::{Nav, PageFrame, Shelf};
use crate::marks::slug;
use crate::page::Page;
use crate::pages::excursions::{arrangement_pets, arrangement_step};
use crate::pages::records::history::{self, ChangeRow};
use crate::visitor::Viewer;
use app::App;
use app::inhibits::{self, OnExcursion};
use domain::inhibits::Inhibit;
use domain::kinds::Kind;
use domain::words::ArrangementState;

#[derive(Template)]
#[template(path = "library/inhibits.html")]
pub(crate) struct InhibitsPage {
    page: PageFrame,
    head: ListHead,
    rows: Vec<InhibitRow>,
}

struct InhibitRow {
    code: String,
    what: String,
    owner: String,
    lead: String,
    cost: String,
    open: i64,
}

fn row(inhibit: &Inhibit, open: i64) -> InhibitRow {
    let or_unknown = |text: Option<String>| text.unwrap_or_else(|| "unknown".to_owned());
    InhibitRow {
        code: inhibit.code.0.to_string(),
        what: inhibit.what.as_str().to_owned(),
        owner: or_unknown(inhibit.owner.as_ref().map(|owner| owner.as_str().to_owned())),
        lead: or_unknown(inhibit.lead.map(|lead| format!("{} min", lead.0))),
        cost: inhibit.cost.as_ref().map(|cost| cost.as_str().to_owned()).unwrap_or_default(),
        open,
    }
}

pub(crate) async fn list(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<InhibitsPage>, PageError> {
    let asked = ShelfQuery::read(viewer.address());
    let mut db = app.reader().await?;
    let shelf = inhibits::shelf(&mut db, &asked.typed, asked.page).await?;
    let empty = "No inhibit is recorded yet. Add what has to be switched off, locked or vented \
                 before work is safe; a task names those that it needs, and every slot asks \
                 whether they are arranged.";
    let head = ListHead::new(Kind::Inhibit, "Inhibits", empty, &viewer, &asked, &shelf);
    Ok(Page(InhibitsPage {
        page: viewer.frame("Inhibits", Nav::Library(Shelf::Inhibits)),
        rows: shelf.entries.iter().map(|(inhibit, open)| row(inhibit, *open)).collect(),
        head,
    }))
}

#[derive(Template)]
#[template(path = "library/inhibit.html")]
pub(crate) struct InhibitPage {
    page: PageFrame,
    head: EntryHead,
    inhibit: InhibitRow,
    notes: String,
    on: Vec<OnLine>,
    tasks: Vec<TaskLine>,
    pager: Pager,
    changes: Vec<ChangeRow>,
}

/// How far it is on one excursion.
struct OnLine {
    excursion: String,
    address: String,
    arrangement: Option<String>,
    state: &'static str,
    slug: String,
    pets: String,
    notes: String,
    needed_by: Vec<String>,
    step: Option<(&'static str, &'static str)>,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Page<InhibitPage>, PageError> {
    let mut db = app.reader().await?;
    let read = inhibits::whole(&mut db, &code, ShelfQuery::read(viewer.address()).page).await?;
    let changes = history::of_record(&mut db, Kind::Inhibit, &code).await?;
    let inhibit = &read.inhibit;
    let own = inhibit.code.0.as_str();
    let head = EntryHead::new(Kind::Inhibit, own, Some(inhibit.what.as_str()), &viewer);
    Ok(Page(InhibitPage {
        page: viewer.frame(head.title(), Nav::Library(Shelf::Inhibits)),
        notes: inhibit.notes.as_str().to_owned(),
        on: read.on.into_iter().map(|one| line(one, head.edit.is_some())).collect(),
        tasks: read.open.entries.iter().map(TaskLine::from).collect(),
        pager: open_pager(&viewer, &code, Kind::Inhibit, read.open.total),
        inhibit: row(&read.inhibit, read.open.total),
        head,
        changes,
    }))
}

fn line(one: OnExcursion, may_arrange: bool) -> OnLine {
    let OnExcursion { excursion, coming, arrangement, needed_by } = one;
    let state = arrangement.as_ref().map(|one| one.state);
    let word = state.map_or("not asked", ArrangementState::word);
    let step = arrangement_step(state).filter(|_| may_arrange && coming);
    OnLine {
        address: addresses::of(Kind::Excursion, excursion.as_str()),
        excursion: excursion.to_string(),
        arrangement: arrangement.as_ref().map(|one| one.code.0.to_string()),
        state: word,
        slug: slug(word),
        pets: arrangement.as_ref().and_then(arrangement_pets).unwrap_or_default(),
        notes: arrangement.map(|one| one.notes.into_string()).unwrap_or_default(),
        needed_by: needed_by.iter().map(ToString::to_string).collect(),
        step,
    }
}
