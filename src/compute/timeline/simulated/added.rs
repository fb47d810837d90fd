//! The chance of a plan with one more task in it, in the draws of one batch.

use super::batch::Batch;
use super::draws::{
    BATCH, Drawn, ROUNDING, less, lower, lower_by, mean, more, narrow, raise, raise_by,
};
use super::forward::Before;
use super::law::Law;
use super::stretches::{Open, Span, work_ends};
use super::wide::Wide;
use crate::timeline::{Gap, MOST_LANES, Stop};

/// A task put into a plan: between which stops, and the minutes on the way to it and on from it.
#[derive(Debug, Clone, Copy)]
pub struct Added<'a> {
    pub position: usize,
    /// With its lanes.
    pub stop: &'a Stop,
    pub ways_there: [Gap; MOST_LANES],
    /// The next stop of each of its lanes, the count of stops where there is none.
    pub next: [usize; MOST_LANES],
    pub ways_on: [Gap; MOST_LANES],
    pub next_arm: usize,
    pub needs: &'a [usize],
    pub needed_by: &'a [usize],
}

/// An added task with what is the same in every batch.
pub(super) struct Question<'a> {
    pub added: &'a Added<'a>,
    pub before: &'a Before,
    /// When its work may go on; `None`: any time will do.
    pub open: Option<Open>,
    pub law: Law,
}

/// The chance that the plan with the task added ends by its limit.
pub(super) struct InTime<'a>(pub &'a Question<'a>, pub &'a Batch);

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
        match &question.open {
            None if due.0 - ready.1 >= range.1 => 1.0,
            None => question.at_once(drawn),
            Some(open) if open.pauses => question.with_pauses(&open.spans, drawn),
            Some(open) => {
                let near = open.spans.iter().filter(|(_, until)| until - ready.0 > range.0);
                question.in_stretches(near, due.1, drawn)
            }
        }
    }
}

