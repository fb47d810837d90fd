//! Aids and routes on the day, by hand: what is brought in closes the route of what comes after, and
//! what is dropped or stopped early leaves it open.

use super::super::{Choice, Day, Minutes, Outlook, Progress, Task, Ways};
use crate::places::SiteAt;
use crate::three_point::Spread;
use crate::timeline::{Frame, Lanes, SiteMinutes, Stop, Variation, Windows};
use typed_index_collections::ti_vec;

/// The far worksite 2 is reached over a line that the first task brings in: ten minutes with it, and
/// without it forty by the other way, or none at all.
struct Line {
    without: Option<f64>,
}

impl Ways for Line {
    fn travel(
        &self,
        from: SiteAt,
        to: SiteAt,
        leaves: f64,
        slow: f64,
        brought_in: &[(f64, usize)],
    ) -> Option<f64> {
        let gone = brought_in.iter().any(|(at, _)| *at <= leaves);
        let minutes = match ([from, to].contains(&SiteAt(2)), gone) {
            (true, true) => self.without?,
            (true, false) => 10.0,
            (false, _) => 0.0,
        };
        Some(minutes * slow)
    }
}

fn task(site: u32, value: f64, brings_in: bool) -> Task {
    let work = Spread { mean: 60.0, variance: 1.0 };
    Task {
        stop: Stop::plain(SiteAt(site), Lanes::one(0), work),
        minutes: Minutes::of(work),
        must_do: false,
        value,
        stopping_share: brings_in.then_some(0.5),
        brings_in,
        progress: Progress::Planned,
    }
}

fn with(ways: &Line, limit: f64, look: impl Fn(&Outlook<Line>)) {
    let tasks = [task(1, 10.0, true), task(2, 30.0, false)];
    let (sites, windows) = (ti_vec![SiteMinutes::default(); 3], Windows::default());
    let frame = Frame {
        lanes: 1,
        airlock: SiteAt(0),
        egress: 30.0,
        ingress: 20.0,
        together: true,
        limit,
        sites: &sites,
        windows: &windows,
    };
    let variation = Variation { crew_day: 0.01, ..Variation::default() };
    let day = Day {
        frame,
        variation,
        tasks: &tasks,
        needs: &[],
        waits: &[],
        ways,
        now: 0.0,
        egress_ended: None,
        learns: true,
    };
    look(&Outlook::of(day));
}

#[test]
fn what_is_brought_in_lengthens_the_way_of_what_comes_after() {
    // By hand: 30 + 60 + 40 + 60 + 40 + 20 = 250 with the line in; 30 + 30 + 10 + 60 + 10 + 20 = 160
    // where the first stops at its stopping point and leaves it out; 130 without the first.
    let ways = Line { without: Some(40.0) };
    with(&ways, 300.0, |outlook| {
        let rest = outlook.rest().unwrap();
        assert!((rest.end_p50 - 250.0).abs() < 3.0, "{}", rest.end_p50);
        assert_eq!(
            outlook.best_drops(0.8).unwrap().choices,
            [(0, Choice::Keep), (1, Choice::Keep)]
        );
    });
    with(&ways, 200.0, |outlook| {
        let set = outlook.best_drops(0.8).unwrap();
        assert_eq!(set.choices, [(0, Choice::Shorten), (1, Choice::Keep)]);
        assert!((set.end_p50 - 160.0).abs() < 3.0, "{}", set.end_p50);
    });
    with(&ways, 145.0, |outlook| {
        let set = outlook.best_drops(0.8).unwrap();
        assert_eq!(set.choices, [(0, Choice::Drop), (1, Choice::Keep)]);
        assert!((set.end_p50 - 130.0).abs() < 3.0, "{}", set.end_p50);
    });
}

#[test]
fn a_task_whose_only_route_was_brought_in_is_not_kept_beside_what_brings_it_in() {
    with(&Line { without: None }, 400.0, |outlook| {
        assert!(outlook.rest().is_err(), "the plan itself has no route");
        let set = outlook.best_drops(0.8).unwrap();
        assert_eq!(set.choices, [(0, Choice::Shorten), (1, Choice::Keep)]);
    });
}
