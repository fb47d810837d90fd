//! The timeline against flown plans as published, and its own laws.

use crate::places::SiteAt;
use proptest::prelude::*;
use typed_index_collections::{TiSlice, TiVec, ti_vec};

use super::{Activity, Frame, Lanes, NoWay, Order, SiteMinutes, Stop, Timed, Variation, Windows};
use crate::three_point::{Spread, ThreePoint};
use crate::travel::{Leg, Network};

/// Nothing that the excursion shares varies.
const EVEN: Variation =
    Variation { crew_day: 0.0, egress: 0.0, ingress: 0.0, travel: 0.0, site: 0.0 };

/// No arm, no day, no night.
static NO_WINDOWS: Windows = Windows { arm: Vec::new(), days: Vec::new(), nights: Vec::new() };

fn time(frame: &Frame, stops: &[Stop], routes: &Network) -> Result<Timed, (usize, NoWay)> {
    super::time(frame, Order { stops, needs: &[] }, routes)
}

/// One place for everything: the published plans print no travel of their own.
fn one_place(lanes: usize, egress: f64, ingress: f64, stops: &[Stop]) -> Timed {
    let sites = ti_vec![SiteMinutes::default()];
    let frame = Frame { egress, ingress, ..frame(lanes, &sites) };
    time(&frame, stops, &Network::new(1, &[])).unwrap()
}

/// Latest starts at the one place.
fn latest(timed: &Timed, lanes: usize, stops: &[Stop], bound: f64) -> Vec<f64> {
    let sites = ti_vec![SiteMinutes::default()];
    timed.latest_starts(&frame(lanes, &sites), Order { stops, needs: &[] }, bound)
}

fn stop(lanes: Lanes, minutes: f64) -> Stop {
    Stop::plain(SiteAt(0), lanes, Spread { mean: minutes, variance: 0.0 })
}

const EV1: Lanes = Lanes::one(0);
const EV2: Lanes = Lanes::one(1);
const BOTH: Lanes = EV1.and(1);

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-9
}

#[test]
fn a_published_column_adds_up_to_seven_hours() {
    // Source: NASA, Pump Module R&R EVA final procedures, US EVA 15, summary timeline, 2010:
    // 5+25+20+50+25+65+45+20+20+50+30+35+25+5 = 420 min = 7:00.
    let work = [20.0, 50.0, 25.0, 65.0, 45.0, 20.0, 20.0, 50.0, 30.0, 35.0];
    let stops: Vec<Stop> = work.iter().map(|&minutes| stop(EV1, minutes)).collect();
    let timed = one_place(1, 5.0 + 25.0, 25.0 + 5.0, &stops);
    assert!(close(timed.finish.end(), 420.0));
    // The same plan: post-depress, egress, setup, cleanup and ingress, pre-repress
    // are 5+25+20+25+5 = 80 of 420 min, 19.0 %.
    let overhead: f64 = 30.0 + work[0] + 30.0;
    assert!((overhead / timed.finish.end() - 0.190).abs() < 5e-4);
}

#[test]
fn the_published_latest_start_is_four_fifty_five() {
    // Source: the same document prints “BINGO: For a 6:30 EVA, 4:55 PET to start REMOVE SPARE PM”:
    // what is left from there is 30+35+25+5 = 95 min.
    let work = [20.0, 50.0, 25.0, 65.0, 45.0, 20.0, 20.0, 50.0, 30.0, 35.0];
    let stops: Vec<Stop> = work.iter().map(|&minutes| stop(EV1, minutes)).collect();
    let timed = one_place(1, 30.0, 30.0, &stops);
    assert!(close(latest(&timed, 1, &stops, 390.0)[8], 4.0 * 60.0 + 55.0));
}

#[test]
fn both_columns_of_a_published_plan_end_at_six_thirty_five() {
    // Source: NASA, Updated detailed EVA procedures, US EVA 10, summary timeline, 2007:
    // items of both 5+35+20+50+20+5, single items 40, 60, 45, 70, 45 and
    // 30, 30, 40, 50, 60, 25, 25 = 260 in each lane; both columns end at 6:35.
    let mut stops = vec![stop(BOTH, 20.0)];
    stops.extend([40.0, 60.0, 45.0, 70.0, 45.0].map(|minutes| stop(EV1, minutes)));
    stops.extend([30.0, 30.0, 40.0, 50.0, 60.0, 25.0, 25.0].map(|minutes| stop(EV2, minutes)));
    stops.push(stop(BOTH, 50.0));
    let timed = one_place(2, 5.0 + 35.0, 20.0 + 5.0, &stops);
    for end in timed.finish.own_ends() {
        assert!(close(*end, 6.0 * 60.0 + 35.0));
    }
    assert!(!timed.segments.iter().any(|s| s.activity == Activity::Wait));
    // The same plan: 5+35+20+5 = 65 of 395 min, 16.5 %.
    assert!(((40.0 + 25.0) / timed.finish.end() - 0.165).abs() < 5e-4);
}

