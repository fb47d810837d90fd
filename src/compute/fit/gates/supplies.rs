//! Whether the suits last until everybody is inside, the reserve kept back: at the end that holds
//! in eight cases of ten, the work in its order. Work that misses its windows does not count: it is
//! not done, and nobody waits for it.

use crate::fit::place::{Base, Candidate, Found, down, up};
use crate::fit::ready::{Plan, Ready, Worked};
use crate::fit::reasons::Reason;
use crate::fit::verdict::Judgement;
use crate::places::TaskAt;
use crate::supplies::{Supply, first_to_run_out};
use crate::timeline::{AtEnd, Stop};
use domain::words::GateVerdict::{CannotTell, Met, NotMet, Tight};
use domain::words::{GateName, GateVerdict, WorkRate};

/// Minutes by which a few draws may miss the end that many give: a check that is not met by more
/// than that is left to the many.
const DOUBT: f64 = 10.0;

pub(in crate::fit) fn supplies_without_place(
    ready: &Ready,
    plan: &Plan,
    task: TaskAt,
    judge: &mut impl Judgement,
) {
    work_rate(ready, plan, task, judge);
    judge.say(GateName::Supplies, CannotTell, Reason::NoPlace);
}

/// The work rate of the task where all is known that the check needs.
fn work_rate(
    ready: &Ready,
    plan: &Plan,
    task: TaskAt,
    judge: &mut impl Judgement,
) -> Option<WorkRate> {
    let mut say = |what| judge.say(GateName::Supplies, CannotTell, Reason::Unknown(what));
    for &what in &plan.suits.unknown {
        say(what);
    }
    let rate = ready.work_rate(task).map_err(say).ok()?;
    plan.suits.unknown.is_empty().then_some(rate)
}

pub(in crate::fit) fn supplies(
    ready: &Ready,
    plan: &Plan,
    base: &Base,
    candidate: &Candidate,
    found: &Found,
    judge: &mut impl Judgement,
) {
    let Some(rate) = work_rate(ready, plan, candidate.task, judge) else { return };
    let look = Look { ready, plan, found, rate };
    let reserve = ready.constants.supply_reserve;
    let figures = judge.wants_figures();
    // It ends inside the limit in eight cases of ten, and the supplies last beyond the limit.
    let last = found.place.chance >= 0.8 && look.least_left_by(plan.limit) >= reserve;
    if last && !figures {
        judge.say(GateName::Supplies, Met, Reason::SuppliesLast);
        return;
    }
    if !figures && look.least_left_by(found.p80(base, candidate) + DOUBT) >= reserve {
        judge.say(GateName::Supplies, Met, Reason::SuppliesLast);
        return;
    }
    let rough = (!figures).then(|| found.at_p80_roughly(ready, plan, (base, candidate))).flatten();
    // Few draws tell that it lasts, and how far it is from the bounds where nobody reads more.
    let enough = rough.filter(|rough| {
        let left = look.least_left(rough);
        let clear = (left - reserve).abs() >= DOUBT && left.abs() >= DOUBT;
        left >= reserve + DOUBT || (clear && judge.wants_verdicts_alone())
    });
    let figures = enough.is_none();
    let at_end = match &enough {
        Some(rough) => rough,
        None => found.at_p80_in_full(ready, plan, (base, candidate)),
    };
    let end = at_end.end;
    for lane in 0..plan.lanes {
        let Some((supply, left)) = look.first(lane, at_end) else { continue };
        let verdict = verdict(left, reserve);
        let seat = ready.snapshot.excursions[plan.excursion].seats[lane];
        let (supply, runs_out, during) = if figures {
            look.in_order(lane, at_end, candidate.task).unwrap_or((supply, end + left, None))
        } else {
            (supply, end + left, None)
        };
        let (during, runs_out) = (during, down(runs_out));
        let left = runs_out.saturating_sub(up(end));
        judge.say(
            GateName::Supplies,
            verdict,
            Reason::Supply { supply, seat, runs_out, left, during },
        );
    }
}

/// How so many minutes after the end stand to the reserve.
pub(in crate::fit) fn verdict(left: f64, reserve: f64) -> GateVerdict {
    if left >= reserve {
        Met
    } else if left >= 0.0 {
        Tight
    } else {
        NotMet
    }
}

struct Look<'a, 's> {
    ready: &'a Ready<'s>,
    plan: &'a Plan,
    found: &'a Found,
    rate: WorkRate,
}

impl Look<'_, '_> {
    /// A stop of the plan with the task in it, and how hard its work is.
    fn stop(&self, place: usize) -> Option<(WorkRate, &Stop)> {
        let Self { ready, plan, found, rate } = self;
        if place == found.position {
            return Some((*rate, &found.stop));
        }
        let place = if place > found.position { place - 1 } else { place };
        let rate = ready.work_rate(ready.task_of(plan, place)).ok()?;
        Some((rate, &plan.sequence.stops[place]))
    }

    /// The work of a lane, with the minutes of each stop.
    fn work(
        &self,
        lane: usize,
        minutes: impl Fn(usize, &Stop) -> f64,
    ) -> impl Iterator<Item = (WorkRate, f64)> {
        let places = 0..=self.plan.sequence.stops.len();
        places.filter_map(move |place| {
            let (rate, stop) = self.stop(place)?;
            stop.lanes.has(lane).then(|| (rate, minutes(place, stop)))
        })
    }

    /// The supply of a lane that runs out first, and how long after the end.
    fn first(&self, lane: usize, at_end: &AtEnd) -> Option<(Supply, f64)> {
        let work = self.work(lane, |place, _| at_end.works[place].0);
        self.plan.suits.first(self.ready, lane, at_end.end, work)
    }

    /// How long after the end the first supply of any lane runs out.
    fn least_left(&self, at_end: &AtEnd) -> f64 {
        let left = (0..self.plan.lanes).filter_map(|lane| self.first(lane, at_end));
        left.map(|(_, left)| left).fold(f64::INFINITY, f64::min)
    }

    /// The same of an end at that minute, at the least: all that it takes longer than at the mean
    /// is heavy work.
    fn least_left_by(&self, end: f64) -> f64 {
        let Self { ready, plan, found, .. } = *self;
        let longer = (end - found.finish.end()).max(0.0);
        let left = (0..plan.lanes).filter_map(|lane| {
            let work = self.work(lane, |_, stop| stop.work.mean);
            let work = work.chain([(WorkRate::Heavy, longer)]);
            plan.suits.first(ready, lane, end, work)
        });
        left.map(|(_, left)| left).fold(f64::INFINITY, f64::min)
    }

    /// The supply of a lane that runs out first when the work goes on in its order, when, and the
    /// task under way then.
    fn in_order(
        &self,
        lane: usize,
        at_end: &AtEnd,
        task: TaskAt,
    ) -> Option<(Supply, f64, Option<TaskAt>)> {
        let Self { ready, plan, found, rate } = *self;
        let mut works = at_end.works.clone();
        let (minutes, done) = works.remove(found.position);
        let mut work: Vec<Worked> = ready.worked(plan, &works, lane).collect();
        if found.stop.lanes.has(lane) {
            work.push(Worked { task, rate, minutes, done });
            work.sort_by(|a, b| a.done.total_cmp(&b.done));
        }
        let lasting = plan.suits.lasting(ready, lane, at_end.end, work.into_iter())?;
        let first = first_to_run_out(&lasting);
        Some((first.supply, first.runs_out, first.during))
    }
}
