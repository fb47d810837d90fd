//! What the crew of a practice run calls down: how long each task takes follows from the run's seed,
//! and what is begun when from the presses, as on a day.

use compute::day::{Progress, Task};
use compute::normal;
use domain::day;
use domain::units::Pet;

use super::Day;
use super::answers::{real, whole};

/// A sentence from the crew, and the press that answers it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Call {
    pub what: Called,
    pub pet: Pet,
}

/// What the crew calls; a task by its place among the set slots.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Called {
    Ended(usize),
    Ready(usize),
    Inside,
}

/// The calls that were made by now and that nobody has pressed for; `home` has the minutes from the
/// end of each task until its seats are inside.
pub fn of(
    there: &Day,
    tasks: &[Task],
    planned: &[(f64, f64)],
    (home, limit): (&[f64], f64),
) -> Vec<Call> {
    let (Some(run), Some(now)) = (&there.run, there.pet) else { return Vec::new() };
    if there.state.inside.is_some() {
        return Vec::new();
    }
    let mut calls = Vec::new();
    for (at, task) in tasks.iter().enumerate() {
        match there.tasks[at].now.progress {
            day::Progress::Running { since } => {
                let end = whole(real(since.0) + minutes(run.seed, number(there, at), task));
                if end <= now {
                    calls.push(Call { what: Called::Ended(at), pet: end });
                }
            }
            day::Progress::Planned => {
                if let Some(start) = ready(tasks, planned, (at, number(there, at)), run.seed)
                    && start <= now
                {
                    calls.push(Call { what: Called::Ready(at), pet: start });
                }
            }
            day::Progress::Ended { .. } | day::Progress::Dropped => {}
        }
    }
    let inside = inside(tasks, home, limit, run.seed).filter(|inside| *inside <= now);
    if let Some(pet) = inside {
        // Nobody is outside any more to start a task.
        calls = vec![Call { what: Called::Inside, pet }];
    }
    calls.sort_by_key(|call| call.pet);
    calls
}

/// When the crew is inside: the way home from the last work of each seat, some longer, some shorter.
/// A crew that has work left goes home in time for its limit. None while a seat is at work.
fn inside(tasks: &[Task], home: &[f64], limit: f64, seed: i64) -> Option<Pet> {
    let is = |progress: fn(&Progress) -> bool| tasks.iter().any(|task| progress(&task.progress));
    if is(|progress| matches!(progress, Progress::Running { .. })) {
        return None;
    }
    let waits = is(|progress| matches!(progress, Progress::Planned));
    let ends = tasks.iter().zip(home).filter_map(|(task, home)| match task.progress {
        Progress::Ended { end, .. } if waits => Some((end.max(limit - home), *home)),
        Progress::Ended { end, .. } => Some((end, *home)),
        Progress::Planned | Progress::Running { .. } | Progress::Dropped => None,
    });
    let longer = (0.1 * score(seed, 200)).exp();
    let inside = ends.map(|(end, home)| end + home * longer).max_by(f64::total_cmp)?;
    Some(whole(inside))
}

/// When the next task of its seats starts: so long after their last task ended as was planned, some
/// longer, some shorter. None while one of its seats is at work, or has a task before it.
fn ready(
    tasks: &[Task],
    planned: &[(f64, f64)],
    (at, number): (usize, usize),
    seed: i64,
) -> Option<Pet> {
    let own = tasks[at].stop.lanes;
    let mut start = 0.0_f64;
    for lane in own.each() {
        let mut last: Option<(usize, f64)> = None;
        for (other, task) in tasks.iter().enumerate().filter(|(_, t)| t.stop.lanes.has(lane)) {
            match task.progress {
                Progress::Running { .. } => return None,
                Progress::Planned if other < at => return None,
                Progress::Ended { end, .. } => {
                    if last.is_none_or(|(_, before)| end > before) {
                        last = Some((other, end));
                    }
                }
                Progress::Planned | Progress::Dropped => {}
            }
        }
        let gap = match last {
            Some((before, _)) => planned.get(at)?.0 - planned.get(before)?.1,
            None => planned.get(at)?.0,
        };
        let longer = (0.15 * score(seed, number + 100)).exp();
        start = start.max(last.map_or(0.0, |(_, end)| end) + gap.max(0.0) * longer);
    }
    Some(whole(start))
}

/// The number of a task in the draws of a run: added work leaves those of the set tasks as they are.
fn number(there: &Day, at: usize) -> usize {
    let before = there.tasks[..at].iter();
    if there.tasks[at].is_added() {
        return ADDED + before.filter(|on| on.is_added()).count();
    }
    before.filter(|on| !on.is_added()).count()
}

/// The first number of added work.
const ADDED: usize = 300;

/// The minutes that a task takes in this run.
fn minutes(seed: i64, at: usize, task: &Task) -> f64 {
    let day = 0.12 * score(seed, 99);
    let own = task.minutes.quantile(normal::cdf(score(seed, at)));
    own * day.exp()
}

/// A standard normal score that follows from a seed and a place.
fn score(seed: i64, place: usize) -> f64 {
    // Source: Steele, Lea, Flood, Fast splittable pseudorandom number generators, 2014 (SplitMix64).
    let mut at = seed.cast_unsigned().wrapping_add(
        0x9e37_79b9_7f4a_7c15_u64.wrapping_mul(u64::try_from(place).unwrap_or(0).wrapping_add(1)),
    );
    at = (at ^ (at >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    at = (at ^ (at >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    at ^= at >> 31;
    let part = f64::from(u32::try_from(at >> 32).unwrap_or(0)) / f64::from(u32::MAX);
    normal::quantile(part.clamp(1e-6, 1.0 - 1e-6))
}