#[test]
fn a_published_morning_clock_adds_up() {
    // Source: NASA, EVA 9 final procedures, 2004: 0:52 + 0:38 = 1:30, and
    // 4:30 + 0:45 = 5:15.
    let timed = one_place(1, 52.0, 45.0, &[stop(EV1, 38.0), stop(EV1, 180.0)]);
    assert!(close(timed.blocks[0].end, 90.0));
    assert!(close(timed.blocks[1].end, 270.0));
    assert!(close(timed.finish.end(), 315.0));
}

#[test]
fn the_course_networks_critical_path_is_found_with_its_chance() {
    // Source: OPMA 5364 course sheet: c, f, h one after the other, 44.8333 with
    // variance 1.91667, P(> 48) 0.011088.
    let work = [(12.0, 14.0, 16.0), (17.0, 21.0, 24.0), (9.0, 10.0, 11.0)];
    let stops = work.map(|(a, m, b)| Stop {
        work: ThreePoint::new(a, m, b).unwrap().part(1.0),
        ..stop(EV1, 0.0)
    });
    let timed = one_place(1, 0.0, 0.0, &stops);
    assert!((timed.finish.end() - 44.8333).abs() < 5e-5);
    // Ours leans a little to the right of the normal, as lognormal minutes do.
    let sites = ti_vec![SiteMinutes::default()];
    let frame = Frame { egress: 0.0, ingress: 0.0, ..frame(1, &sites) };
    let ends = timed.ends(&frame, Order { stops: &stops, needs: &[] }, EVEN);
    assert!((1.0 - ends.chance_by(48.0) - 0.011_088).abs() < 3e-3);
    assert!((ends.end_at(0.8) - 45.9985).abs() < 0.05);
}

/// Airlock 0; 1 and 2 out on the structure, slower home than out.
fn three_places() -> (TiVec<SiteAt, SiteMinutes>, Network) {
    let sites = ti_vec![
        SiteMinutes::default(),
        SiteMinutes { setup: 5.0, cleanup: 3.0 },
        SiteMinutes { setup: 7.0, cleanup: 2.0 },
    ];
    let legs = [(0, 1, 10), (0, 2, 16), (1, 0, 12), (1, 2, 6), (2, 0, 18), (2, 1, 8)];
    (
        sites,
        Network::new(
            3,
            &legs.map(|(from, to, minutes)| Leg { from: SiteAt(from), to: SiteAt(to), minutes }),
        ),
    )
}

fn frame(lanes: usize, sites: &TiSlice<SiteAt, SiteMinutes>) -> Frame<'_> {
    Frame {
        lanes,
        airlock: SiteAt(0),
        egress: 30.0,
        ingress: 20.0,
        together: true,
        limit: 420.0,
        sites,
        windows: &NO_WINDOWS,
    }
}

fn at(site: usize, lanes: Lanes, minutes: f64) -> Stop {
    Stop { site: site.into(), ..stop(lanes, minutes) }
}

#[test]
fn a_visit_is_set_up_once_and_cleaned_up_once() {
    let (sites, table) = three_places();
    let frame = frame(1, &sites);
    let stops = [at(1, EV1, 40.0), at(1, EV1, 20.0), at(2, EV1, 10.0)];
    let timed = time(&frame, &stops, &table).unwrap();
    // 30 egress, 10 there, 5 setup; 40 and 20 of work; 3 cleanup, 6 on, 7 setup; 10; 2, 18, 20.
    assert!(close(timed.blocks[0].start, 45.0));
    assert!(close(timed.blocks[1].start, 85.0));
    assert!(close(timed.blocks[2].start, 121.0));
    assert!(close(timed.finish.end(), 171.0));
    let order = Order { stops: &stops, needs: &[] };
    assert!(close(timed.latest_starts(&frame, order, 171.0)[0], 45.0));
}

#[test]
fn a_two_seat_task_starts_at_the_later_lane_and_the_other_waits() {
    let (sites, table) = three_places();
    let frame = frame(2, &sites);
    let stops = [at(1, EV1, 40.0), at(2, BOTH, 30.0)];
    let timed = time(&frame, &stops, &table).unwrap();
    // EV1: 45 + 40, cleanup 3, 6 on, setup 7 = 101. EV2: 30 + 16 + 7 = 53.
    assert!(close(timed.blocks[1].start, 101.0));
    let waits: Vec<_> = timed.segments.iter().filter(|s| s.activity == Activity::Wait).collect();
    assert_eq!(waits.len(), 1);
    // Both leave the mast together and are back together: nobody waits at the airlock.
    assert!(waits[0].lane == 1 && close(waits[0].from, 53.0) && close(waits[0].until, 101.0));
}

