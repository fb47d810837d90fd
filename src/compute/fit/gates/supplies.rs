//! Whether the suits last until everybody is inside, the reserve kept back: at the end that holds
//! in eight cases of ten, the work in its order.

use crate::compute::fit::place::{Base, Candidate, Found, down, up};
use crate::compute::fit::ready::{Plan, Ready, Worked, pace};
use crate::compute::fit::reasons::{Reason, index};
use crate::compute::fit::snapshot::TaskAt;
use crate::compute::fit::verdict::Judgement;
use crate::compute::supplies::{Supply, first_to_run_out};
use crate::domain::words::GateVerdict::{CannotTell, Met, NotMet, Tight};
use crate::domain::words::{GateName, GateVerdict, WorkRate};

/// Minutes by which a few draws may miss the end that many give: a check that is not met by more
/// than that is left to the many.
const DOUBT: f64 = 10.0;

pub(in crate::compute::fit) fn supplies_without_place(
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

pub(in crate::compute::fit) fn supplies(
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
    let last = found.place.chance >= 0.8 && look.least_left(plan.limit) >= reserve + DOUBT;
    if last && !figures {
        judge.say(GateName::Supplies, Met, Reason::SuppliesLast);
        return;
    }
    let end_p80 = |rough| found.end_p80(ready, plan, base, candidate, rough);
    let mut end = end_p80(true);
    let left = look.least_left(end);
    let figures = figures || left < reserve + DOUBT;
    if figures {
        end = end_p80(false);
    }
    for lane in 0..plan.lanes {
        let Some((supply, left)) = look.first(lane, end) else { continue };
        let verdict = verdict(left, reserve);
        let seat = ready.snapshot.excursions[plan.excursion].seats[lane];
        let (supply, runs_out, during) = if figures {
            look.in_order(lane, end, base, candidate).unwrap_or((supply, end + left, None))
        } else {
            (supply, end + left, None)
        };
        let (during, runs_out) = (during.map(index), down(runs_out));
        let left = runs_out.saturating_sub(up(end));
        judge.say(
            GateName::Supplies,
            verdict,
            Reason::Supply { supply, seat, runs_out, left, during },
        );
    }
}

fn verdict(left: f64, reserve: f64) -> GateVerdict {
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
    fn pace(&self, end: f64) -> f64 {
        let stops = self.plan.sequence.stops.iter().chain([&self.found.stop]);
        pace(stops, &self.found.finish, end)
    }

    /// The supply of a lane that runs out first, and how long after `end`.
    fn first(&self, lane: usize, end: f64) -> Option<(Supply, f64)> {
        let stop = &self.found.stop;
        let own = stop.lanes.has(lane).then_some((self.rate, stop.work.mean));
        self.plan.suits.first(self.ready, lane, (end, self.pace(end)), own)
    }

    /// How long after `end` the first supply of any lane runs out.
    fn least_left(&self, end: f64) -> f64 {
        let left = (0..self.plan.lanes).filter_map(|lane| self.first(lane, end));
        left.map(|(_, left)| left).fold(f64::INFINITY, f64::min)
    }

    /// The supply of a lane that runs out first when the work goes on in its order, when, and the
    /// task under way then.
    fn in_order(
        &self,
        lane: usize,
        end: f64,
        base: &Base,
        candidate: &Candidate,
    ) -> Option<(Supply, f64, Option<TaskAt>)> {
        let Self { ready, plan, found, rate } = *self;
        let with = found.blocks(ready, plan, base, candidate);
        let mut before = with.to_vec();
        before.remove(found.position);
        let mut work: Vec<Worked> = ready.worked(plan, &before, lane).collect();
        if found.stop.lanes.has(lane) {
            let (start, minutes) = (found.own.start, found.stop.work.mean);
            work.push(Worked { task: candidate.task, rate, start, minutes });
            work.sort_by(|a, b| a.start.total_cmp(&b.start));
        }
        let at = (end, self.pace(end));
        let lasting = plan.suits.lasting(ready, lane, at, work.into_iter())?;
        let first = first_to_run_out(&lasting);
        Some((first.supply, first.runs_out, first.during))
    }
}
