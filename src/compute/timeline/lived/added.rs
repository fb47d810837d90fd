//! The chance of a plan with one more task in it, in the draws of one helping.

use super::draws::{Drawn, HELPING, ROUNDING, less, lower, mean, more, narrow, raise};
use super::forward::Before;
use super::helping::Helping;
use super::law::Law;
use super::stretches::Span;
use super::wide::Wide;
use crate::compute::timeline::{MOST_LANES, Stop};

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

/// An added task with what is the same in every helping.
pub(super) struct Question<'a> {
    pub added: &'a Added<'a>,
    pub before: &'a Before,
    /// The stretches in which its work lies; `None`: any time will do.
    pub stretches: Option<&'a [Span]>,
    pub law: Law,
}

/// The chance that the plan with the task added ends by its limit.
pub(super) struct InTime<'a>(pub &'a Question<'a>, pub &'a Helping);

impl Wide for InTime<'_> {
    type Output = f64;

    #[inline(always)]
    fn call(self) -> f64 {
        let Self(question, drawn) = self;
        let range = question.law.range(drawn.ranges.log_days);
        let (ready, due) = question.at_most(drawn);
        if due.1 - ready.0 <= range.0 {
            return 0.0;
        }
        let Some(stretches) = question.stretches else {
            return if due.0 - ready.1 >= range.1 { 1.0 } else { question.at_once(drawn) };
        };
        let near = stretches.iter().filter(|(_, until)| until - ready.0 > range.0);
        question.in_stretches(near, (ready.1, due.1), drawn, range.1)
    }
}

/// The chances that the added work, which begins no earlier than `opens`, is done by each of some
/// minutes.
pub(super) struct Inside<'a> {
    pub question: &'a Question<'a>,
    pub drawn: &'a Helping,
    pub opens: f64,
    pub closes: [Option<f64>; 2],
}

impl Wide for Inside<'_> {
    type Output = [f64; 2];

    #[inline(always)]
    fn call(self) -> [f64; 2] {
        let Self { question, drawn, opens, closes } = self;
        let law = question.law;
        let range = law.range(drawn.ranges.log_days);
        let ((least, most), _) = question.at_most(drawn);
        let opens = narrow(opens);
        let mut ready = None;
        let mut inside = [0.0; 2];
        for (inside, closes) in inside.iter_mut().zip(closes) {
            let Some(closes) = closes.map(|closes| narrow(closes) + ROUNDING) else { continue };
            if closes - more(opens, most) >= range.1 {
                *inside = 1.0;
            } else if closes - more(opens, least) > range.0 {
                let ready = ready.get_or_insert_with(|| question.ready(drawn));
                let mut chance = [0.0; HELPING];
                for draw in 0..HELPING {
                    let left = closes - more(opens, ready[draw]);
                    chance[draw] = law.within(left, drawn.log_days[draw]);
                }
                *inside = mean(&chance);
            }
        }
        inside
    }
}

