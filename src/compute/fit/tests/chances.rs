//! The matrix's chance to end inside the limit against plain sampling of the plan with the task
//! set in its place: windows, the arm, two-seat tasks and tasks that need others among them.

use super::super::load::{self, Size};
use super::super::{Counting, Snapshot, excursion_as_planned, excursion_sampled, matrix};
use super::{Constants, Slot};
use crate::places::TaskAt;
use crate::timeline::Draws;
use domain::words::LightNeed;

/// The made-up load, with the tasks of an excursion leaning on one another more often.
fn record(seed: u64) -> Snapshot {
    let size = Size { open_tasks: 24, excursions: 4, slots_each: 7, sites: 12 };
    let mut record = load::snapshot(&size, seed);
    for excursion in record.excursions.keys() {
        // Where some of the places fit and others do not.
        let planned =
            excursion_as_planned(&record, excursion, Counting::Set, &Constants::default());
        let later = [20.0, 35.0, 50.0, 65.0][usize::from(excursion)];
        record.excursions[excursion].limit = planned.timing.map(|timing| timing.end + later);
        let tasks: Vec<TaskAt> =
            record.excursions[excursion].slots.iter().map(|s| s.task).collect();
        for (at, pair) in tasks.windows(2).enumerate() {
            record.tasks[pair[1]].needs.clear();
            if at % 3 == 1 {
                record.tasks[pair[1]].needs = vec![pair[0]];
            }
        }
    }
    for (at, task) in record.tasks.iter_mut().take(24).enumerate() {
        task.needs.clear();
        if at % 6 == 5 {
            task.lighting = Some(LightNeed::NightOnly);
        }
    }
    record
}

#[test]
fn the_chance_of_a_cell_agrees_with_sampling_within_two_points() {
    let constants = Constants::default();
    let (mut compared, mut doubtful) = (0, 0);
    let mut apart: Vec<f64> = Vec::new();
    let draws = Draws { count: 10_000, seed: 7 };
    for seed in 0..4 {
        let record = record(seed);
        for excursion in record.excursions.keys() {
            let counting = Counting::Set;
            let timed =
                excursion_as_planned(&record, excursion, counting, &constants).timing.unwrap();
            let sampled =
                excursion_sampled(&record, excursion, counting, &constants, draws).unwrap();
            let limit = record.excursions[excursion].limit.unwrap();
            let share = sampled.share_by(limit).unwrap();
            let points = (share - timed.chance.unwrap()).abs() * 100.0;
            assert!(points < 2.0, "{points:.2} points apart, the plan as it stands");
            let p80 = sampled.share_by(timed.end_p80).unwrap();
            assert!((p80 - 0.8).abs() < 0.02, "{p80}");
        }
        let all = matrix(&record, &constants);
        for (row, &task) in all.tasks.iter().enumerate() {
            for excursion in record.excursions.keys() {
                let cell = *all.cell(row, excursion);
                let Some(place) = cell.place else { continue };
                let mut with = record.clone();
                let seats = place.lanes.each().map(|lane| [1, 2][lane]).collect();
                let approach = cell.approach;
                let slot = Slot { task, set: true, seats, approach, ..Slot::default() };
                with.excursions[excursion].slots.insert(place.before_slot, slot);
                let sampled =
                    excursion_sampled(&with, excursion, Counting::Set, &constants, draws).unwrap();
                let share = sampled.share_by(record.excursions[excursion].limit.unwrap()).unwrap();
                apart.push((share - place.chance).abs() * 100.0);
                compared += 1;
                doubtful += usize::from((0.02..0.98).contains(&share));
            }
        }
    }
    apart.sort_by(f64::total_cmp);
    let at = |part: usize| apart[(apart.len() - 1) * part / 100];
    println!(
        "{compared} cells, {doubtful} in doubt: points apart, median {:.2}, P90 {:.2}, P99 {:.2}, most {:.2}",
        at(50),
        at(90),
        at(99),
        at(100),
    );
    assert!(compared > 300 && doubtful > 150);
    assert!(at(100) < 2.0, "{:.2} points apart", at(100));
}
