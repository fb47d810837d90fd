//! The minutes against which “time ran out” is held.

use compute::three_point::ThreePoint;
use domain::attempts::Attempt;
use domain::history::Left;
use domain::plausible::AttemptContext;
use domain::slots::Slot;
use domain::units::{Minutes, Share};

/// The work that an attempt took on, as it stood then.
pub(super) struct Planned<'a> {
    /// The attempt as it was recorded before this edit.
    pub before: Option<&'a Attempt>,
    pub slot: Option<&'a Slot>,
    pub left_before: Option<Left>,
    pub time_ran_out: bool,
}

/// Whether an edit changes the work on which a stored cut-off stands, and not the cut-off itself.
pub(super) fn is_outdated(before: &Attempt, attempt: &Attempt) -> bool {
    let of = |one: &Attempt| {
        (one.task.clone(), one.slot.clone(), one.technique.clone(), one.planned_share)
    };
    before.cut_off == attempt.cut_off && of(before) != of(attempt)
}

/// The minutes that stand in for a cut-off while there is none: the 80 % point of the estimate
/// that held when it was set, else of the technique, else of the task; of the part of the work
/// that was planned, else of what was left.
pub(super) fn p80(
    known: &AttemptContext,
    planned: &Planned<'_>,
    share: Option<Share>,
) -> Option<Minutes> {
    let AttemptContext { task, technique, .. } = known;
    let left = planned.left_before.as_ref().map_or(Share::WHOLE, |left| left.most);
    let share = share.unwrap_or(left).min(left);
    let of_slot = planned.slot.map(|s| (s.optimistic, s.likely, s.pessimistic));
    let of_technique = technique.as_ref().map(|t| (t.optimistic, t.likely, t.pessimistic));
    let of_task = Some((task.optimistic, task.likely, task.pessimistic));
    let (a, m, b) = [of_slot, of_technique, of_task]
        .into_iter()
        .flatten()
        .find_map(|(a, m, b)| Some((a?, m?, b?)))?;
    let estimate = ThreePoint::new(real(a.0), real(m.0), real(b.0))?;
    Some(whole(estimate.part(real(share.0) / 100.0).quantile(0.8)))
}

/// Minutes and per cents stay far below the 2⁵³ that a float holds exactly.
#[expect(clippy::cast_precision_loss, reason = "minutes and per cents are small")]
fn real(number: i64) -> f64 {
    number as f64
}

#[expect(clippy::cast_possible_truncation, reason = "minutes are small")]
fn whole(minutes: f64) -> Minutes {
    Minutes(minutes.round() as i64)
}
