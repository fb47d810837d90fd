//! Sister units affected, in full: every approach of the record, and every open unit of one
//! approach. Other pages show the first of them and lead here.

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::forms::Pager;
use crate::frame::{Nav, PageFrame, Shelf};
use crate::page::Page;
use crate::pages::sisters::{self, Affected, every_unit};
use crate::pages::slots::asked::read_approach;
use crate::tables;
use crate::visitor::Viewer;
use app::read::{affected, tasks};
use app::sisters::{Share, of_family};
use app::{App, Failure};
use domain::codes::FamilyCode;
use domain::kinds::Kind;
use domain::repeat_guard::SisterEffect;

/// Approaches on one page.
const APPROACHES: i64 = 50;
/// Units on one page; each has its forms.
const UNITS: usize = 20;

#[derive(Template)]
#[template(path = "library/affected_all.html")]
pub(crate) struct AllAffectedPage {
    page: PageFrame,
    heading: &'static str,
    csv: String,
    other: (String, &'static str),
    rows: Vec<AffectedRow>,
    pager: Pager,
}

/// One approach and how many units it affects.
struct AffectedRow {
    family: String,
    technique: String,
    side: String,
    attempt: String,
    units: i64,
    address: String,
}

/// How an address names it; one with the word of before is read as well.
pub(crate) const fn effect_word(what: SisterEffect) -> &'static str {
    match what {
        SisterEffect::Questioned => "questioned",
        SisterEffect::Offered => "offered",
    }
}

fn read_effect(word: &str) -> SisterEffect {
    SisterEffect::read(word).unwrap_or(SisterEffect::Questioned)
}

const fn heading(what: SisterEffect) -> &'static str {
    match what {
        SisterEffect::Questioned => "Approaches questioned on open units",
        SisterEffect::Offered => "Approaches that worked on a sister unit",
    }
}

fn asked_page(asked: &Fields) -> i64 {
    asked.get("page").parse().unwrap_or(1).clamp(1, 100_000)
}

fn asked(viewer: &Viewer) -> (Fields, SisterEffect) {
    let query = viewer.address().split_once('?').map_or("", |(_, query)| query);
    let asked = Fields::read(query.as_bytes());
    let what = read_effect(asked.get("what"));
    (asked, what)
}

/// Every approach that affects open units, family by family.
pub(crate) async fn all(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<AllAffectedPage>, PageError> {
    let (asked, what) = asked(&viewer);
    let page = asked_page(&asked);
    let mut db = app.reader().await?;
    let total = affected::count(&mut db, what).await.map_err(Failure::from)?;
    let from = (page - 1) * APPROACHES;
    let found = affected::page(&mut db, what, from, APPROACHES).await.map_err(Failure::from)?;
    drop(db);
    let at = |what: SisterEffect| format!("/affected?what={}", effect_word(what));
    let (other, words) = match what {
        SisterEffect::Questioned => {
            (SisterEffect::Offered, "Approaches that worked on a sister unit")
        }
        SisterEffect::Offered => (SisterEffect::Questioned, "Approaches questioned on open units"),
    };
    let row = |one: &affected::Affected| AffectedRow {
        family: one.family.to_string(),
        technique: one.technique.to_string(),
        side: one.side.to_string(),
        attempt: one.attempt.to_string(),
        units: one.units,
        address: every_unit(what, &one.family, Some(&one.technique), Some(&one.side)),
    };
    Ok(Page(AllAffectedPage {
        page: viewer.frame(heading(what), Nav::Library(Shelf::Families)),
        heading: heading(what),
        csv: tables::address_of("affected", &format!("what={}", effect_word(what))),
        other: (at(other), words),
        rows: found.iter().map(row).collect(),
        pager: Pager::new(page, APPROACHES, total, |page| format!("{}&page={page}", at(what))),
    }))
}

/// The same approaches as a file.
pub(crate) async fn file(State(app): State<App>, viewer: Viewer) -> Result<Response, PageError> {
    let (_, what) = asked(&viewer);
    let mut db = app.reader().await?;
    let found = affected::page(&mut db, what, 0, tables::MAX_ROWS).await.map_err(Failure::from)?;
    let rows = found.iter().map(|one| {
        vec![
            effect_word(what).to_owned(),
            one.family.to_string(),
            one.technique.to_string(),
            one.side.to_string(),
            one.attempt.to_string(),
            one.units.to_string(),
        ]
    });
    tables::file("affected", &["what", "family", "technique", "side", "attempt", "units"], rows)
}

#[derive(Template)]
#[template(path = "library/affected.html")]
pub(crate) struct AffectedPage {
    page: PageFrame,
    family: String,
    heading: &'static str,
    told: Vec<Affected>,
    pager: Pager,
}

/// Every open unit of a family that one approach affects.
pub(crate) async fn of_one(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Page<AffectedPage>, PageError> {
    let (asked, what) = asked(&viewer);
    let approach = read_approach(asked.get("by")).unwrap_or_default();
    let page = asked_page(&asked);
    let mut db = app.reader().await?;
    let family = FamilyCode::from(code.as_str());
    let some =
        tasks::of_families(&mut db, std::slice::from_ref(&family)).await.map_err(Failure::from)?;
    let missing = || Failure::NotFound(Kind::Family, code.clone());
    let task = some.first().ok_or_else(missing)?;
    let skip = usize::try_from(page - 1).unwrap_or(0) * UNITS;
    let share = Share { of: Some((what, approach.clone())), skip, each: UNITS, together: UNITS };
    let told = of_family(&mut db, task, share).await?;
    drop(db);
    let total = match what {
        SisterEffect::Questioned => told.questioned.first().map_or(0, |one| one.count),
        SisterEffect::Offered => told.offered.first().map_or(0, |one| one.count),
    };
    let mut shown = match what {
        SisterEffect::Questioned => sisters::questioned(&told, &viewer),
        SisterEffect::Offered => sisters::offered(&told, &viewer),
    };
    // This is the page of all of them.
    for one in &mut shown {
        one.all = None;
    }
    let (technique, side) = (approach.technique.as_ref(), approach.side.as_ref());
    let at = every_unit(what, &family, technique, side);
    let total = i64::try_from(total).unwrap_or(i64::MAX);
    let units = i64::try_from(UNITS).unwrap_or(i64::MAX);
    Ok(Page(AffectedPage {
        page: viewer.frame(format!("{}, {code}", heading(what)), Nav::Library(Shelf::Families)),
        family: code,
        heading: heading(what),
        told: shown,
        pager: Pager::new(page, units, total, |page| format!("{at}&page={page}")),
    }))
}
