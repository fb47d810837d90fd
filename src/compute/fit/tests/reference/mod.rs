//! The fit against programs of other authors: cases and answers of tests/reference, made into
//! snapshots.

mod law;
mod places;
mod supplies;
mod waiting;

use crate::places::{ApproachAt, ExcursionAt, OutsideAt, RatesAt, TaskAt, ToolAt};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use typed_index_collections::ti_vec;

use super::super::{
    Constants, Excursion, Orbit, Route, Site, Slot, Snapshot, Supplies, Task, Tool,
};
use super::{LOCK, aid, practised, record, task};
use crate::supplies::Rates;
use crate::three_point::ThreePoint;
use domain::units::{Pet, Window};
use domain::words::{LightNeed, WorkRate};

/// One excursion as the programs write it; worksite 0 is the airlock.
#[derive(Debug, Deserialize)]
struct Given {
    seats: Vec<u8>,
    #[serde(default)]
    travel: Vec<Vec<u32>>,
    #[serde(default)]
    legs: Vec<(usize, usize, u32, bool)>,
    sites: Vec<(f64, f64)>,
    egress: f64,
    ingress: f64,
    planned: Option<f64>,
    limit: Option<f64>,
    #[serde(default)]
    arm: Vec<(i64, i64)>,
    orbit: Option<GivenOrbit>,
    stops: Vec<GivenTask>,
    #[serde(default)]
    rates: Vec<GivenRates>,
    carried: Option<Carried>,
}

#[derive(Debug, Deserialize)]
struct GivenOrbit {
    period: f64,
    altitude: f64,
    beta: f64,
    sunrise: f64,
}

#[derive(Debug, Deserialize)]
struct GivenTask {
    site: usize,
    #[serde(default)]
    seats: Vec<u8>,
    work: Work,
    rate: Option<String>,
    #[serde(default)]
    arm: bool,
    #[serde(default)]
    light: String,
    #[serde(default)]
    tool: bool,
    /// Places among the set tasks.
    #[serde(default)]
    needs: Vec<usize>,
}

#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(untagged)]
enum Work {
    Certain(f64),
    Estimate([f64; 3]),
}

#[derive(Debug, Deserialize)]
struct GivenRates {
    overhead: f64,
    light: f64,
    moderate: f64,
    heavy: f64,
    quotient: f64,
    leakage: f64,
    external_work: f64,
    electrics: f64,
    environment: f64,
    water_heat: f64,
}

#[derive(Debug, Deserialize)]
struct Carried {
    oxygen: f64,
    scrubber: f64,
    water: f64,
    battery: f64,
}

#[derive(Deserialize)]
struct File<C> {
    cases: Vec<C>,
}

fn cases<C: DeserializeOwned>(text: &str) -> Vec<C> {
    serde_json::from_str::<File<C>>(text).unwrap().cases
}

/// Only the work varies, as far as it does.
fn fixed_overheads(crew_day_log_sd: f64) -> Constants {
    Constants {
        crew_day_log_sd,
        egress_log_sd: 0.0,
        ingress_log_sd: 0.0,
        travel_log_sd: 0.0,
        site_log_sd: 0.0,
        ..Constants::default()
    }
}

/// The excursion with its set tasks: the first of them is task number 1.
fn snapshot(given: &Given) -> Snapshot {
    let mut made = record();
    made.sites = given.sites.iter().enumerate().map(site).collect();
    made.routes = routes(given);
    made.tools = ti_vec![Tool { code: "L-1".into(), aboard: Some(1), ..Tool::default() }];
    made.outside = ti_vec![aid("O-1", None)];
    if !given.rates.is_empty() {
        made.rates = given.rates.iter().map(rates).collect();
    }
    made.excursions = ti_vec![excursion(given, made.excursions[ExcursionAt(0)].clone())];
    for (at, stop) in given.stops.iter().enumerate() {
        let mut set = made_task(stop, &format!("T-{}", at + 2));
        set.needs = stop.needs.iter().map(|need| TaskAt::from(need + 1)).collect();
        set.seats = Some(stop.seats.len());
        made.tasks.push(set.into());
        let seats = stop.seats.clone();
        let slot = Slot {
            task: (at + 1).into(),
            set: true,
            approach: Some(ApproachAt(0)),
            seats,
            ..Slot::default()
        };
        made.excursions[ExcursionAt(0)].slots.push(slot);
    }
    made
}

