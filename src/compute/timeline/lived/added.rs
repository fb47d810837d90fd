//! The chance of a plan with one more task in it.

use super::Lived;
use super::draws::{DRAWS, Drawn, ROUNDING, less, lower, more, narrow, raise, small, sum};
use super::law::Law;
use super::stretches::stretches;
use crate::compute::timeline::{MOST_LANES, Stop, Windows};

/// A task put into a plan: between which stops, and the minutes on the way to it and on from it.
#[derive(Debug, Clone, Copy)]
pub struct Added<'a> {
    pub position: usize,
    /// With its lanes.
    pub stop: &'a Stop,
    pub ways_there: [f64; MOST_LANES],
    /// The next stop of each of its lanes, the count of stops where there is none.
    pub next: [usize; MOST_LANES],
    pub ways_on: [f64; MOST_LANES],
    pub next_arm: usize,
    pub needs: &'a [usize],
    pub needed_by: &'a [usize],
}

impl Lived {
    /// When the added work may begin.
    fn ready(&self, added: &Added) -> Drawn {
        let mut ready = [0.0; DRAWS];
        for lane in added.stop.lanes.each() {
            let before = &self.ends[self.before[added.position].lanes[lane]];
            raise(&mut ready, before, added.ways_there[lane]);
        }
        for need in added.needs {
            raise(&mut ready, &self.ends[*need], 0.0);
        }
        if added.stop.arm {
            raise(&mut ready, &self.ends[self.before[added.position].arm], 0.0);
        }
        ready
    }

    /// By when it has to end.
    fn due(&self, added: &Added) -> Drawn {
        let mut due = [f32::INFINITY; DRAWS];
        for lane in added.stop.lanes.each() {
            lower(&mut due, &self.latest[added.next[lane]], added.ways_on[lane]);
        }
        for then in added.needed_by {
            lower(&mut due, &self.latest[*then], 0.0);
        }
        if added.stop.arm && added.next_arm + 1 < self.latest.len() {
            lower(&mut due, &self.latest[added.next_arm], 0.0);
        }
        due
    }

    /// The bounds of `ready` and of `due`, from what they are made of.
    fn at_most(&self, added: &Added) -> ((f32, f32), (f32, f32)) {
        let ranges = &self.ranges;
        let later = |to: (f32, f32), from: (f32, f32), by: f32| {
            (more(to.0, from.0 + by), more(to.1, from.1 + by))
        };
        let earlier = |to: (f32, f32), from: (f32, f32), by: f32| {
            (less(to.0, from.0 - by), less(to.1, from.1 - by))
        };
        let (mut ready, mut due) = ((0.0, 0.0), (f32::INFINITY, f32::INFINITY));
        let before = self.before[added.position];
        for lane in added.stop.lanes.each() {
            let before = ranges.ends[before.lanes[lane]];
            ready = later(ready, before, narrow(added.ways_there[lane]));
            due = earlier(due, ranges.latest[added.next[lane]], narrow(added.ways_on[lane]));
        }
        due = added.needed_by.iter().fold(due, |due, by| earlier(due, ranges.latest[*by], 0.0));
        if added.stop.arm {
            ready = later(ready, ranges.ends[before.arm], 0.0);
        }
        ready = added.needs.iter().fold(ready, |ready, need| later(ready, ranges.ends[*need], 0.0));
        (ready, due)
    }

