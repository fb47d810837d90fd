//! One question to the fit: a task, an excursion, and what is fixed of the place.

use super::Ask;
use crate::fit::gates;
use crate::fit::place::Candidate;
use crate::fit::ready::{Plan, Practised, Ready};
use crate::fit::reasons::{Reason, Unknown};
use crate::fit::snapshot::{Approach, Fallback};
use crate::fit::verdict::Judgement;
use crate::places::{ApproachAt, ExcursionAt, SlotAt, TaskAt};
use crate::timeline::Lanes;
use domain::words::GateName;
use domain::words::GateVerdict::{CannotTell, NotMet};

/// A task, an excursion, and what is fixed.
pub(super) struct Question<'a> {
    pub task: TaskAt,
    pub excursion: ExcursionAt,
    pub approach: Option<ApproachAt>,
    pub ask: &'a Ask,
    /// The task's own slot there.
    pub own: Option<SlotAt>,
    /// The same, where the task is asked about as it stands in it.
    pub kept: Option<SlotAt>,
}

impl Question<'_> {
    fn used<'r>(&self, ready: &'r Ready) -> Option<&'r Approach> {
        self.approach.map(|at| &ready.snapshot.tasks[self.task].approaches[at])
    }

    /// What follows its approach, where it is asked about as its slot plans it.
    pub fn fallbacks<'r>(&self, ready: &'r Ready) -> &'r [Fallback] {
        let slots = &ready.snapshot.excursions[self.excursion].slots;
        self.kept.map_or(&[][..], |slot| &slots[slot].fallbacks)
    }

    /// Nobody reads more than what decides; of a slot every check is compared with what it was.
    pub fn is_brief(&self, judge: &impl Judgement) -> bool {
        self.own.is_none() && !judge.wants_figures()
    }

    /// The task with all that its place depends on; `None`, with the reasons said, where
    /// something is not known.
    pub fn candidate(
        &self,
        ready: &Ready,
        plan: &Plan,
        judge: &mut impl Judgement,
    ) -> Option<Candidate> {
        let snapshot = ready.snapshot;
        let slot = self.kept.map(|slot| &snapshot.excursions[self.excursion].slots[slot]);
        let mut known = true;
        let mut lacks = |what: Unknown| {
            known = false;
            judge.say(GateName::Time, CannotTell, Reason::Unknown(what));
        };
        for &what in &plan.unknown {
            lacks(what);
        }
        let site = ready.site(self.task, &mut lacks);
        let share = self.ask.share.or(slot.and_then(|slot| slot.share));
        let share = share.unwrap_or(snapshot.tasks[self.task].share_left);
        let work = ready.work(self.task, self.approach, share, &mut lacks);
        let fallbacks = self.fallbacks(ready);
        let work = ready.with_fallbacks(self.task, work, fallbacks, share);
        let takes = gates::seats_taken(ready, self.task, self.approach);
        if takes.is_none() {
            lacks(Unknown::TaskSeats { task: self.task });
        }
        let seats = match slot {
            Some(slot) if self.ask.seats.is_empty() => &slot.seats,
            Some(_) | None => &self.ask.seats,
        };
        let lanes = ready.lanes(self.excursion, seats);
        if lanes.is_none() && !seats.is_empty() {
            let (excursion, task) = (self.excursion, self.task);
            lacks(Unknown::SlotSeats { excursion, task });
        }
        let takes = takes.unwrap_or(1);
        if let Some(chosen) = lanes.map(Lanes::count).filter(|&chosen| chosen < takes) {
            let (takes, chosen) = (gates::small(takes), gates::small(chosen));
            judge.say(GateName::Seats, NotMet, Reason::SeatsChosen { takes, chosen });
        }
        if lanes.is_none() && takes > plan.lanes {
            // The seats gate has said it; no place can be looked for.
            judge.say(GateName::Time, CannotTell, seats_too_few(takes, plan.lanes));
            return None;
        }
        let (earliest, latest) = self.bounds(ready, plan);
        let begin = self.ask.begin.or(slot.and_then(|slot| slot.begin));
        let fixed = self.kept.is_some() || self.ask.before_slot.is_some() || begin.is_some();
        known.then(|| Candidate {
            task: self.task,
            stop: ready
                .stop_at((self.excursion, self.task, self.approach), site, Lanes::default(), work)
                .begun_from(begin.unwrap_or(0.0)),
            begin,
            may_wait: !fixed,
            seats: takes,
            lanes,
            apt: self.apt(ready, plan.lanes),
            earliest,
            latest,
            needs: stops_of(ready, plan, &snapshot.tasks[self.task].needs),
            needed_by: stops_of(ready, plan, &ready.needed_by[self.task]),
            brings_in: !ready.aids.brings_in[self.task].is_empty(),
            tools: ready.tools_of_all(self.task, self.approach, fallbacks, plan.lanes),
        })
    }

    /// Where the technique demands training, the lanes of those who have it; else all of them.
    fn apt(&self, ready: &Ready, lanes: usize) -> Lanes {
        let all = Lanes::up_to(lanes);
        let Some(at) =
            self.approach.filter(|_| self.used(ready).is_some_and(|by| by.training_demanded))
        else {
            return all;
        };
        let crew = &ready.snapshot.excursions[self.excursion].seat_crew;
        let has = |lane: usize| {
            let who = crew.get(lane).copied().flatten();
            who.is_some_and(|who| *ready.trained(self.task, at, who) != Practised::Never)
        };
        all.each().filter(|&lane| has(lane)).fold(Lanes::default(), Lanes::and)
    }

    /// The positions in the order that keep what it needs before it and what needs it after it,
    /// and that were asked for. None are left where the first is greater than the last.
    fn bounds(&self, ready: &Ready, plan: &Plan) -> (usize, usize) {
        let stop = |&task: &TaskAt| plan.stop_of(ready.snapshot, task);
        let needs = ready.snapshot.tasks[self.task].needs.iter();
        let after = needs.filter_map(stop).map(|stop| stop + 1).max().unwrap_or(0);
        let needed_by = ready.needed_by[self.task].iter();
        let before = needed_by.filter_map(stop).min().unwrap_or(plan.slots.len());
        let Some(slot) = self.ask.before_slot.or(self.kept) else { return (after, before) };
        let position = plan.slots.iter().filter(|&&other| other < slot).count();
        (after.max(position), before.min(position))
    }
}

fn seats_too_few(takes: usize, there: usize) -> Reason {
    Reason::SeatsTooFew { takes: gates::small(takes), there: gates::small(there) }
}

fn stops_of(ready: &Ready, plan: &Plan, tasks: &[TaskAt]) -> Vec<usize> {
    tasks.iter().filter_map(|&task| plan.stop_of(ready.snapshot, task)).collect()
}
