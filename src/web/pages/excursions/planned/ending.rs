//! How the excursion ends, in figures: worked out, and beside it as it came out in many draws.

use super::drawn::TimedPlan;
use crate::compute::fit::{Timing, margin, per_cent, pet};

fn to_a_tenth(chance: f64) -> String {
    match chance {
        chance if chance > 0.999 => "over 99.9 %".to_owned(),
        chance if chance < 0.001 => "under 0.1 %".to_owned(),
        chance => format!("{:.1} %", chance * 100.0),
    }
}

/// The figures of the strip; none where something keeps it from being timed whole.
pub(super) fn facts(plan: &TimedPlan) -> Vec<(&'static str, String)> {
    let Some(timing) = plan.ending() else { return Vec::new() };
    let mut facts =
        vec![("Ends at mean, P80", format!("{} · {}", pet(timing.end), pet(timing.end_p80)))];
    if let Some(minutes) = timing.margin_to_plan {
        let at_p80 = minutes - (timing.end_p80 - timing.end);
        facts.push(("Margin to plan", format!("{} · {}", margin(minutes), margin(at_p80))));
    }
    if let Some((minutes, at_p80)) = to_limit(timing) {
        facts.push(("Margin to limit", format!("{} · {}", margin(minutes), margin(at_p80))));
    }
    facts.extend(timing.chance_of_plan.map(|chance| ("Ends inside plan", per_cent(chance))));
    facts.extend(timing.chance.map(|chance| ("Ends inside limit", per_cent(chance))));
    facts
}

/// Minutes to the limit at the mean and at P80.
fn to_limit(timing: &Timing) -> Option<(f64, f64)> {
    let minutes = timing.margin?;
    Some((minutes, minutes - (timing.end_p80 - timing.end)))
}

/// `It ends at 6:38 at P80, 0:22 inside the limit.`
pub(super) fn sentence(plan: &TimedPlan) -> String {
    let Some(timing) = plan.ending() else { return String::new() };
    let end = pet(timing.end_p80);
    match to_limit(timing) {
        Some((_, left)) if left < 0.0 => {
            format!(" It ends at {end} at P80, {} past the limit.", margin(-left))
        }
        Some((_, left)) => format!(" It ends at {end} at P80, {} inside the limit.", margin(left)),
        None => format!(" It ends at {end} at P80; no limit is known."),
    }
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
    Some(Sampling {
        words: format!(
            "Chance to end inside the limit: {} worked out; of 10,000 draws of the same plan {} \
             did. {agree}",
            to_a_tenth(chance),
            to_a_tenth(share)
        ),
        apart,
    })
}
