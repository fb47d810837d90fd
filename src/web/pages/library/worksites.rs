//! Worksites: the map, the ways with their minutes and aids, and what waits at each.

use askama::Template;
use axum::extract::State;

use super::{EntryHead, ListHead, ShelfQuery, TaskLine};
use crate::drawings::markup::Drawing;
use crate::drawings::worksite_map;
use crate::extract::Path;
use crate::failure::PageError;
use crate::frame::{Nav, PageFrame, Shelf};
use crate::page::Page;
use crate::pages::outside::{map_sites, map_ways};
use crate::pages::records::history::{self, ChangeRow};
use crate::visitor::Viewer;
use app::App;
use app::library::{self, Ground};
use domain::codes::WorksiteCode;
use domain::kinds::Kind;
use domain::outside::OutsideItem;
use domain::roles::{action_for, may};
use domain::words::OutsideState;
use domain::worksites::{Route, Worksite};

#[derive(Template)]
#[template(path = "library/worksites.html")]
pub(crate) struct WorksitesPage {
    page: PageFrame,
    head: ListHead,
    map: Option<Drawing>,
    rows: Vec<SiteRow>,
    ways: Vec<WayRow>,
    new_way: bool,
}

struct SiteRow {
    code: String,
    name: String,
    setup: String,
    cleanup: String,
    open: i64,
    outside: Vec<String>,
    on_map: bool,
}

/// A way, in both directions.
pub(super) struct WayRow {
    code: String,
    from: String,
    to: String,
    there: String,
    back: String,
    aid: Option<String>,
    /// The aid is not in place, so nobody can go there.
    cut: bool,
}

pub(crate) async fn list(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<WorksitesPage>, PageError> {
    let asked = ShelfQuery::read(viewer.address());
    let mut db = app.reader().await?;
    let shelf = library::worksites(&mut db, &asked.typed, asked.page).await?;
    let ground = library::ground(&mut db).await?;
    let empty = "No worksite is recorded yet. Add the places where work is done and the minutes \
                 between them; without them no slot can be timed.";
    let head = ListHead::new(Kind::Worksite, "Worksites", empty, &viewer, &asked, &shelf);
    let rows = shelf.entries.iter().map(|(site, open)| site_row(site, *open, &ground)).collect();
    Ok(Page(WorksitesPage {
        page: viewer.frame("Worksites", Nav::Library(Shelf::Worksites)),
        map: (!ground.sites.is_empty()).then(|| map(&ground)),
        ways: ground.routes.iter().map(|route| way_row(route, &ground.outside)).collect(),
        rows,
        head,
        new_way: may(viewer.actor.role, action_for(Kind::Route)),
    }))
}

fn map(ground: &Ground) -> Drawing {
    let here: Vec<&OutsideItem> = ground.outside.iter().collect();
    worksite_map::draw(&map_sites(&ground.sites, &here), &map_ways(&ground.routes, &here), "map")
}

fn site_row(site: &Worksite, open: i64, ground: &Ground) -> SiteRow {
    let at = |item: &&OutsideItem| item.worksite.as_ref() == Some(&site.code.0);
    let outside = ground.outside.iter().filter(at).map(|item| item.code.0.to_string());
    SiteRow {
        code: site.code.0.to_string(),
        name: site.name.as_ref().map_or_else(String::new, |name| name.as_str().to_owned()),
        setup: site.setup.map_or_else(|| "unknown".to_owned(), |m| m.0.to_string()),
        cleanup: site.cleanup.map_or_else(|| "unknown".to_owned(), |m| m.0.to_string()),
        open,
        outside: outside.collect(),
        on_map: site.map_x.is_some() && site.map_y.is_some(),
    }
}

fn way_row(route: &Route, in_place: &[OutsideItem]) -> WayRow {
    let aid = route.aid.as_ref();
    WayRow {
        code: route.code.0.to_string(),
        from: route.from_site.to_string(),
        to: route.to_site.to_string(),
        there: route.minutes.0.to_string(),
        back: route.minutes_back.unwrap_or(route.minutes).0.to_string(),
        cut: aid.is_some_and(|aid| {
            !in_place.iter().any(|item| item.code.0 == *aid && item.state == OutsideState::InPlace)
        }),
        aid: aid.map(ToString::to_string),
    }
}

#[derive(Template)]
#[template(path = "library/worksite.html")]
pub(crate) struct WorksitePage {
    page: PageFrame,
    head: EntryHead,
    setup: String,
    cleanup: String,
    notes: String,
    positions: Vec<String>,
    ways: Vec<WayRow>,
    outside: Vec<OutsideRow>,
    tasks: Vec<TaskLine>,
    open_total: i64,
    backlog: String,
    changes: Vec<ChangeRow>,
}

struct OutsideRow {
    code: String,
    what: String,
    state: OutsideState,
    since: String,
    back: Option<String>,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Page<WorksitePage>, PageError> {
    let mut db = app.reader().await?;
    let read = library::worksite(&mut db, &code).await?;
    let ground = library::ground(&mut db).await?;
    let changes = history::of_record(&mut db, Kind::Worksite, &code).await?;
    let site = &read.site;
    let head = EntryHead::new(
        Kind::Worksite,
        site.code.0.as_str(),
        site.name.as_ref().map(domain::cells::Line::as_str),
        &viewer,
    );
    let minutes = |m: Option<domain::units::Minutes>| {
        m.map_or_else(|| "unknown".to_owned(), |m| format!("{} min", m.0))
    };
    let outside = |item: &OutsideItem| OutsideRow {
        code: item.code.0.to_string(),
        what: item.what.as_str().to_owned(),
        state: item.state,
        since: item.since.map_or_else(|| "unknown".to_owned(), |day| day.to_string()),
        back: item.brought_back_by.as_ref().map(ToString::to_string),
    };
    Ok(Page(WorksitePage {
        page: viewer.frame(head.title(), Nav::Library(Shelf::Worksites)),
        setup: minutes(site.setup),
        cleanup: minutes(site.cleanup),
        notes: site.notes.as_str().to_owned(),
        positions: read.positions.iter().map(|position| position.code.0.to_string()).collect(),
        ways: read.routes.iter().map(|route| way_row(route, &ground.outside)).collect(),
        outside: read.outside.iter().map(outside).collect(),
        tasks: read.open.iter().map(TaskLine::from).collect(),
        open_total: read.open_total,
        backlog: backlog(&site.code.0),
        head,
        changes,
    }))
}

fn backlog(site: &WorksiteCode) -> String {
    format!("/open?site={}", crate::addresses::encoded(site.as_str()))
}
