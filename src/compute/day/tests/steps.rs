//! What lies between the tasks of a seat, by hand and on made-up days.

use super::super::{Day, Ended, Minutes, Outlook, Progress, Task, Ways, load};
use crate::places::SiteAt;
use crate::three_point::Spread;
use crate::timeline::{Activity, Frame, Lanes, Segment, SiteMinutes, Stop, Variation, Windows};
use typed_index_collections::ti_vec;

/// Every way takes ten minutes.
struct Ten;

impl Ways for Ten {
    fn travel(
        &self,
        from: SiteAt,
        to: SiteAt,
        _: f64,
        slow: f64,
        _: &[(f64, usize)],
    ) -> Option<f64> {
        Some(if from == to { 0.0 } else { 10.0 * slow })
    }
}

fn task(site: u32, lanes: Lanes, progress: Progress) -> Task {
    let work = Spread { mean: 60.0, variance: 0.001 };
    Task {
        stop: Stop::plain(SiteAt(site), lanes, work),
        minutes: Minutes::of(work),
        must_do: false,
        value: 1.0,
        stopping_share: None,
        brings_in: false,
        progress,
    }
}

/// A step with its minutes, rounded.
fn told(step: &Segment) -> (usize, i64, i64, Activity) {
    #[expect(clippy::cast_possible_truncation, reason = "minutes of a day are few")]
    let whole = |minutes: f64| minutes.round() as i64;
    (step.lane, whole(step.from), whole(step.until), step.activity)
}

#[test]
fn a_seat_that_was_early_waits_and_the_way_home_comes_last() {
    use Activity::{Cleanup, Egress, Ingress, Setup, Travel, Wait};

    // By hand. EV1: egress 30, then 10 of travel and 4 of setup, but it was pressed at 0:42: two minutes of
    // setup are cut. Done at 1:20; 3 of cleanup, 10 of travel, 4 of setup, ready at 1:37. EV2, ready
    // at 0:44 and at work from 0:50 to 1:50, is ready there 17 later: both begin at 2:07 and end at 3:07. Back 13 later, at 3:20,
    // ingress until 3:40. Common practice.
    let (one, two) = (Lanes::one(0), Lanes::one(1));
    let tasks = [
        task(1, one, Progress::Ended { start: 42.0, end: 80.0, outcome: Ended::Done }),
        task(2, two, Progress::Running { since: 50.0 }),
        task(3, one.and(1), Progress::Planned),
    ];
    let sites = ti_vec![SiteMinutes { setup: 4.0, cleanup: 3.0 }; 4];
    let windows = Windows::default();
    let day = Day {
        frame: Frame {
            lanes: 2,
            airlock: SiteAt(0),
            egress: 30.0,
            ingress: 20.0,
            together: true,
            limit: 420.0,
            sites: &sites,
            windows: &windows,
        },
        variation: Variation::default(),
        tasks: &tasks,
        needs: &[],
        waits: &[],
        ways: &Ten,
        now: 90.0,
        egress_ended: None,
        learns: true,
    };
    let outlook = Outlook::of(day);
    let rest = outlook.rest().unwrap();
    let steps: Vec<_> = outlook.steps(&rest).iter().map(told).collect();
    assert_eq!(
        steps,
        [
            (0, 0, 30, Egress),
            (0, 30, 40, Travel { from: SiteAt(0), to: SiteAt(1) }),
            (0, 40, 42, Setup { site: SiteAt(1) }),
            (0, 80, 83, Cleanup { site: SiteAt(1) }),
            (0, 83, 93, Travel { from: SiteAt(1), to: SiteAt(3) }),
            (0, 93, 97, Setup { site: SiteAt(3) }),
            (0, 97, 127, Wait),
            (0, 187, 190, Cleanup { site: SiteAt(3) }),
            (0, 190, 200, Travel { from: SiteAt(3), to: SiteAt(0) }),
            (0, 200, 220, Ingress),
            (1, 0, 30, Egress),
            (1, 30, 40, Travel { from: SiteAt(0), to: SiteAt(2) }),
            (1, 40, 44, Setup { site: SiteAt(2) }),
            (1, 44, 50, Wait),
            (1, 110, 113, Cleanup { site: SiteAt(2) }),
            (1, 113, 123, Travel { from: SiteAt(2), to: SiteAt(3) }),
            (1, 123, 127, Setup { site: SiteAt(3) }),
            (1, 187, 190, Cleanup { site: SiteAt(3) }),
            (1, 190, 200, Travel { from: SiteAt(3), to: SiteAt(0) }),
            (1, 200, 220, Ingress),
        ]
    );
}

#[test]
fn steps_lie_between_the_tasks_of_their_seat_and_never_on_each_other() {
    for seed in 0..20 {
        let made = load::day(8, 2, seed);
        let outlook = made.outlook(150.0);
        let rest = outlook.rest().unwrap();
        let steps = outlook.steps(&rest);
        for lane in 0..2 {
            let mut all: Vec<(f64, f64)> = steps
                .iter()
                .filter(|step| step.lane == lane)
                .map(|step| (step.from, step.until))
                .collect();
            for (at, task) in outlook.day().tasks.iter().enumerate() {
                let left = rest.tasks.iter().find(|left| left.task == at);
                let work = match (task.progress, left) {
                    (Progress::Ended { start, end, .. }, _) => (start, end),
                    (Progress::Running { since }, Some(left)) => (since, left.end_p50),
                    (Progress::Planned, Some(left)) => (left.start_p50, left.end_p50),
                    _ => continue,
                };
                if task.stop.lanes.has(lane) {
                    all.push(work);
                }
            }
            all.sort_by(|a, b| a.0.total_cmp(&b.0));
            for pair in all.windows(2) {
                let gap = pair[1].0 - pair[0].1;
                // Medians of what follows each other do not add up to the minute.
                assert!((-3.0..=2.0).contains(&gap), "seed {seed}, lane {lane}: {pair:?}");
            }
        }
    }
}
