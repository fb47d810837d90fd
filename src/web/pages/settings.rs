//! What the reckoning takes as given: bounds and factors, the rates of the suits, the orbits of the
//! coming excursions.

use askama::Template;
use axum::extract::State;

use crate::addresses;
use crate::extract::Fields;
use crate::failure::PageError;
use crate::frame::{Nav, PageFrame};
use crate::page::{Done, Page};
use crate::values::figure;
use crate::visitor::Viewer;
use app::read::{Found as _, excursions};
use app::settings::{self as operations, CalculationInputs, Entered};
use app::work::Work;
use app::{App, Failure};
use compute::fit::Constants;
use compute::lighting::{self, Orbit};
use compute::supplies::{PUBLISHED, Published, Rates};
use domain::cells::Input;
use domain::excursions::Excursion;
use domain::kinds::Kind;
use domain::records::{Column, Record as _};
use domain::roles::{Action, may};
use domain::settings::{SAFETY, Settings, SuitRates};

#[derive(Template)]
#[template(path = "library/settings.html")]
pub(crate) struct SettingsPage {
    page: PageFrame,
    suits: Vec<SuitLine>,
    /// Nobody's rates hold for a seat without rates of its own.
    none_for_all: bool,
    published: &'static [Published],
    published_name: &'static str,
    reserve: i64,
    lines: Vec<SettingLine>,
    why: String,
    change: String,
    orbits: Vec<OrbitRow>,
    near_critical: f64,
    may_change: bool,
}

/// One setting: its label, what was entered, the words on its default, and whose figure it is.
struct SettingLine {
    name: &'static str,
    label: &'static str,
    entered: String,
    hint: &'static str,
    whose: String,
    /// It matters to safety and nobody entered or accepted it.
    to_accept: bool,
}

/// The rates of one suit, and whose figures they are.
struct SuitLine {
    suit: SuitRates,
    whose: String,
}

/// The orbit of one coming excursion, as far as the record knows it.
struct OrbitRow {
    code: String,
    /// Period, altitude, beta angle, critical beta angle, first sunrise, night an orbit; empty
    /// where the record does not say.
    figures: [String; 6],
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<SettingsPage>, PageError> {
    let mut db = app.reader().await?;
    let entered = Settings::find(&mut db, Settings::CODE).await?;
    let given = CalculationInputs::load(&mut db).await?;
    let coming = excursions::coming(&mut db).await?;
    let cells = entered.as_ref().map(domain::records::Record::cells).unwrap_or_default();
    let by = operations::entered(&mut db, Kind::Settings, Settings::CODE).await?;
    let line = |column: &Column| {
        // A choice that says no is the default.
        let says_no = matches!(column.input, Input::YesNo) && cells.get(column.name) == "no";
        let entered = if says_no { String::new() } else { cells.get(column.name).to_owned() };
        let by = by.get(column.name).filter(|_| !entered.is_empty());
        let safety = SAFETY.contains(&column.name);
        SettingLine {
            name: column.name,
            label: column.label,
            hint: column.hint,
            to_accept: safety && entered.is_empty(),
            whose: match by {
                Some(by) => entered_by(by),
                None if !entered.is_empty() => "entered".to_owned(),
                None if safety => "default, no source".to_owned(),
                None => "default of the program".to_owned(),
            },
            entered,
        }
    };
    let lines = Settings::COLUMNS
        .iter()
        .filter(|column| !["code", "why"].contains(&column.name))
        .map(line)
        .collect();
    let mut suits = Vec::new();
    for suit in &given.suits {
        let by = operations::entered(&mut db, Kind::SuitRates, suit.code()).await?;
        let whose = by.get("source").map_or_else(String::new, entered_by);
        suits.push(SuitLine { suit: suit.clone(), whose });
    }
    Ok(Page(SettingsPage {
        page: viewer.frame("Settings", Nav::Settings).with_verdicts(),
        none_for_all: given.rates_of(None).is_none(),
        published: &PUBLISHED,
        published_name: Rates::PUBLISHED_NAME,
        reserve: minutes(given.constants.supply_reserve),
        lines,
        why: entered.as_ref().map(|settings| settings.why.as_str().to_owned()).unwrap_or_default(),
        change: match entered {
            Some(_) => format!("{}/edit", addresses::of(Kind::Settings, Settings::CODE)),
            None => "/settings/new".to_owned(),
        },
        orbits: coming.iter().map(|excursion| orbit(excursion, &given.constants)).collect(),
        near_critical: given.constants.near_critical_beta,
        suits,
        may_change: may(viewer.actor.role, Action::Settings),
    }))
}

/// `entered by lead, 2030-11-21`.
fn entered_by(by: &Entered) -> String {
    format!("entered by {}, {}", by.who, by.at.day())
}

/// Enters the default of a figure that matters to safety as the team's own.
pub(crate) async fn accept_default(
    State(app): State<App>,
    viewer: Viewer,
    typed: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    operations::accept_default(&mut work, typed.get("figure")).await?;
    let to = work.finish("/settings#bounds".to_owned()).await?;
    Ok(Done::to(to).saying("The default is accepted as the team's own figure."))
}

/// Takes the published averages for every seat without rates of its own.
pub(crate) async fn accept(
    State(app): State<App>,
    viewer: Viewer,
    typed: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    let saved = operations::accept_published(&mut work).await.map_err(|failure| match failure {
        Failure::Invalid(errors) => {
            Failure::Refused(errors.into_iter().map(|error| error.message).collect())
        }
        other => other,
    })?;
    let to = work.finish("/settings#suits".to_owned()).await?;
    let code = saved.record.code();
    Ok(Done::to(to).saying(format!(
        "{} hold for every seat from now on, as {code}, and the reserve is accepted.",
        Rates::PUBLISHED_NAME
    )))
}

fn orbit(excursion: &Excursion, constants: &Constants) -> OrbitRow {
    let (altitude, beta) = (excursion.orbit_altitude.map(|a| a.0), excursion.beta.map(|b| b.0));
    let period = excursion.orbit_period.map(|p| p.0).or_else(|| altitude.map(lighting::period));
    let night = match (period, altitude, beta) {
        (Some(period), Some(altitude), Some(beta)) => {
            let orbit = Orbit { period, altitude, beta, first_sunrise: 0.0 };
            if orbit.near_critical(constants.near_critical_beta) {
                "cannot tell".to_owned()
            } else {
                format!("{:.1} min", orbit.night_minutes())
            }
        }
        _ => String::new(),
    };
    let shown = |value: Option<f64>, digits: usize| {
        value.map(|value| figure(format_args!("{value:.digits$}"))).unwrap_or_default()
    };
    OrbitRow {
        code: excursion.code().to_owned(),
        figures: [
            shown(period, 1),
            shown(altitude, 0),
            shown(beta, 1),
            shown(altitude.map(lighting::critical_beta), 1),
            excursion.first_sunrise.map(|pet| pet.to_string()).unwrap_or_default(),
            night,
        ],
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a reserve of some minutes")]
fn minutes(minutes: f64) -> i64 {
    minutes.round() as i64
}
