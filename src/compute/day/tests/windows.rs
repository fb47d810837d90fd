//! When a task ends if its window is held open, by hand.

use super::super::{Day, Held, Minutes, Outlook, Progress, Task, load};
use crate::lighting::Stretch;
use crate::places::SiteAt;
use crate::three_point::Spread;
use crate::timeline::{Frame, Lanes, SiteMinutes, Stop, Variation, Windows};
use typed_index_collections::ti_vec;

/// One seat at a worksite eight minutes away, an hour of work that waits for its window.
fn with(stop: impl Fn(Stop) -> Stop, arm: &[(f64, f64)], look: impl Fn(&Outlook<load::Line>)) {
    let work = Spread { mean: 60.0, variance: 0.001 };
    let tasks = [Task {
        stop: stop(Stop::plain(SiteAt(2), Lanes::one(0), work)),
        minutes: Minutes::of(work),
        must_do: false,
        value: 1.0,
        stopping_share: None,
        brings_in: false,
        progress: Progress::Planned,
    }];
    let sites = ti_vec![SiteMinutes { setup: 2.0, cleanup: 2.0 }; 3];
    let arm = arm.iter().map(|&(from, until)| Stretch { from, until }).collect();
    let windows = Windows { arm, ..Windows::default() };
    let day = Day {
        frame: Frame {
            lanes: 1,
            airlock: SiteAt(0),
            egress: 30.0,
            ingress: 20.0,
            together: true,
            limit: 300.0,
            sites: &sites,
            windows: &windows,
        },
        variation: Variation::default(),
        tasks: &tasks,
        needs: &[],
        waits: &[],
        ways: &load::Line,
        now: 0.0,
        egress_ended: None,
        learns: true,
    };
    look(&Outlook::of(day));
}

#[test]
fn a_task_that_misses_its_inhibits_ends_when_they_are_held_for_it() {
    // By hand: ready at 30 + 8 + 2 = 0:40, so it ends at 1:40, ten minutes after they are given back.
    // Common practice.
    with(
        |stop| Stop { until: 90.0, ..stop },
        &[],
        |outlook| {
            assert!(outlook.rest().unwrap().tasks[0].missed > 0.99);
            let (p50, p80) = outlook.end_if_held(0, Held::Inhibits).unwrap();
            assert!((p50 - 100.0).abs() < 0.5 && (p80 - 100.0).abs() < 0.5, "{p50} {p80}");
        },
    );
}

#[test]
fn the_arm_is_held_in_the_window_that_is_open_then_or_opens_next() {
    // The first window is over when it is ready; the second opens at 0:50 and is too short by ten.
    with(
        |stop| Stop { arm: true, ..stop },
        &[(10.0, 35.0), (50.0, 100.0)],
        |outlook| {
            assert_eq!(outlook.arm_window(0), Some(1));
            let (p50, _) = outlook.end_if_held(0, Held::Arm).unwrap();
            assert!((p50 - 110.0).abs() < 0.5, "{p50}");
        },
    );
    with(
        |stop| Stop { arm: true, ..stop },
        &[(10.0, 35.0)],
        |outlook| {
            let (p50, _) = outlook.end_if_held(0, Held::Arm).unwrap();
            assert!((p50 - 100.0).abs() < 0.5, "{p50}");
        },
    );
}