/// The chances that the added work, which begins no earlier than `opens`, is done by each of some
/// minutes.
pub(super) struct Inside<'a> {
    pub question: &'a Question<'a>,
    pub drawn: &'a Batch,
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
                let mut chance = [0.0; BATCH];
                for draw in 0..BATCH {
                    let left = closes - more(opens, ready[draw]);
                    chance[draw] = law.within(left, drawn.shared.log_days[draw]);
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
    fn ready(&self, drawn: &Batch) -> Drawn {
        let Self { added, before, .. } = self;
        let mut ready = [0.0; BATCH];
        for lane in added.stop.lanes.each() {
            let way = added.ways_there[lane];
            raise_by(&mut ready, &drawn.ends[before.lanes[lane]], way, &drawn.shared);
        }
        for need in added.needs {
            raise(&mut ready, &drawn.ends[*need]);
        }
        if added.stop.arm {
            raise(&mut ready, &drawn.ends[before.arm]);
        }
        ready
    }

    /// When the added work ends that takes those minutes.
    #[inline(always)]
    pub fn own_ends(&self, drawn: &Batch, work: &Drawn) -> Drawn {
        work_ends(self.open.as_ref(), &self.ready(drawn), work)
    }

    /// The minutes of the added work, by the draws of its own.
    #[inline(always)]
    pub fn own_work(&self, drawn: &Batch, normals: &Drawn) -> Drawn {
        let mut work = *normals;
        for (work, log_day) in work.iter_mut().zip(&drawn.shared.log_days) {
            *work = self.law.minutes(*work, *log_day);
        }
        work
    }

    /// By when it has to end.
    #[inline(always)]
    fn due(&self, drawn: &Batch) -> Drawn {
        let added = self.added;
        let mut due = [f32::INFINITY; BATCH];
        for lane in added.stop.lanes.each() {
            let way = added.ways_on[lane];
            lower_by(&mut due, &drawn.latest[added.next[lane]], way, &drawn.shared);
        }
        for then in added.needed_by {
            lower(&mut due, &drawn.latest[*then]);
        }
        if added.stop.arm && added.next_arm + 1 < drawn.latest.len() {
            lower(&mut due, &drawn.latest[added.next_arm]);
        }
        due
    }

    /// The bounds of `ready` and of `due`, from what they are made of.
    fn at_most(&self, drawn: &Batch) -> ((f32, f32), (f32, f32)) {
        let (added, ranges) = (self.added, &drawn.ranges);
        let minutes = |gap: Gap| {
            let (travel, site) = (narrow(gap.travel), narrow(gap.site));
            let at = |travels: f32, sites: f32| travel * travels + site * sites;
            (at(ranges.travel.0, ranges.site.0), at(ranges.travel.1, ranges.site.1))
        };
        let later = |to: (f32, f32), from: (f32, f32), by: (f32, f32)| {
            (more(to.0, from.0 + by.0), more(to.1, from.1 + by.1))
        };
        let earlier = |to: (f32, f32), from: (f32, f32), by: (f32, f32)| {
            (less(to.0, from.0 - by.1), less(to.1, from.1 - by.0))
        };
        let nothing = (0.0, 0.0);
        let (mut ready, mut due) = (nothing, (f32::INFINITY, f32::INFINITY));
        for lane in added.stop.lanes.each() {
            let before = ranges.ends[self.before.lanes[lane]];
            ready = later(ready, before, minutes(added.ways_there[lane]));
            due = earlier(due, ranges.latest[added.next[lane]], minutes(added.ways_on[lane]));
        }
        due = added.needed_by.iter().fold(due, |due, by| earlier(due, ranges.latest[*by], nothing));
        if added.stop.arm {
            ready = later(ready, ranges.ends[self.before.arm], nothing);
        }
        let needs = added.needs.iter();
        ready = needs.fold(ready, |ready, need| later(ready, ranges.ends[*need], nothing));
        (ready, due)
    }

    /// How likely work that waits for nothing ends in time.
    #[inline(always)]
    fn at_once(&self, drawn: &Batch) -> f64 {
        let Self { added, law, .. } = self;
        let mut chance = [0.0; BATCH];
        let lane = added.stop.lanes.first();
        if added.stop.lanes.count() == 1 && added.needs.is_empty() && added.needed_by.is_empty() {
            // Most tasks: one lane, and nothing else that it waits for or that waits for it.
            let done = &drawn.ends[self.before.lanes[lane]];
            let latest = &drawn.latest[added.next[lane]];
            let (there, on) = (added.ways_there[lane], added.ways_on[lane]);
            let (travel, site) = (narrow(there.travel + on.travel), narrow(there.site + on.site));
            let shared = &drawn.shared;
            for draw in 0..BATCH {
                let ways = travel * shared.travel[draw] + site * shared.site[draw];
                let left = latest[draw] - done[draw] - ways;
                chance[draw] = law.within(left, drawn.shared.log_days[draw]);
            }
        } else {
            let (ready, due) = (self.ready(drawn), self.due(drawn));
            for draw in 0..BATCH {
                chance[draw] = law.within(due[draw] - ready[draw], drawn.shared.log_days[draw]);
            }
        }
        mean(&chance)
    }

    /// How likely work that waits for a stretch ends in time. Nothing may end after `last`. Work
    /// that is too long for every stretch waits past the limit.
    #[inline(always)]
    fn in_stretches<'s>(
        &self,
        stretches: impl Iterator<Item = &'s Span>,
        last: f32,
        drawn: &Batch,
    ) -> f64 {
        let (law, days) = (self.law, &drawn.shared.log_days);
        let (ready, due) = (self.ready(drawn), self.due(drawn));
        let mut chance = [0.0_f32; BATCH];
        // The longest work that has found its stretch so far, and how likely it is no longer.
        let (mut room, mut gone) = ([0.0_f32; BATCH], [0.0_f32; BATCH]);
        let mut some_gone = false;
        for &(from, until) in stretches {
            if from >= last {
                break;
            }
            if some_gone {
                for draw in 0..BATCH {
                    gone[draw] = law.within(room[draw], days[draw]);
                }
            }
            some_gone = true;
            for draw in 0..BATCH {
                let start = more(from, ready[draw]);
                let fits = until - start;
                let in_time = law.within(less(fits, due[draw] - start), days[draw]);
                chance[draw] += more(in_time - gone[draw], 0.0);
                room[draw] = more(room[draw], fits);
            }
        }
        mean(&chance)
    }

    /// How likely work ends in time that stops at the end of a stretch and continues in the next.
    #[inline(always)]
    fn with_pauses(&self, stretches: &[Span], drawn: &Batch) -> f64 {
        let (ready, due) = (self.ready(drawn), self.due(drawn));
        let mut open = [0.0_f32; BATCH];
        for &(from, until) in stretches {
            for draw in 0..BATCH {
                open[draw] += more(less(until, due[draw]) - more(from, ready[draw]), 0.0);
            }
        }
        let mut chance = [0.0; BATCH];
        for draw in 0..BATCH {
            chance[draw] = self.law.within(open[draw], drawn.shared.log_days[draw]);
        }
        mean(&chance)
    }
}
