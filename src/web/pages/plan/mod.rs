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
use crate::forms::ErrorSummary;
use crate::frame::{Nav, PageFrame};
use crate::page::Page;
use crate::pages::campaign::BacklogView;
use crate::pages::outside::{map_sites, map_ways};
use crate::pages::slots::asked::SlotsQuery;
use crate::pages::slots::form::Typed;
use crate::pages::slots::grid::Grid;
use crate::pages::slots::opened::Opened;
use crate::pages::slots::{self, Shown};
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
    summary: ErrorSummary,
    /// The cell that is open, and whether its row is not among those shown.
    opened: Option<Opened>,
    apart: bool,
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
    let asked = SlotsQuery::read(viewer.address());
    Ok(Page(page(&app, &viewer, &asked, &Typed::default()).await?))
}

/// Plan with a cell of its matrix open, and what was refused there.
pub(crate) async fn page(
    app: &App,
    viewer: &Viewer,
    asked: &SlotsQuery,
    typed: &Typed,
) -> Result<PlanPage, Failure> {
    let mut db = app.reader().await?;
    let campaign = campaign::seen(&mut db).await?;
    let ground = library::ground(&mut db).await?;
    let open = app::read::campaign::by_worksite(&mut db).await?;
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
    let Shown { grid, summary, opened, apart, .. } =
        slots::on_plan(&mut db, viewer, asked, typed).await?;
    Ok(PlanPage {
        page: slots::frame(viewer, "Plan", Nav::Plan, asked, typed),
        coming: Coming::of(&campaign, &plans, &attention, today),
        axis: dates::axis(&campaign, &here, &in_force, today),
        backlog: BacklogView::of(&campaign),
        grid,
        summary,
        opened,
        apart,
        map: (!sites.is_empty())
            .then(|| worksite_map::by_open_work(&sites, &map_ways(&ground.routes, &here), "map")),
        legend: worksite_map::legend(false),
        more_sites,
        may_keep: may(role, Action::KeepExcursions),
        may_pencil: may(role, Action::Pencil),
    })
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