impl Question<'_> {
    /// When the added work may begin.
    #[inline(always)]
    fn ready(&self, drawn: &Helping) -> Drawn {
        let Self { added, before, .. } = self;
        let mut ready = [0.0; HELPING];
        for lane in added.stop.lanes.each() {
            raise(&mut ready, &drawn.ends[before.lanes[lane]], added.ways_there[lane]);
        }
        for need in added.needs {
            raise(&mut ready, &drawn.ends[*need], 0.0);
        }
        if added.stop.arm {
            raise(&mut ready, &drawn.ends[before.arm], 0.0);
        }
        ready
    }

    /// By when it has to end.
    #[inline(always)]
    fn due(&self, drawn: &Helping) -> Drawn {
        let added = self.added;
        let mut due = [f32::INFINITY; HELPING];
        for lane in added.stop.lanes.each() {
            lower(&mut due, &drawn.latest[added.next[lane]], added.ways_on[lane]);
        }
        for then in added.needed_by {
            lower(&mut due, &drawn.latest[*then], 0.0);
        }
        if added.stop.arm && added.next_arm + 1 < drawn.latest.len() {
            lower(&mut due, &drawn.latest[added.next_arm], 0.0);
        }
        due
    }

    /// The bounds of `ready` and of `due`, from what they are made of.
    fn at_most(&self, drawn: &Helping) -> ((f32, f32), (f32, f32)) {
        let (added, ranges) = (self.added, &drawn.ranges);
        let later = |to: (f32, f32), from: (f32, f32), by: f32| {
            (more(to.0, from.0 + by), more(to.1, from.1 + by))
        };
        let earlier = |to: (f32, f32), from: (f32, f32), by: f32| {
            (less(to.0, from.0 - by), less(to.1, from.1 - by))
        };
        let (mut ready, mut due) = ((0.0, 0.0), (f32::INFINITY, f32::INFINITY));
        for lane in added.stop.lanes.each() {
            let before = ranges.ends[self.before.lanes[lane]];
            ready = later(ready, before, narrow(added.ways_there[lane]));
            due = earlier(due, ranges.latest[added.next[lane]], narrow(added.ways_on[lane]));
        }
        due = added.needed_by.iter().fold(due, |due, by| earlier(due, ranges.latest[*by], 0.0));
        if added.stop.arm {
            ready = later(ready, ranges.ends[self.before.arm], 0.0);
        }
        ready = added.needs.iter().fold(ready, |ready, need| later(ready, ranges.ends[*need], 0.0));
        (ready, due)
    }

    /// How likely work that waits for nothing ends in time.
    #[inline(always)]
    fn at_once(&self, drawn: &Helping) -> f64 {
        let Self { added, law, .. } = self;
        let mut chance = [0.0; HELPING];
        let lane = added.stop.lanes.first();
        if added.stop.lanes.count() == 1 && added.needs.is_empty() && added.needed_by.is_empty() {
            // Most tasks: one lane, and nothing else that it waits for or that waits for it.
            let done = &drawn.ends[self.before.lanes[lane]];
            let latest = &drawn.latest[added.next[lane]];
            let ways = narrow(added.ways_there[lane] + added.ways_on[lane]);
            for draw in 0..HELPING {
                let left = latest[draw] - done[draw] - ways;
                chance[draw] = law.within(left, drawn.log_days[draw]);
            }
        } else {
            let (ready, due) = (self.ready(drawn), self.due(drawn));
            for draw in 0..HELPING {
                chance[draw] = law.within(due[draw] - ready[draw], drawn.log_days[draw]);
            }
        }
        mean(&chance)
    }

    /// How likely work that waits for a stretch ends in time. Nothing is ready after
    /// `latest_ready` or may end after `last`; work is at most `long`.
    #[inline(always)]
    fn in_stretches<'s>(
        &self,
        stretches: impl Iterator<Item = &'s Span>,
        (latest_ready, last): (f32, f32),
        drawn: &Helping,
        long: f32,
    ) -> f64 {
        let (law, days) = (self.law, &drawn.log_days);
        let (ready, due) = (self.ready(drawn), self.due(drawn));
        let mut chance = [0.0_f32; HELPING];
        // The longest work that has found its stretch so far, and how likely it is no longer.
        let (mut room, mut gone) = ([0.0_f32; HELPING], [0.0_f32; HELPING]);
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
                for draw in 0..HELPING {
                    gone[draw] = law.within(room[draw], days[draw]);
                }
            }
            some_gone = true;
            for draw in 0..HELPING {
                let start = more(from, ready[draw]);
                let fits = until - start;
                let in_time = law.within(less(fits, due[draw] - start), days[draw]);
                chance[draw] += more(in_time - gone[draw], 0.0);
                room[draw] = more(room[draw], fits);
            }
        }
        if !all_find_one {
            // Work too long for any stretch begins when the lanes are there, as the timeline has it.
            for draw in 0..HELPING {
                let left = law.within(due[draw] - ready[draw], days[draw]);
                chance[draw] += more(left - law.within(room[draw], days[draw]), 0.0);
            }
        }
        mean(&chance)
    }
}
