//! Plan: the excursions to come with their dates and seats, where the first tasks fit, the backlog per
//! flight, and the worksites by the work that is open at each.

mod coming;
mod dates;

use askama::Template;
use axum::extract::State;

use crate::drawings::lanes::LegendEntry;
use crate::drawings::markup::Drawing;
use crate::drawings::worksite_map::{self, MapSite};
use crate::failure::PageError;
use crate::frame::{Nav, PageFrame};
use crate::page::Page;
use crate::pages::campaign::BacklogView;
use crate::pages::outside::{map_sites, map_ways};
use crate::pages::slots::grid::{Grid, first_rows};
use crate::visitor::Viewer;
use app::{App, Failure, attention, campaign, constraints, library, seat_plans};
use coming::Coming;
use domain::outside::OutsideItem;
use domain::roles::{Action, may};

/// So many worksites are drawn, those with the most open tasks; more would hide each other.
const SITES: usize = 40;

#[derive(Template)]
#[template(path = "plan/show.html")]
pub(crate) struct PlanPage {
    page: PageFrame,
    coming: Coming,
    axis: Option<Drawing>,
    backlog: Option<BacklogView>,
    grid: Grid,
    map: Option<Drawing>,
    legend: Vec<LegendEntry>,
    /// Worksites that are not drawn.
    more_sites: usize,
    may_keep: bool,
    may_pencil: bool,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<PlanPage>, PageError> {
    let mut db = app.reader().await?;
    let campaign = campaign::seen(&mut db).await?;
    let ground = library::ground(&mut db).await?;
    let open = app::read::campaign::by_worksite(&mut db).await.map_err(Failure::from)?;
    let here: Vec<&OutsideItem> = ground.outside.iter().collect();
    let mut sites = map_sites(&ground.sites, &here);
    for site in &mut sites {
        let found = open.iter().find(|(code, _)| code.as_str() == site.code);
        site.open_items = found.map_or(0, |(_, count)| usize::try_from(*count).unwrap_or(0));
    }
    let more_sites = keep_busiest(&mut sites);
    let role = viewer.actor.role;
    let today = viewer.now().day();
    let attention = attention::seen(&mut db, today).await?;
    let plans = seat_plans::seen(&mut db).await?;
    let held = constraints::read_all(&mut db, today).await?;
    let in_force: Vec<_> = held.in_force().collect();
    let grid = first_rows(&mut db).await?;
    Ok(Page(PlanPage {
        page: viewer.frame("Plan", Nav::Plan).with_verdicts(),
        coming: Coming::of(&campaign, &plans, &attention, today),
        axis: dates::axis(&campaign, &here, &in_force, today),
        backlog: BacklogView::of(&campaign),
        grid,
        map: (!sites.is_empty())
            .then(|| worksite_map::by_open_work(&sites, &map_ways(&ground.routes, &here), "map")),
        legend: worksite_map::legend(false),
        more_sites,
        may_keep: may(role, Action::KeepExcursions),
        may_pencil: may(role, Action::Pencil),
    }))
}

/// Leaves the worksites that are drawn, and says how many are not.
fn keep_busiest(sites: &mut Vec<MapSite>) -> usize {
    let beyond = sites.len().saturating_sub(SITES);
    if beyond > 0 {
        sites.sort_by_key(|site| std::cmp::Reverse(site.open_items));
        sites.truncate(SITES);
        sites.sort_by(|a, b| a.code.cmp(&b.code));
    }
    beyond
}
