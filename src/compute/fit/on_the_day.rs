//! An excursion of the snapshot laid out for its day: its set slots as tasks of `compute::day`, with
//! the routes and aids of the record, and what the suits have left at its end.

use super::constants::Constants;
use super::gates;
use super::ready::{Passable, Plan, Ready, Worked};
use super::reasons::Unknown;
use super::snapshot::{Slot, Snapshot};
use crate::day::{Day, Minutes, Progress, Rest, Task, Ways};
use crate::places::{ApproachAt, ExcursionAt, SetAt, SiteAt, SlotAt, TaskAt};
use crate::supplies::{Lasts, first_to_run_out};
use crate::three_point::Spread;
use crate::timeline::{Frame, Routes as _};
use domain::words::GateVerdict;

/// What is known of a slot beyond the snapshot.
#[derive(Debug, Clone, Default)]
pub struct DaySlot {
    pub slot: SlotAt,
    pub progress: Option<Progress>,
    /// The share of its work at its stopping point.
    pub stopping_share: Option<f64>,
    /// The fallback that was taken up last, by its place, and the elapsed minutes then.
    pub fallback: Option<(usize, f64)>,
    pub value: f64,
}

/// The supply that runs out first of all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FirstOut {
    pub lane: usize,
    pub lasts: Lasts,
    /// Minutes from the end at P80 until then, below 0 where it is before.
    pub left: f64,
    /// Minutes that are to be kept back.
    pub reserve: f64,
    pub verdict: GateVerdict,
}

/// An excursion ready for the questions of its day.
pub struct OnTheDay<'s> {
    ready: Ready<'s>,
    plan: Plan,
    tasks: Vec<Task>,
    /// Pairs that wait for each other's tools.
    waits: Vec<(usize, usize)>,
    slots: Vec<SlotAt>,
}

/// Travel over the routes whose aids are still out.
pub struct Aided<'a> {
    ready: &'a Ready<'a>,
    first: SetAt,
    tasks: Vec<TaskAt>,
}

impl Ways for Aided<'_> {
    fn travel(
        &self,
        from: SiteAt,
        to: SiteAt,
        leaves: f64,
        slow: f64,
        brought_in: &[(f64, usize)],
    ) -> Option<f64> {
        let gone: Vec<(f64, TaskAt)> = brought_in
            .iter()
            .filter_map(|&(at, task)| Some((at, *self.tasks.get(task)?)))
            .collect();
        Passable::new(&self.ready.aids, self.first, &gone).travel(from, to, leaves, slow)
    }
}

impl<'s> OnTheDay<'s> {
    /// The set slots of an excursion, in their order. What keeps it from being timed is the error.
    pub fn of(
        snapshot: &'s Snapshot,
        constants: &Constants,
        excursion: ExcursionAt,
        told: &[DaySlot],
    ) -> Result<Self, Vec<Unknown>> {
        let ready = Ready::new(snapshot, constants);
        let here = &snapshot.excursions[excursion];
        let slots: Vec<SlotAt> = here.slots.keys().filter(|&at| here.slots[at].set).collect();
        let first = ready.plans[excursion].sequence.first;
        let plan = ready.lay_out(excursion, slots.clone(), first);
        if !plan.unknown.is_empty() {
            return Err(plan.unknown);
        }
        let settled = ready.settle(&plan.frame(&ready), &plan.sequence);
        let settled = settled.map_err(|(_, what)| vec![what])?;
        let own = plan.sequence.needs.len();
        let waits = settled.needs.into_iter().skip(own).collect();
        let tasks = plan.sequence.stops.iter().zip(&slots).map(|(stop, &at)| {
            let slot = &here.slots[at];
            let told = told.iter().find(|told| told.slot == at).cloned().unwrap_or_default();
            Task {
                stop: *stop,
                minutes: minutes(&ready, slot, &told),
                must_do: slot.must_do,
                value: told.value,
                stopping_share: told.stopping_share,
                brings_in: !ready.aids.brings_in[slot.task].is_empty(),
                progress: told.progress.unwrap_or(Progress::Planned),
            }
        });
        let tasks = tasks.collect();
        Ok(Self { ready, plan, tasks, waits, slots })
    }

    /// The slot behind each task of the day.
    pub fn slots(&self) -> &[SlotAt] {
        &self.slots
    }

    pub fn tasks(&self) -> &[Task] {
        &self.tasks
    }

