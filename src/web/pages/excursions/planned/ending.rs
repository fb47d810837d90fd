//! How the excursion ends, in figures, and what each of them promises.

use super::drawn::{SEED, TimedPlan};
use crate::pages::how::How;
use app::day::AtLaunch;
use app::fit::Board;
use compute::fit::{ExcursionAt, SlotAt, Timing, per_cent, pet, room_words};
use compute::timeline::Sampled;
use domain::slots::Slot;
use domain::words::SlotState;

fn to_a_tenth(chance: f64) -> String {
    match chance {
        chance if chance > 0.999 => "over 99.9 %".to_owned(),
        chance if chance < 0.001 => "under 0.1 %".to_owned(),
        chance => format!("{:.1} %", chance * 100.0),
    }
}

/// One figure of the set tasks, and of all with the pencilled ones: “97 %, set tasks only · 81 %
/// with 4 pencilled”.
fn of_both(plan: &TimedPlan, figure: impl Fn(&Timing) -> Option<String>) -> Option<String> {
    let set = plan.set_only.timing.as_ref().and_then(&figure);
    let pencilled = plan.room.pencilled;
    if pencilled == 0 {
        return set;
    }
    let all = plan.ending().and_then(&figure);
    let unknown = || "unknown".to_owned();
    let known = set.is_some() || all.is_some();
    let (set, all) = (set.unwrap_or_else(unknown), all.unwrap_or_else(unknown));
    known.then(|| format!("{set}, set tasks only · {all} with {pencilled} pencilled"))
}

/// The figures of the strip beside those of the headline; none where something keeps them from
/// being timed.
pub(super) fn facts(plan: &TimedPlan) -> Vec<(&'static str, String)> {
    let ends = of_both(plan, |timing| Some(pet(timing.end_p80.ceil()).to_string()));
    let in_plan = of_both(plan, |timing| timing.chance_of_plan.map(per_cent));
    [("Ends at P80", ends), ("Ends inside its plan", in_plan)]
        .into_iter()
        .filter_map(|(label, words)| Some((label, words?)))
        .collect()
}

/// What the headline promises: “Ends inside its limit: 97 %, if every task succeeds; tasks may stop
/// early. 3:50 left, set tasks only · 1:16 with 4 pencilled, at P80.”
pub(super) fn sentence(plan: &TimedPlan, launch: Option<&AtLaunch>) -> String {
    if plan.set_only.timing.is_none() && plan.ending().is_none() {
        return String::new();
    }
    let chance = of_both(plan, |timing| timing.chance.map(per_cent)).map_or_else(
        || " No limit is known.".to_owned(),
        |chance| {
            format!(
                " Ends inside its limit: {chance}, if every task succeeds; tasks may stop early."
            )
        },
    );
    let expected = launch.map_or_else(String::new, |launch| {
        format!(" {:.1} of {} set tasks are expected to be reached.", launch.expected, launch.of)
    });
    format!("{chance} At P80: {}.{expected}", room_words(&plan.room))
}

/// The chance that a slot is reached; `place` is that among all slots that stand here. That of a set
/// one is the chance of the board before the day.
pub(super) fn chance_to_reach(
    (plan, launch): (&TimedPlan, Option<&AtLaunch>),
    place: SlotAt,
    slot: &Slot,
) -> Option<String> {
    let chance = match slot.state {
        SlotState::Set => launch?.reached.get(&slot.code.0).copied(),
        SlotState::Pencilled | SlotState::Flown | SlotState::Withdrawn => {
            plan.sampled.as_ref()?.chance_to_reach(plan.stop(place)?)
        }
    };
    chance.map(per_cent)
}

/// How the figures came about, with the draws of this plan.
pub(super) fn how(board: &Board, at: ExcursionAt, plan: &TimedPlan) -> How {
    let limit = board.snapshot.excursions[at].limit;
    let share = |sampled: Option<&Sampled>| sampled?.share_by(limit?);
    let said = |which: &str, share: f64| {
        format!(
            "10,000 draws of the plan {which}, from seed {SEED}: {} ended inside the limit.",
            to_a_tenth(share)
        )
    };
    let set = share(plan.set_sampled.as_ref()).map(|share| said("with the set tasks", share));
    let pencilled = plan.room.pencilled > 0;
    let all = share(plan.sampled.as_ref()).filter(|_| pencilled);
    let all = all.map(|share| said("with the pencilled tasks too", share));
    let reached = "The chances that set tasks are reached are those of the board of the day before \
                   egress, from 10,240 draws; those of pencilled ones are shares of the draws above."
        .to_owned();
    let draws = set.into_iter().chain(all).chain([reached]);
    How::of(&board.constants).with_draws(draws.collect())
}

/// The chance beside the share of the draws.
pub(super) struct Sampling {
    pub words: String,
    /// They lie further apart than two points.
    pub apart: bool,
}

pub(super) fn sampling(plan: &TimedPlan, limit: Option<f64>) -> Option<Sampling> {
    let (chance, sampled) = (plan.ending()?.chance?, plan.sampled.as_ref()?);
    let share = sampled.share_by(limit?)?;
    let points = (share - chance).abs() * 100.0;
    let apart = points > 2.0;
    let agree = if apart {
        format!("They lie {points:.1} points apart: trust neither further than that.")
    } else {
        "The two agree within 2 points.".to_owned()
    };
    let which = if plan.room.pencilled > 0 { " with the pencilled tasks" } else { "" };
    Some(Sampling {
        words: format!(
            "Chance to end inside the limit{which}: {} calculated; of 10,000 draws of the same plan \
             {} did. {agree}",
            to_a_tenth(chance),
            to_a_tenth(share)
        ),
        apart,
    })
}
