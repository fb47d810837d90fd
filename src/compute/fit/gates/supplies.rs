//! Whether the suits last until everybody is inside, the reserve kept back.

use crate::compute::fit::constants::SupplyRates;
use crate::compute::fit::place::{Found, whole};
use crate::compute::fit::ready::{Plan, Ready};
use crate::compute::fit::reasons::{Reason, Unknown, index};
use crate::compute::fit::snapshot::{ExcursionAt, Supplies, TaskAt};
use crate::compute::fit::verdict::Judgement;
use crate::compute::supplies::{Amounts, Rates, Supply, first_to_run_out, lasting, used};
use crate::compute::timeline::MOST_LANES;
use crate::domain::words::GateName;
use crate::domain::words::GateVerdict::{CannotTell, Met, NotMet, Tight};
use crate::domain::words::WorkRate;

pub(in crate::compute::fit) fn supplies(
    ready: &Ready,
    plan: &Plan,
    task: TaskAt,
    found: Option<&Found>,
    judge: &mut impl Judgement,
) {
    let rates = match &ready.constants.supply_rates {
        SupplyRates::NotChecked => return,
        SupplyRates::NotEntered => {
            return judge.say(GateName::Supplies, CannotTell, Reason::NoSupplyRates);
        }
        SupplyRates::Of(rates) => rates,
    };
    let mut known = true;
    let mut lacks = |what: Unknown| {
        known = false;
        judge.say(GateName::Supplies, CannotTell, Reason::Unknown(what));
    };
    let carried =
        carried(plan.excursion, &ready.snapshot.excursions[plan.excursion].supplies, &mut lacks);
    let mut extra = [0.0; MOST_LANES];
    for (place, stop) in plan.stops.iter().enumerate() {
        match above_overhead(ready, ready.task_of(plan, place), stop.work.mean, rates) {
            Ok(kcal) => stop.lanes.each().for_each(|lane| extra[lane] += kcal),
            Err(what) => lacks(what),
        }
    }
    let minutes = found.map_or(0.0, |found| found.stop.work.mean);
    let own = above_overhead(ready, task, minutes, rates);
    match (own, found) {
        (Err(what), _) => lacks(what),
        (Ok(kcal), Some(found)) => found.stop.lanes.each().for_each(|lane| extra[lane] += kcal),
        (Ok(_), None) => return judge.say(GateName::Supplies, CannotTell, Reason::NoPlace),
    }
    let (Some(found), true) = (found, known) else { return };
    for (lane, &end) in found.finish.ends().iter().enumerate() {
        let kcal = rates.overhead * end / 60.0 + extra[lane];
        let first = first_to_run_out(&lasting(&carried, &used(kcal, end, rates), end));
        let left = first.runs_out - end;
        let verdict = if left >= ready.constants.supply_reserve {
            Met
        } else if left >= 0.0 {
            Tight
        } else {
            NotMet
        };
        let seat = ready.snapshot.excursions[plan.excursion].seats[lane];
        let reason = Reason::Supply {
            supply: first.supply,
            seat,
            runs_out: whole(first.runs_out),
            left: whole(left),
        };
        judge.say(GateName::Supplies, verdict, reason);
    }
}

fn carried(
    excursion: ExcursionAt,
    supplies: &Supplies,
    lacks: &mut impl FnMut(Unknown),
) -> Amounts {
    let mut get = |amount: Option<f64>, supply: Supply| {
        if amount.is_none() {
            lacks(Unknown::Supply { excursion: index(excursion), supply });
        }
        amount.unwrap_or_default()
    };
    Amounts {
        oxygen: get(supplies.oxygen, Supply::Oxygen),
        scrubber: get(supplies.scrubber, Supply::Scrubber),
        water: get(supplies.water, Supply::Water),
        battery: get(supplies.battery, Supply::Battery),
    }
}

/// What a task's work costs above the same minutes of overhead, in kcal.
fn above_overhead(
    ready: &Ready,
    task: TaskAt,
    minutes: f64,
    rates: &Rates,
) -> Result<f64, Unknown> {
    let rate = match ready.snapshot.tasks[task].work_rate {
        Some(WorkRate::Light) => rates.light,
        Some(WorkRate::Moderate) => rates.moderate,
        Some(WorkRate::Heavy) => rates.heavy,
        None => return Err(Unknown::WorkRate { task: index(task) }),
    };
    Ok((rate - rates.overhead) * minutes / 60.0)
}
