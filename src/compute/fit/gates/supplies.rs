//! Whether the suits last until everybody is inside, the reserve kept back.

use crate::compute::fit::place::{Found, whole};
use crate::compute::fit::ready::{Plan, Ready};
use crate::compute::fit::reasons::Reason;
use crate::compute::fit::snapshot::TaskAt;
use crate::compute::fit::verdict::Judgement;
use crate::domain::words::GateName;
use crate::domain::words::GateVerdict::{CannotTell, Met, NotMet, Tight};

pub(in crate::compute::fit) fn supplies(
    ready: &Ready,
    plan: &Plan,
    task: TaskAt,
    found: Option<&Found>,
    judge: &mut impl Judgement,
) {
    let mut say = |verdict, reason| judge.say(GateName::Supplies, verdict, reason);
    for &what in &plan.suits.unknown {
        say(CannotTell, Reason::Unknown(what));
    }
    let rate = ready.work_rate(task);
    if let Err(what) = rate {
        say(CannotTell, Reason::Unknown(what));
    }
    let Some(found) = found else { return say(CannotTell, Reason::NoPlace) };
    let (Ok(rate), true) = (rate, plan.suits.unknown.is_empty()) else { return };
    for (lane, &end) in found.finish.ends().iter().enumerate() {
        let works = found.stop.lanes.each().any(|own| own == lane);
        let own = works.then_some((rate, found.stop.work.mean));
        let Some((supply, runs_out)) = plan.suits.first(ready, lane, end, own) else { continue };
        let left = runs_out - end;
        let verdict = if left >= ready.constants.supply_reserve {
            Met
        } else if left >= 0.0 {
            Tight
        } else {
            NotMet
        };
        let seat = ready.snapshot.excursions[plan.excursion].seats[lane];
        let (runs_out, left) = (whole(runs_out), whole(left));
        say(verdict, Reason::Supply { supply, seat, runs_out, left });
    }
}
