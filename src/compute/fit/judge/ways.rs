//! Whether there is a way to the task and back, and whose way goes with the aids that it brings in.

use super::Question;
use crate::fit::place::Base;
use crate::fit::ready::{Plan, Ready, Sequence};
use crate::fit::reasons::{Reason, Unknown};
use crate::fit::verdict::Judgement;
use crate::places::{ExcursionAt, TaskAt};
use domain::words::GateName;
use domain::words::GateVerdict::{CannotTell, Met, NotMet};
use typed_index_collections::{TiSlice, TiVec, ti_vec};

/// Whether there is a way from the airlock to the task's worksite and back when the excursion
/// begins.
pub(super) fn routes_alone(
    ready: &Ready,
    plan: &Plan,
    asked: &Question,
    judge: &mut impl Judgement,
) {
    let here = &ready.snapshot.excursions[asked.excursion];
    let mut lacks = |what| judge.say(GateName::Routes, CannotTell, Reason::Unknown(what));
    let Some(airlock) = here.airlock else {
        return lacks(Unknown::Airlock { excursion: asked.excursion });
    };
    let Some(site) = ready.snapshot.tasks[asked.task].site else {
        return lacks(Unknown::Site { task: asked.task });
    };
    let set = plan.sequence.first;
    let network = ready.aids.network(set);
    let (out, home) = (network.minutes(airlock, site), network.minutes(site, airlock));
    match (out, home) {
        (Some(out), Some(_)) => {
            let minutes = u16::try_from(out).unwrap_or(u16::MAX);
            judge.say(GateName::Routes, Met, Reason::WayThere { minutes });
        }
        (None, _) => no_way(ready, asked.task, ready.aids.no_way(set, airlock, site), judge),
        (Some(_), None) => no_way(ready, asked.task, ready.aids.no_way(set, site, airlock), judge),
    }
}

pub(in crate::fit) fn no_way(
    ready: &Ready,
    task: TaskAt,
    unknown: Unknown,
    judge: &mut impl Judgement,
) {
    let own = ready.snapshot.tasks[task].site;
    let (verdict, reason) = match unknown {
        Unknown::WayWithoutAid { to, aid, .. } if own == Some(to) => {
            (NotMet, Reason::WayNeedsAid { site: to, aid })
        }
        // A leg of another seat, or the one home.
        Unknown::WayWithoutAid { .. } => (NotMet, Reason::Unknown(unknown)),
        _ => (CannotTell, Reason::Unknown(unknown)),
    };
    judge.say(GateName::Routes, verdict, reason);
}

/// For every excursion: the first from there on whose plan could not be flown without the aids
/// that the task brings in, and the task set there.
pub(super) fn losers(
    ready: &Ready,
    bases: &TiSlice<ExcursionAt, Result<Base, Unknown>>,
    task: TaskAt,
) -> TiVec<ExcursionAt, Option<(ExcursionAt, TaskAt)>> {
    if ready.aids.brings_in[task].is_empty() {
        return TiVec::new();
    }
    let mut first = None;
    let mut losers = ti_vec![None; ready.plans.len()];
    for (excursion, plan) in ready.plans.iter_enumerated().rev() {
        let first_set = ready.aids.without(plan.sequence.first, task);
        let without = Sequence { first: first_set, ..plan.sequence.clone() };
        let settled = bases[excursion].as_ref().map(|_| ready.settle(&plan.frame(ready), &without));
        if let Ok(Err((place, _))) = settled {
            let stop = place.min(plan.slots.len().saturating_sub(1));
            first = (!plan.slots.is_empty()).then(|| (excursion, ready.task_of(plan, stop)));
        }
        losers[excursion] = first;
    }
    losers
}
