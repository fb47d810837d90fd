//! The late card: its cells are states of the day, and what it keeps follows the rules.

use super::super::{
    Day, LATENESSES, Milestone, Minutes, Outlook, Progress, Task, Ways, as_planned, late_card,
    load, milestones,
};
use crate::places::SiteAt;
use crate::three_point::Spread;
use crate::timeline::{Frame, Lanes, SiteMinutes, Stop, Variation, Windows};
use typed_index_collections::{TiVec, ti_vec};

#[test]
fn a_cell_says_what_the_board_would_say_in_its_state() {
    let made = load::day(6, 2, 3);
    let tasks = made.before();
    let day = made.day(&tasks, 0.0);
    let rows = milestones(&day).unwrap();
    assert_eq!(rows.len(), 7);
    assert_eq!(rows[0], (Milestone::Egress, 30.0));
    assert!(rows.windows(2).all(|pair| pair[0].1 <= pair[1].1));
    // End of egress an hour late: nothing has begun, and that is all there is to the state.
    let cell = late_card(&day, Milestone::Egress, 60.0, 0.8).unwrap();
    let then = Day { now: 90.0, egress_ended: Some(90.0), learns: false, ..day };
    let outlook = Outlook::of(then);
    assert!((cell.at - 90.0).abs() < 1e-9);
    assert_eq!(cell.drops, outlook.best_drops(0.8));
}

/// One worksite without travel, so that every minute can be told by hand.
fn by_hand() -> (Vec<Task>, TiVec<SiteAt, SiteMinutes>) {
    let task = |minutes: f64, lanes: Lanes| {
        let work = Spread { mean: minutes, variance: 9.0 };
        Task {
            stop: Stop::plain(SiteAt(0), lanes, work),
            minutes: Minutes::of(work),
            must_do: false,
            value: 10.0,
            stopping_share: None,
            brings_in: false,
            progress: Progress::Planned,
        }
    };
    let (one, two) = (Lanes::one(0), Lanes::one(1));
    let tasks = vec![task(40.0, one), task(60.0, two), task(30.0, one.and(1)), task(20.0, one)];
    (tasks, ti_vec![SiteMinutes::default()])
}

struct OnePlace;

impl Ways for OnePlace {
    fn travel(&self, _: SiteAt, _: SiteAt, _: f64, _: f64, _: &[(f64, usize)]) -> Option<f64> {
        Some(0.0)
    }
}

#[test]
fn a_late_end_leaves_the_other_seat_where_it_was_planned_to_be() {
    // By hand: egress to 30; EV1 at the first until 70, EV2 at the second from 30 to 90, both at the
    // third from 90 to 120, EV1 at the last until 140.
    let (tasks, sites) = by_hand();
    let windows = Windows::default();
    let frame = Frame {
        lanes: 2,
        airlock: SiteAt(0),
        egress: 30.0,
        ingress: 20.0,
        together: true,
        limit: 400.0,
        sites: &sites,
        windows: &windows,
    };
    let variation = Variation { crew_day: 0.1, ..Variation::default() };
    let day = Day {
        frame,
        variation,
        tasks: &tasks,
        needs: &[],
        waits: &[],
        ways: &OnePlace,
        now: 0.0,
        egress_ended: None,
        learns: true,
    };
    let planned: Vec<(f64, f64)> = as_planned(&day).unwrap();
    let rounded: Vec<(f64, f64)> = planned.iter().map(|(a, b)| (a.round(), b.round())).collect();
    assert_eq!(rounded, [(30.0, 70.0), (30.0, 90.0), (90.0, 120.0), (120.0, 140.0)]);
    let left = |late: f64| {
        let cell = late_card(&day, Milestone::Task(0), late, 0.8).unwrap();
        let tasks: Vec<usize> = cell.drops.unwrap().choices.iter().map(|(task, _)| *task).collect();
        (cell.at.round(), tasks, cell.last)
    };
    // 15 min late the second task is still under way; 30 min late it has ended as planned.
    assert_eq!(left(15.0), (85.0, vec![1, 2, 3], false));
    assert_eq!(left(30.0), (100.0, vec![2, 3], false));
    let last = late_card(&day, Milestone::Task(3), 0.0, 0.8).unwrap();
    assert!(last.last && last.drops.unwrap().choices.is_empty());
    // Nothing varies in ingress: work at the airlock may end 20 min before the limit.
    assert_eq!(last.turn_back, Some(380.0));
}

