//! The words of the calls on Today that several of them share, and the sister units affected.

use super::calls::{Call, Looks};
use crate::addresses;
use crate::linked::linked;
use crate::pages::constraints::ended_by;
use app::attention::AffectedOn;
use app::constraints::InForce;
use domain::codes::{ExcursionCode, TaskCode};
use domain::constraints::ConstraintState;
use domain::repeat_guard::SisterEffect;
use domain::roles::Action;

/// `19 days left`, `113 days late`.
pub(super) fn left(days: i64) -> String {
    match days {
        1 => "1 day left".to_owned(),
        -1 => "1 day late".to_owned(),
        days if days < 0 => format!("{} days late", -days),
        days => format!("{days} days left"),
    }
}

/// `8 days ago`.
pub(super) fn ago(days: i64) -> String {
    match days {
        ..=0 => "today".to_owned(),
        1 => "yesterday".to_owned(),
        days => format!("{days} days ago"),
    }
}

/// A constraint past its date, or one that nothing ends before it.
pub(super) fn pressing(one: &InForce, looks: &Looks) -> Call {
    let code = one.constraint.code.0.to_string();
    let address = addresses::within("constraints", &code);
    let is_past = one.state == ConstraintState::PastDate;
    let forbidden = &one.constraint.forbidden;
    let may_keep = looks.may(Action::KeepConstraints);
    let (words, act, act_address, may) = match &one.constraint.task {
        _ if is_past => (
            format!("{forbidden}: past its date and still in force."),
            format!("Renew or lift {code}"),
            address.clone(),
            may_keep,
        ),
        // A task that is done already is set nowhere.
        Some(task) if one.done_before.is_none() => (
            format!("{forbidden}. {}", ended_by(one)),
            format!("Set {task} in time"),
            format!("{}#slots", addresses::within("tasks", task)),
            looks.may(Action::SetSlot),
        ),
        _ => (
            format!("{forbidden}. {}", ended_by(one)),
            format!("Name what ends {code}"),
            format!("{address}/edit"),
            may_keep,
        ),
    };
    let days = one.until.map(|until| until.since(looks.today));
    Call {
        words: linked(&words),
        when: days.map_or_else(String::new, left),
        is_late: is_past,
        act,
        act_address,
        may,
        is_yours: may,
        pressing: (3, days.unwrap_or(i64::MAX)),
        address,
        code,
    }
}

/// How one approach affects the open units of a family.
pub(super) fn affected_on(on: &AffectedOn, (may, is_yours): (bool, bool)) -> Call {
    let affected = &on.affected;
    let named = |(task, set): &(TaskCode, Option<ExcursionCode>)| match set {
        Some(excursion) => format!("{task} (set on {excursion})"),
        None => task.to_string(),
    };
    let mut units = on.units.iter().map(named).collect::<Vec<_>>().join(", ");
    let more = affected.units - super::whole(on.units.len());
    if more > 0 {
        units = format!("{units} and {more} more");
    }
    let (attempt, side, code) = (&affected.attempt, &affected.side, affected.technique.to_string());
    let (words, act, part) = match affected.what {
        SisterEffect::Questioned => (
            format!(
                "From {side}: {attempt} failed, and no remedy resolves it. Questioned on {units}."
            ),
            format!("Decide on {code} from {side}"),
            "in-question",
        ),
        SisterEffect::Offered => (
            format!(
                "From {side}: {attempt} ended done, for the first time in its family. Open units: {units}."
            ),
            format!("Use {code} from {side}"),
            "offered",
        ),
    };
    Call {
        address: addresses::within("techniques", &code),
        code,
        words: linked(&words),
        when: String::new(),
        is_late: false,
        act,
        act_address: format!("{}#{part}", addresses::within("families", &affected.family)),
        may,
        is_yours,
        pressing: (8, 1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_counted_with_their_noun() {
        assert_eq!([left(1), left(-1), left(19)], ["1 day left", "1 day late", "19 days left"]);
        assert_eq!([ago(0), ago(1), ago(8)], ["today", "yesterday", "8 days ago"]);
    }
}