    /// The chance that the plan with the task added ends by its limit; and the chances that the added
    /// work, which begins no earlier than `opens`, is done by each of some minutes.
    pub fn chances(
        &self,
        windows: &Windows,
        added: &Added,
        (opens, closes): (f64, [Option<f64>; 2]),
    ) -> (f64, [f64; 2]) {
        let law = Law::of(added.stop.work);
        let range = law.range(self.ranges.log_days);
        let (ready, due) = self.at_most(added);
        let too_late = due.1 - ready.0 <= range.0;
        let Some(stretches) = stretches(windows, added.stop.arm, added.stop.light) else {
            let chance = match due.0 - ready.1 {
                _ if too_late => 0.0,
                left if left >= range.1 => 1.0,
                _ => self.at_once(added, law) / f64::from(small(DRAWS)),
            };
            return (chance, [0.0; 2]);
        };
        let ready_in_each = self.ready(added);
        let chance = if too_late {
            0.0
        } else {
            let near = stretches.iter().filter(|(_, until)| until - ready.0 > range.0);
            let bounds = (&ready_in_each, &self.due(added));
            self.in_stretches(near, (ready.1, due.1), bounds, law, range.1)
                / f64::from(small(DRAWS))
        };
        let opens = narrow(opens);
        let inside = closes.map(|closes| {
            let closes = closes.map_or(f32::NEG_INFINITY, narrow) + ROUNDING;
            if closes - more(opens, ready.1) >= range.1 {
                return 1.0;
            }
            if closes - more(opens, ready.0) <= range.0 {
                return 0.0;
            }
            // A window's gate asks whether it is likely, not how likely to a point.
            let mut chance = [0.0; DRAWS / 2];
            for draw in 0..DRAWS / 2 {
                let left = closes - more(opens, ready_in_each[draw]);
                chance[draw] = law.within(left, self.log_days[draw]);
            }
            sum(&chance) / f64::from(small(DRAWS / 2))
        });
        (chance, inside)
    }

    /// In how many draws work that waits for nothing ends in time.
    fn at_once(&self, added: &Added, law: Law) -> f64 {
        let mut chance = [0.0; DRAWS];
        let lane = added.stop.lanes.first();
        if added.stop.lanes.count() == 1 && added.needs.is_empty() && added.needed_by.is_empty() {
            // Most tasks: one lane, and nothing else that it waits for or that waits for it.
            let done = &self.ends[self.before[added.position].lanes[lane]];
            let latest = &self.latest[added.next[lane]];
            let ways = narrow(added.ways_there[lane] + added.ways_on[lane]);
            for draw in 0..DRAWS {
                let left = latest[draw] - done[draw] - ways;
                chance[draw] = law.within(left, self.log_days[draw]);
            }
        } else {
            let (ready, due) = (self.ready(added), self.due(added));
            for draw in 0..DRAWS {
                chance[draw] = law.within(due[draw] - ready[draw], self.log_days[draw]);
            }
        }
        sum(&chance)
    }

    /// In how many draws work that waits for a stretch ends in time. Nothing is ready after
    /// `latest_ready` or may end after `last`.
    fn in_stretches<'s>(
        &self,
        stretches: impl Iterator<Item = &'s (f32, f32)>,
        (latest_ready, last): (f32, f32),
        (ready, due): (&Drawn, &Drawn),
        law: Law,
        long: f32,
    ) -> f64 {
        let days = &self.log_days;
        let mut chance = [0.0_f32; DRAWS];
        // The longest work that has found its stretch so far, and how likely it is no longer.
        let (mut room, mut gone) = ([0.0_f32; DRAWS], [0.0_f32; DRAWS]);
        let mut some_gone = false;
        let mut all_find_one = false;
        for &(from, until) in stretches {
            all_find_one |= until - more(from, latest_ready) >= long;
            if from >= last {
                // Work that finds its stretch only here is late.
                for room in &mut room {
                    *room = more(*room, until - from);
                }
                continue;
            }
            if some_gone {
                for draw in 0..DRAWS {
                    gone[draw] = law.within(room[draw], days[draw]);
                }
            }
            some_gone = true;
            for draw in 0..DRAWS {
                let start = more(from, ready[draw]);
                let fits = until - start;
                let in_time = law.within(less(fits, due[draw] - start), days[draw]);
                chance[draw] += more(in_time - gone[draw], 0.0);
                room[draw] = more(room[draw], fits);
            }
        }
        if !all_find_one {
            // Work too long for any stretch begins when the lanes are there, as the timeline has it.
            for draw in 0..DRAWS {
                let left = law.within(due[draw] - ready[draw], days[draw]);
                chance[draw] += more(left - law.within(room[draw], days[draw]), 0.0);
            }
        }
        sum(&chance)
    }
}