#[test]
fn twelve_tasks_with_stopping_points_everywhere_are_tried_to_the_end() {
    for seed in 0..3 {
        let made = load::day(12, 2, seed);
        let mut tasks = made.before();
        for task in &mut tasks {
            task.stopping_share = Some(0.5);
            task.must_do = false;
        }
        for late in [0.0, 90.0] {
            let day = made.day(&tasks, 0.0);
            let cell = late_card(&day, Milestone::Egress, late, 0.8).unwrap();
            assert!(cell.drops.is_some_and(|drops| drops.proven), "seed {seed}, {late} min late");
        }
    }
}

#[test]
fn a_cell_of_a_task_is_the_best_of_all_choices_in_its_state() {
    // Every choice of what is left, each in all draws, without leaving any out.
    let made = load::day(6, 2, 5);
    let tasks = made.before();
    let day = made.day(&tasks, 0.0);
    let rows = milestones(&day).unwrap();
    let mut cut = 0;
    for (milestone, planned) in rows {
        let Milestone::Task(task) = milestone else { continue };
        for late in [0.0, 45.0, 90.0] {
            let cell = late_card(&day, milestone, late, 0.8).unwrap();
            assert!((cell.at - planned - late).abs() < 1e-6, "{task} {late}");
            let Some(found) = &cell.drops else { continue };
            let state = in_state(&day, &tasks, (task, late, cell.at));
            let then =
                Day { tasks: &state, now: cell.at, egress_ended: Some(30.0), learns: false, ..day };
            let best = best_of_all(&Outlook::of(then));
            assert!((found.value - best).abs() < 1e-9, "{task} {late}: {} {best}", found.value);
            cut += usize::from(!found.keeps_all());
        }
    }
    assert!(cut >= 3, "only {cut} cells drop or shorten anything");
}

/// The tasks as they are when one of them ends late and the others go as planned, beside it or later.
fn in_state(day: &Day<load::Line>, tasks: &[Task], (late, by, at): (usize, f64, f64)) -> Vec<Task> {
    let planned = as_planned(day).unwrap();
    let own: Vec<usize> = tasks[late].stop.lanes.each().collect();
    let mut state = tasks.to_vec();
    for (place, task) in state.iter_mut().enumerate() {
        let (start, end) = planned[place];
        let waits = place > late && own.iter().any(|lane| task.stop.lanes.has(*lane));
        let end = if place == late { end + by } else { end };
        task.progress = match (start, end) {
            _ if waits => Progress::Planned,
            (start, end) if end <= at + 1e-6 => {
                Progress::Ended { start, end, outcome: super::super::Ended::Done }
            }
            (start, _) if start < at - 1e-6 => Progress::Running { since: start },
            _ => Progress::Planned,
        };
    }
    state
}

/// The most value that any choice keeps with eight in ten.
fn best_of_all(outlook: &Outlook<load::Line>) -> f64 {
    use super::super::Choice::{Drop, Keep, Shorten};
    let day = outlook.day();
    let left: Vec<usize> = day.running().chain(day.planned()).collect();
    let mut best = 0.0_f64;
    for mut number in 0..3_usize.pow(u32::try_from(left.len()).unwrap()) {
        let mut choices = Vec::new();
        for &task in &left {
            choices.push((task, [Keep, Shorten, Drop][number % 3]));
            number /= 3;
        }
        let may = choices.iter().all(|&(task, choice)| {
            let it = &day.tasks[task];
            let running = matches!(it.progress, Progress::Running { .. });
            match choice {
                Keep => true,
                Shorten => !it.must_do && it.stopping_share.is_some(),
                Drop => !it.must_do && !running,
            }
        });
        if may {
            let set = outlook.with_choices(choices).unwrap();
            best = if set.chance >= 0.8 { best.max(set.value) } else { best };
        }
    }
    best
}

#[test]
fn later_never_keeps_more_and_a_must_do_task_is_kept_whole() {
    for seed in 0..6 {
        let made = load::day(8, 2, seed);
        let tasks = made.before();
        let day = made.day(&tasks, 0.0);
        let mut before = f64::INFINITY;
        for late in LATENESSES {
            let cell = late_card(&day, Milestone::Egress, late, 0.8).unwrap();
            let kept = cell.drops.as_ref().map_or(0.0, |drops| drops.value);
            assert!(kept <= before + 1e-9, "seed {seed}, {late} min: {kept} after {before}");
            before = kept;
            let Some(drops) = &cell.drops else { continue };
            assert!(drops.proven && drops.chance >= 0.8);
            let touched = drops.dropped().chain(drops.shortened());
            assert!(touched.into_iter().all(|task| !tasks[task].must_do));
        }
    }
}