#[test]
fn one_airlock_takes_all_in_when_the_last_is_back() {
    // One repressurisation for all seats: common practice; NASA, Updated detailed EVA procedures,
    // US EVA 10, 2007, prints pre-repress for both columns at once.
    let (sites, table) = three_places();
    let stops = [at(1, EV1, 315.0)];
    let together = frame(2, &sites);
    let timed = time(&together, &stops, &table).unwrap();
    // EV1: 30 + 10 + 5 + 315 + 3 + 12 = 6:15 back at the airlock, inside at 6:35; EV2 has no work.
    assert_eq!(timed.finish.ends().collect::<Vec<f64>>(), [395.0, 395.0]);
    assert_eq!(timed.finish.own_ends(), [395.0, 50.0]);
    let of = |lane: usize| {
        let own = timed.segments.iter().filter(move |segment| segment.lane == lane);
        own.map(|s| (s.activity, s.from, s.until)).collect::<Vec<_>>()
    };
    let idle = [
        (Activity::Egress, 0.0, 30.0),
        (Activity::Wait, 30.0, 375.0),
        (Activity::Ingress, 375.0, 395.0),
    ];
    assert_eq!(of(1), idle);
    // Where the airlock takes them one by one, EV2 is inside at 0:50.
    let alone = Frame { together: false, ..together };
    let timed = time(&alone, &stops, &table).unwrap();
    assert_eq!(timed.finish.ends().collect::<Vec<f64>>(), [395.0, 50.0]);
    assert!(close(timed.finish.end(), 395.0));
}

#[test]
fn where_there_is_no_way_the_plan_says_between_which_worksites() {
    let (sites, _) = three_places();
    let table = Network::new(3, &[Leg { from: SiteAt(0), to: SiteAt(1), minutes: 10 }]);
    let frame = frame(1, &sites);
    let stops = [at(1, EV1, 40.0), at(2, EV1, 10.0)];
    assert_eq!(time(&frame, &stops, &table), Err((1, NoWay { from: SiteAt(1), to: SiteAt(2) })));
}

#[test]
fn a_task_waits_for_what_it_needs_in_the_other_lane() {
    let (sites, table) = three_places();
    let frame = frame(2, &sites);
    let stops = [at(1, EV1, 40.0), at(1, EV2, 10.0)];
    let order = Order { stops: &stops, needs: &[(0, 1)] };
    let timed = super::time(&frame, order, &table).unwrap();
    assert!(close(timed.blocks[1].start, 85.0));
    // 10 of work, 3 cleanup, 12 home, 20 ingress; the first holds up 40 more.
    let latest = timed.latest_starts(&frame, order, 400.0);
    assert!(close(latest[1], 355.0));
    assert!(close(latest[0], 315.0));
}

fn stops() -> impl Strategy<Value = Vec<Stop>> {
    let lanes = prop::sample::select(vec![EV1, EV2, BOTH]);
    let one =
        (0..3_usize, lanes, 0..120_u32).prop_map(|(site, lanes, m)| at(site, lanes, m.into()));
    prop::collection::vec(one, 0..9)
}

proptest! {
    #[test]
    fn one_more_stop_never_ends_earlier(plan in stops(), more in stops(), place in 0..9_usize) {
        let (sites, table) = three_places();
        let frame = frame(2, &sites);
        let mut longer = plan.clone();
        if let Some(stop) = more.first() {
            longer.insert(place.min(plan.len()), *stop);
        }
        let shorter = time(&frame, &plan, &table).unwrap().finish;
        let longer = time(&frame, &longer, &table).unwrap().finish;
        prop_assert!(longer.end() >= shorter.end() - 1e-9);
    }

    #[test]
    fn segments_of_a_lane_follow_each_other_without_a_gap(plan in stops()) {
        let (sites, table) = three_places();
        let frame = frame(2, &sites);
        let timed = time(&frame, &plan, &table).unwrap();
        for lane in 0..2 {
            let mut now = 0.0;
            for segment in timed.segments.iter().filter(|s| s.lane == lane) {
                prop_assert!(close(segment.from, now));
                prop_assert!(segment.until >= segment.from);
                now = segment.until;
            }
            prop_assert!(close(now, timed.finish.end()));
        }
    }

    #[test]
    fn the_latest_start_is_no_earlier_than_the_start_and_one_stop_has_no_slack(plan in stops()) {
        let (sites, table) = three_places();
        let frame = frame(2, &sites);
        let order = Order { stops: &plan, needs: &[] };
        let timed = time(&frame, &plan, &table).unwrap();
        let latest = timed.latest_starts(&frame, order, timed.finish.end());
        let slack = timed.blocks.iter().zip(&latest).map(|(block, latest)| latest - block.start);
        let least = slack.fold(f64::INFINITY, f64::min);
        prop_assert!(least >= -1e-9);
        prop_assert!(least < 1e-9 || timed.finish.end() <= 50.0 + 1e-9);
    }
}

mod sampling;
mod scheduled;
