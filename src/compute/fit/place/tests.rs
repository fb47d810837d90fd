//! The search passes over places that cannot be the best; a plain one times them all.

use super::*;
use crate::fit::Constants;
use crate::fit::load::{self, Size};
use crate::timeline::{Lanes, MOST_LANES};

/// Every place is timed whole, and the best by `beats` is taken.
fn plain_search(search: &mut Search, task: &Task) -> Option<Score> {
    let mut best: Option<Score> = None;
    for position in (task.candidate.earliest..=task.candidate.latest).rev() {
        for lanes in choices(task.plan.lanes, task.candidate) {
            let stop = task.stop(&Score::untold(position, lanes));
            let (state, outside) = search.course.run(task, position, &stop).unwrap();
            let behind = Behind { state, outside };
            let (score, _) = task.scored(Score::untold(position, lanes), behind).unwrap();
            if best.as_ref().is_none_or(|best| score.beats(best)) {
                best = Some(score);
            }
        }
    }
    best
}

#[test]
fn the_search_finds_what_a_plain_one_finds() {
    let constants = Constants::default();
    let mut compared = 0;
    for seed in 0..12 {
        let size = Size { open_tasks: 30, excursions: 5, slots_each: 12, sites: 20 };
        let snapshot = load::snapshot(&size, seed);
        let ready = Ready::new(&snapshot, &constants);
        let mut search = Search::default();
        for plan in ready.plans.iter().filter(|plan| plan.unknown.is_empty()) {
            let base = Base::of(&ready, plan).unwrap();
            if base.tied || base.passed_on > 0 {
                continue;
            }
            for task in snapshot.tasks.keys().take(size.open_tasks) {
                let given = &snapshot.tasks[task];
                let work = given.work.unwrap().part(1.0);
                let stop = ready.stop_at(
                    (plan.excursion, task, None),
                    given.site.unwrap(),
                    Lanes::default(),
                    work,
                );
                let candidate = Candidate {
                    task,
                    apt: Lanes::up_to(MOST_LANES),
                    stop,
                    begin: None,
                    may_wait: false,
                    seats: given.seats.unwrap(),
                    lanes: None,
                    earliest: 0,
                    latest: plan.slots.len(),
                    needs: Vec::new(),
                    needed_by: Vec::new(),
                    brings_in: false,
                    tools: Vec::new(),
                };
                let found = search.best(&ready, plan, &base, &candidate).ok().unwrap();
                let frame = plan.frame(&ready);
                let routes = &*ready.aids.network(plan.sequence.first);
                let (ready, base, candidate) = (&ready, &base, &candidate);
                let task = Task { ready, plan, base, candidate, frame, routes, tools: false };
                let plain = plain_search(&mut search, &task).unwrap();
                assert_eq!((found.position, found.stop.lanes), (plain.position, plain.lanes));
                assert!((found.place.excursion_end - plain.end).abs() < 1e-9);
                compared += 1;
            }
        }
    }
    assert!(compared > 1_000, "{compared}");
}