    pub fn frame(&self) -> Frame<'_> {
        self.plan.frame(&self.ready)
    }

    pub fn ways(&self) -> Aided<'_> {
        let tasks = (0..self.slots.len()).map(|at| self.ready.task_of(&self.plan, at)).collect();
        Aided { ready: &self.ready, first: self.plan.sequence.first, tasks }
    }

    /// The day at that minute.
    pub fn day<'a>(
        &'a self,
        ways: &'a Aided<'a>,
        now: f64,
        egress_ended: Option<f64>,
    ) -> Day<'a, Aided<'a>> {
        Day {
            frame: self.frame(),
            variation: self.ready.constants.variation(),
            tasks: &self.tasks,
            needs: &self.plan.sequence.needs,
            waits: &self.waits,
            ways,
            now,
            egress_ended,
            learns: true,
        }
    }

    /// The work of a task that is not set here, by one of its approaches in those seats; `None`
    /// where the record does not say how long it takes, or where.
    pub fn other_task(
        &self,
        task: TaskAt,
        approach: Option<ApproachAt>,
        seats: &[u8],
    ) -> Option<Task> {
        let mut known = true;
        let mut lacks = |_: Unknown| known = false;
        let lanes = self.ready.lanes(self.plan.excursion, seats)?;
        let site = self.ready.site(task, &mut lacks);
        let share = self.ready.snapshot.tasks[task].share_left;
        let work: Spread = self.ready.work(task, approach, share, &mut lacks);
        let stop = self.ready.stop_at((self.plan.excursion, task, approach), site, lanes, work);
        known.then(|| Task {
            stop,
            minutes: Minutes::of(work),
            must_do: false,
            value: 0.0,
            stopping_share: None,
            brings_in: false,
            progress: Progress::Planned,
        })
    }

    /// How long the supplies of each seat last, at P80 of the common end; what is not known of the
    /// suits is the error.
    pub fn supplies(&self, rest: &Rest) -> Result<Vec<[Lasts; 4]>, Vec<Unknown>> {
        if !self.plan.suits.unknown.is_empty() {
            return Err(self.plan.suits.unknown.clone());
        }
        let lasting = |lane: usize| {
            let work = self.worked(rest, lane);
            self.plan.suits.lasting(&self.ready, lane, rest.end_p80, work.into_iter())
        };
        Ok((0..self.plan.lanes).filter_map(lasting).collect())
    }

    /// What runs out first of what lasts so long in each lane, held against the reserve.
    pub fn first_out(&self, rest: &Rest, lasting: &[[Lasts; 4]]) -> Option<FirstOut> {
        let reserve = self.ready.constants.supply_reserve;
        let each = lasting.iter().map(first_to_run_out).enumerate();
        let (lane, lasts) = each.min_by(|a, b| a.1.runs_out.total_cmp(&b.1.runs_out))?;
        let left = lasts.runs_out - rest.end_p80;
        Some(FirstOut { lane, lasts, left, reserve, verdict: gates::verdict(left, reserve) })
    }

    /// The work of a lane in order of time: what ended as it went, the rest on a day about as long
    /// as eight in ten.
    fn worked(&self, rest: &Rest, lane: usize) -> Vec<Worked> {
        let mut work: Vec<Worked> = Vec::new();
        for (at, task) in self.tasks.iter().enumerate().filter(|(_, t)| t.stop.lanes.has(lane)) {
            let (minutes, done) = match task.progress {
                Progress::Ended { start, end, .. } => (end - start, end),
                Progress::Dropped => continue,
                Progress::Planned | Progress::Running { .. } => {
                    let Some(left) = rest.tasks.iter().find(|left| left.task == at) else {
                        continue;
                    };
                    left.at_p80
                }
            };
            let of = self.ready.task_of(&self.plan, at);
            if let Ok(rate) = self.ready.work_rate(of) {
                work.push(Worked { task: of, rate, minutes, done });
            }
        }
        work.sort_by(|a, b| a.done.total_cmp(&b.done));
        work
    }
}

/// The minutes of a slot's work: its approach and what may follow it; once a fallback was taken up,
/// that one from then on and what may follow it in turn.
fn minutes(ready: &Ready, slot: &Slot, told: &DaySlot) -> Minutes {
    let share = slot.share.unwrap_or(ready.snapshot.tasks[slot.task].share_left);
    // What is not known has been named when the plan was laid out.
    let by = |approach| ready.work(slot.task, approach, share, &mut |_| {});
    let start = match told.progress {
        Some(Progress::Running { since }) => Some(since),
        Some(Progress::Ended { start, .. }) => Some(start),
        Some(Progress::Planned | Progress::Dropped) | None => None,
    };
    if let (Some(start), Some((step, taken))) = (start, told.fallback)
        && let Some(fallback) = slot.fallbacks.get(step)
    {
        let work = fallback.approach.map_or_else(Spread::default, |at| by(Some(at)));
        let then = ready.then(slot.task, &slot.fallbacks[step + 1..], share);
        return Minutes::after((taken - start).max(0.0), work, &then);
    }
    let then = ready.then(slot.task, &slot.fallbacks, share);
    Minutes::with_fallbacks(by(slot.approach), &then)
}

/// The minutes of a slot's work by its approach alone, and with its fallbacks; `None` where the
/// record does not say how long the approach takes.
pub fn work_minutes(
    snapshot: &Snapshot,
    constants: &Constants,
    excursion: ExcursionAt,
    slot: SlotAt,
) -> Option<[Minutes; 2]> {
    let ready = Ready::new(snapshot, constants);
    let slot = &snapshot.excursions[excursion].slots[slot];
    let share = slot.share.unwrap_or(snapshot.tasks[slot.task].share_left);
    let mut known = true;
    let work = ready.work(slot.task, slot.approach, share, &mut |_| known = false);
    let both = [Minutes::of(work), minutes(&ready, slot, &DaySlot::default())];
    known.then_some(both)
}
