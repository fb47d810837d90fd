//! Plans with windows, an arm and waiting against a general-purpose solver, and by hand.

use super::super::{Frame, Lanes, Light, Order, SiteMinutes, Stop, Variation, Windows, time};
use super::{EV1, EV2, EVEN, at, frame, three_places};
use crate::lighting::Stretch;
use crate::places::SiteAt;
use crate::three_point::Spread;
use crate::travel::{Leg, Network};
use typed_index_collections::{TiSlice, TiVec};

#[derive(serde::Deserialize)]
struct Given {
    site: usize,
    lanes: u8,
    work: f64,
    arm: bool,
    light: String,
    needs: Vec<usize>,
}

#[derive(serde::Deserialize)]
struct Plan {
    travel: Vec<Vec<u32>>,
    sites: Vec<(f64, f64)>,
    egress: f64,
    ingress: f64,
    arm: Vec<(f64, f64)>,
    day: Vec<(f64, f64)>,
    night: Vec<(f64, f64)>,
    stops: Vec<Given>,
    end: f64,
}

#[derive(serde::Deserialize)]
struct File {
    plans: Vec<Plan>,
}

fn stretches(spans: &[(f64, f64)]) -> Vec<Stretch> {
    spans.iter().map(|&(from, until)| Stretch { from, until }).collect()
}

fn stop(given: &Given) -> Stop {
    let lanes = (0..2).filter(|lane| given.lanes & (1 << lane) != 0);
    let lanes = lanes.fold(Lanes::default(), Lanes::and);
    let light = match given.light.as_str() {
        "day" => Light::Day,
        "night" => Light::Night,
        _ => Light::Any,
    };
    let work = Spread { mean: given.work, variance: 0.0 };
    Stop { arm: given.arm, light, ..Stop::plain(given.site.into(), lanes, work) }
}

#[test]
fn three_hundred_plans_end_when_the_solver_says() {
    // Source: OR-Tools 9.15 CP-SAT, proven optimal makespans; tests/reference/timeline.py
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/timeline.json");
    let file: File = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    assert_eq!(file.plans.len(), 300);
    for (at, plan) in file.plans.iter().enumerate() {
        let sites: TiVec<SiteAt, SiteMinutes> =
            plan.sites.iter().map(|&(setup, cleanup)| SiteMinutes { setup, cleanup }).collect();
        let legs: Vec<Leg> = (0..sites.len())
            .flat_map(|from| (0..sites.len()).map(move |to| (from, to)))
            .map(|(from, to)| Leg {
                from: from.into(),
                to: to.into(),
                minutes: plan.travel[from][to],
            })
            .collect();
        let routes = Network::new(sites.len(), &legs);
        let windows = Windows {
            arm: stretches(&plan.arm),
            days: stretches(&plan.day),
            nights: stretches(&plan.night),
        };
        // Ingress is common; the last lane inside decides either way. The limit is so far away that
        // work without a window shows.
        let (egress, ingress, windows) = (plan.egress, plan.ingress, &windows);
        let frame = Frame { egress, ingress, windows, limit: 1e6, ..frame(2, &sites) };
        let stops: Vec<Stop> = plan.stops.iter().map(stop).collect();
        let needs: Vec<(usize, usize)> = plan
            .stops
            .iter()
            .enumerate()
            .flat_map(|(then, given)| given.needs.iter().map(move |&first| (first, then)))
            .collect();
        let order = Order { stops: &stops, needs: &needs };
        let timed = time(&frame, order, &routes).unwrap();
        assert!((timed.finish.end() - plan.end).abs() < 1e-9, "plan {at}: {:?}", timed.blocks);
        let latest = timed.latest_starts(&frame, order, plan.end);
        for (block, latest) in timed.blocks.iter().zip(&latest) {
            assert!(block.start <= latest + 1e-9, "plan {at}");
        }
    }
}

fn windowed(
    windows: &Windows,
    sites: &TiSlice<SiteAt, SiteMinutes>,
    stops: &[Stop],
) -> (Vec<(f64, f64)>, Vec<f64>) {
    let (_, table) = three_places();
    let frame = Frame { windows, ..frame(2, sites) };
    let order = Order { stops, needs: &[] };
    let timed = time(&frame, order, &table).unwrap();
    let starts = timed.blocks.iter().map(|block| (block.start, block.end)).collect();
    (starts, timed.latest_starts(&frame, order, 420.0))
}

#[test]
fn the_arm_serves_one_at_a_time_and_only_in_its_windows() {
    let (sites, _) = three_places();
    let windows =
        Windows { arm: stretches(&[(60.0, 100.0), (150.0, 300.0)]), ..Windows::default() };
    let arm = |lanes| Stop { arm: true, ..at(1, lanes, 30.0) };
    let (blocks, latest) = windowed(&windows, &sites, &[arm(EV1), arm(EV2)]);
    // Both are there at 0:45. The first has the window of 1:00, the second that of 2:30.
    assert_eq!(blocks, [(60.0, 90.0), (150.0, 180.0)]);
    // By 7:00 the window ends at 5:00: the second starts at 4:30 at the latest, the first before.
    assert_eq!(latest, [240.0, 270.0]);
}