fn site((at, &(setup, cleanup)): (usize, &(f64, f64))) -> Site {
    Site {
        code: format!("W-{at}").into(),
        setup: Some(setup),
        cleanup: Some(cleanup),
        ..Site::default()
    }
}

fn routes(given: &Given) -> Vec<Route> {
    let leg = |&(from, to, minutes, over_aid): &(usize, usize, u32, bool)| Route {
        from: from.into(),
        to: to.into(),
        minutes,
        aid: over_aid.then_some(OutsideAt(0)),
    };
    let mut routes: Vec<Route> = given.legs.iter().map(leg).collect();
    for (from, row) in given.travel.iter().enumerate() {
        let legs = row.iter().enumerate().filter(|&(to, _)| to != from);
        routes.extend(legs.map(|(to, &minutes)| Route {
            from: from.into(),
            to: to.into(),
            minutes,
            aid: None,
        }));
    }
    routes
}

fn rates(given: &GivenRates) -> Rates {
    Rates {
        light: given.light,
        moderate: given.moderate,
        heavy: given.heavy,
        overhead: given.overhead,
        quotient: given.quotient,
        leakage: given.leakage,
        external_work: given.external_work,
        electrics: given.electrics,
        environment: given.environment,
        water_heat: given.water_heat,
    }
}

fn excursion(given: &Given, like: Excursion) -> Excursion {
    let window = |&(from, until): &(i64, i64)| Window { from: Pet(from), until: Pet(until) };
    let of_seat =
        |(at, _): (usize, &u8)| Some(RatesAt::from(if given.rates.is_empty() { 0 } else { at }));
    Excursion {
        planned: given.planned,
        limit: given.limit.or(Some(2_000.0)),
        egress: Some(given.egress),
        ingress: Some(given.ingress),
        seats: given.seats.clone(),
        airlock: Some(LOCK),
        arm_windows: given.arm.iter().map(window).collect(),
        orbit: given.orbit.as_ref().map(orbit).unwrap_or_default(),
        supplies: given.carried.as_ref().map_or(like.supplies, |carried| Supplies {
            oxygen: Some(carried.oxygen),
            scrubber: Some(carried.scrubber),
            water: Some(carried.water),
            battery: Some(carried.battery),
        }),
        seat_rates: given.seats.iter().enumerate().map(of_seat).collect(),
        seat_crew: (0..given.seats.len()).map(|at| Some(at.into())).collect(),
        ..like
    }
}

fn orbit(given: &GivenOrbit) -> Orbit {
    Orbit {
        period: Some(given.period),
        altitude: Some(given.altitude),
        beta: Some(given.beta),
        first_sunrise: Some(given.sunrise),
    }
}

fn made_task(given: &GivenTask, code: &str) -> Task {
    let [a, m, b] = match given.work {
        Work::Certain(minutes) => [minutes; 3],
        Work::Estimate(points) => points,
    };
    let mut made = task(code, given.site.into(), m);
    made.work = ThreePoint::new(a, m, b);
    made.arm = given.arm;
    made.lighting = match given.light.as_str() {
        "day" => Some(LightNeed::DaylightOnly),
        "night" => Some(LightNeed::NightOnly),
        _ => None,
    };
    made.work_rate = Some(match given.rate.as_deref() {
        Some("light") => WorkRate::Light,
        Some("heavy") => WorkRate::Heavy,
        _ => WorkRate::Moderate,
    });
    made.approaches = made.approaches.into_iter().map(practised).collect();
    if given.tool {
        made.approaches[ApproachAt(0)].tools = vec![ToolAt(0)];
    }
    made
}
