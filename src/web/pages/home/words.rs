//! The words of the calls on Today that several of them share, and the sister units affected.

use super::calls::Call;
use crate::addresses;
use crate::linked::linked;
use crate::pages::constraints::{ended_by, safe_until};
use app::attention::AffectedOn;
use app::constraints::InForce;
use domain::codes::{ExcursionCode, TaskCode};
use domain::constraints::ConstraintState;
use domain::repeat_guard::SisterEffect;
use domain::time::Day;

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
pub(super) fn pressing(one: &InForce, today: Day, is_yours: bool) -> Call {
    let code = one.constraint.code.0.to_string();
    let address = addresses::within("constraints", &code);
    let until = match safe_until(one).as_str() {
        "no date" => String::new(),
        until => format!(", safe until {until}"),
    };
    let is_past = one.state == ConstraintState::PastDate;
    let (past, act) = if is_past {
        (" It is past its date and still in force.", "Renew, end or lift")
    } else {
        ("", "Look at")
    };
    let days = one.until.map(|until| until.since(today));
    Call {
        words: linked(&format!("{}{until}.{past} {}", one.constraint.forbidden, ended_by(one))),
        when: days.map_or_else(String::new, left),
        is_late: is_past,
        act: format!("{act} {code}"),
        act_address: address.clone(),
        is_yours,
        pressing: (3, days.unwrap_or(i64::MAX)),
        address,
        code,
    }
}

/// How one approach affects the open units of a family.
pub(super) fn affected_on(on: &AffectedOn, is_yours: bool) -> Call {
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
        SisterEffect::InQuestion => (
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