#[test]
fn daylight_work_that_no_day_can_hold_waits_past_the_limit() {
    let (sites, _) = three_places();
    let windows = Windows { days: stretches(&[(0.0, 50.0), (90.0, 150.0)]), ..Windows::default() };
    let by_day = |minutes| Stop { light: Light::Day, ..at(1, EV1, minutes) };
    assert_eq!(windowed(&windows, &sites, &[by_day(60.0)]).0, [(90.0, 150.0)]);
    let (blocks, latest) = windowed(&windows, &sites, &[by_day(61.0)]);
    assert_eq!(blocks, [(420.0, 481.0)]);
    assert_eq!(latest, [f64::NEG_INFINITY]);
    // The draws say so too: however the day goes, it does not end inside the limit of 7:00.
    let (_, table) = three_places();
    let work = Spread { mean: 61.0, variance: 100.0 };
    let stops = [at(1, EV2, 200.0), Stop { work, ..by_day(61.0) }];
    let frame = Frame { windows: &windows, ..frame(2, &sites) };
    let order = Order { stops: &stops, needs: &[] };
    let narrow = time(&frame, order, &table).unwrap().ends(&frame, order, EVEN);
    // Φ of (60 − 61)/10: in some 48 % of the draws the work is short enough.
    assert!((narrow.chance_by(420.0) - 0.48).abs() < 0.03, "{}", narrow.chance_by(420.0));
    let never = [Stop { work: Spread { mean: 90.0, variance: 1.0 }, ..by_day(90.0) }];
    let order = Order { stops: &never, needs: &[] };
    let ends = time(&frame, order, &table).unwrap().ends(&frame, order, EVEN);
    assert!(ends.chance_by(420.0) < 1e-9 && ends.end_at(0.5) > 420.0);
}

#[test]
fn work_that_may_pause_goes_on_in_the_next_day() {
    let (sites, table) = three_places();
    let windows = Windows {
        days: stretches(&[(0.0, 60.0), (95.0, 150.0), (190.0, 250.0)]),
        ..Windows::default()
    };
    let work = |pauses| Stop { light: Light::Day, pauses, ..at(1, EV1, 90.0) };
    // Ready at 0:45: 15 min until sunset, 55 in the next day, 20 in the third.
    let (blocks, latest) = windowed(&windows, &sites, &[work(true)]);
    assert_eq!(blocks, [(45.0, 210.0)]);
    // Back by 7:00, 35 min after the work: 60 min of the third day and 30 of the second.
    assert_eq!(latest, [120.0]);
    assert_eq!(windowed(&windows, &sites, &[work(false)]).0, [(420.0, 510.0)]);
    let frame = Frame { windows: &windows, ..frame(1, &sites) };
    let stops = [work(true)];
    let timed = time(&frame, Order { stops: &stops, needs: &[] }, &table).unwrap();
    let worked: f64 = timed
        .segments
        .iter()
        .filter(|s| matches!(s.activity, super::Activity::Work { .. }))
        .map(|s| s.until - s.from)
        .sum();
    assert!((worked - 90.0).abs() < 1e-9);
}

#[test]
fn work_between_two_minutes_waits_for_the_first() {
    let (sites, _) = three_places();
    let windows = Windows::default();
    let bounded = |minutes| Stop { from: 100.0, until: 160.0, ..at(1, EV1, minutes) };
    assert_eq!(windowed(&windows, &sites, &[bounded(60.0)]).0, [(100.0, 160.0)]);
    assert_eq!(windowed(&windows, &sites, &[bounded(60.0)]).1, [100.0]);
    assert_eq!(windowed(&windows, &sites, &[bounded(61.0)]).0, [(420.0, 481.0)]);
}

#[test]
fn what_is_carried_makes_the_way_longer() {
    let (sites, _) = three_places();
    let windows = Windows::default();
    let carried = Stop { carries_there: 1.5, carries_on: 1.5, ..at(1, EV1, 30.0) };
    // 30 egress, 15 instead of 10, 5 setup; the way on to the mast takes 9 instead of 6.
    let (blocks, _) = windowed(&windows, &sites, &[carried, at(2, EV1, 10.0)]);
    assert_eq!(blocks, [(50.0, 80.0), (80.0 + 3.0 + 9.0 + 7.0, 109.0)]);
}

#[test]
fn an_even_crew_day_leaves_certainty_certain() {
    let (sites, table) = three_places();
    let windows = Windows::default();
    let frame = Frame { windows: &windows, ..frame(2, &sites) };
    let stops = [at(1, EV1, 40.0)];
    let order = Order { stops: &stops, needs: &[] };
    let chance = |crew_day: f64, bound: f64| {
        let variation = Variation { crew_day, ..EVEN };
        time(&frame, order, &table).unwrap().ends(&frame, order, variation).chance_by(bound)
    };
    // It ends at 2:00 at the mean.
    assert!((chance(0.0, 120.5) - 1.0).abs() < 1e-12 && chance(0.0, 119.0) < 1e-12);
    // On a crew day of log sd 0.12 the 40 min alone vary: 50 min are left to them at 2:10.
    // Φ((ln(50/40) + 0.0072)/0.12) = Φ(1.9195) = 0.9725.
    assert!((chance(0.12, 130.0) - 0.9725).abs() < 3e-3);
}
