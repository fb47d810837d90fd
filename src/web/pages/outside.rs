//! The outside list: what is outside, where, since when, and who brings it back.

use askama::Template;
use axum::extract::State;

use crate::app::App;
use crate::app::attention::days_left;
use crate::domain::kinds::Kind;
use crate::domain::outside::OutsideItem;
use crate::domain::roles::{action_for, may};
use crate::domain::words::OutsideState;
use crate::domain::worksites::{Route, Worksite};
use crate::store::Kept;
use crate::web::drawings::markup::Drawing;
use crate::web::drawings::worksite_map::{self, MapAid, MapSite, MapWay};
use crate::web::failure::PageError;
use crate::web::frame::{Nav, PageFrame};
use crate::web::page::Page;
use crate::web::said::{Said, said};
use crate::web::visitor::Viewer;

/// No list of these is longer.
const EVERY: i64 = 5_000;

#[derive(Template)]
#[template(path = "outside/list.html")]
pub(crate) struct OutsidePage {
    page: PageFrame,
    map: Drawing,
    here: Vec<Row>,
    ended: Vec<Row>,
    may_write: bool,
}

struct Row {
    item: OutsideItem,
    code: String,
    days_out: Option<i64>,
    days_left: Option<i64>,
    /// Routes that need it, in words.
    routes: Vec<Vec<Said>>,
    /// What is set and would lose its way if it came in now.
    warnings: Vec<Vec<Said>>,
}

pub(crate) async fn list(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<OutsidePage>, PageError> {
    let mut db = app.db.reader().await?;
    let items = OutsideItem::after(&mut db, "", EVERY).await?;
    let routes = Route::after(&mut db, "", EVERY).await?;
    let sites = Worksite::after(&mut db, "", EVERY).await?;
    let today = viewer.now().day();
    let lost = crate::app::outside::ways_lost_without(&mut db, &items).await?;
    let row = |item: &OutsideItem| Row {
        warnings: lost
            .iter()
            .filter(|lost| lost.aid == item.code.0)
            .map(|lost| said(&lost.to_string()))
            .collect(),
        code: item.code.0.to_string(),
        days_out: item.since.map(|since| item.ended_on.unwrap_or(today).since(since)),
        days_left: days_left(item, today),
        routes: routes
            .iter()
            .filter(|route| route.aid.as_ref() == Some(&item.code.0))
            .map(|route| said(&format!("{} – {}", route.from_site, route.to_site)))
            .collect(),
        item: item.clone(),
    };
    let (here, ended): (Vec<&OutsideItem>, Vec<&OutsideItem>) =
        items.iter().partition(|item| item.state == OutsideState::InPlace);
    let map = worksite_map::draw(&map_sites(&sites, &here), &map_ways(&routes, &here), "map");
    let mut here: Vec<Row> = here.into_iter().map(row).collect();
    here.sort_by_key(|row| row.days_left.unwrap_or(i64::MAX));
    Ok(Page(OutsidePage {
        page: viewer.frame("Outside list", Nav::OutsideList),
        map,
        here,
        ended: ended.into_iter().map(row).collect(),
        may_write: may(viewer.actor.role, action_for(Kind::OutsideItem)),
    }))
}

pub(crate) fn map_sites(sites: &[Worksite], here: &[&OutsideItem]) -> Vec<MapSite> {
    sites
        .iter()
        .map(|site| MapSite {
            code: site.code.0.to_string(),
            name: site.name.as_ref().map_or_else(String::new, |name| name.0.clone()),
            place: site.map_x.zip(site.map_y).map(|(x, y)| (x.0, y.0)),
            outside: here
                .iter()
                .filter(|item| item.worksite.as_ref() == Some(&site.code.0))
                .map(|item| item.code.0.to_string())
                .collect(),
            open_items: 0,
        })
        .collect()
}

pub(crate) fn map_ways(routes: &[Route], here: &[&OutsideItem]) -> Vec<MapWay> {
    routes
        .iter()
        .map(|route| MapWay {
            from: route.from_site.to_string(),
            to: route.to_site.to_string(),
            minutes: route.minutes.0,
            minutes_back: route.minutes_back.map(|minutes| minutes.0),
            aid: route.aid.as_ref().map(|aid| MapAid {
                code: aid.to_string(),
                in_place: here.iter().any(|item| item.code.0 == *aid),
            }),
        })
        .collect()
}
