//! Failures after a verified remedy, in words.

use crate::linked::{Piece, ended, linked};
use app::read::remedies::NotHeldSeen;

/// A failure that shows a remedy not to have held.
pub(crate) struct Again {
    pub attempt: String,
    /// No finding explains that failure yet.
    pub is_unexplained: bool,
    pub remedy: String,
    pub finding: Option<String>,
    pub words: Vec<Piece>,
    pub is_answered: bool,
}

pub(crate) fn all(seen: &[NotHeldSeen]) -> Vec<Again> {
    seen.iter().map(again).collect()
}

fn again(seen: &NotHeldSeen) -> Again {
    Again {
        attempt: seen.attempt.to_string(),
        is_unexplained: seen.explained_by.is_none(),
        remedy: seen.remedy.to_string(),
        finding: seen.finding.as_ref().map(ToString::to_string),
        words: linked(&sentence(seen)),
        is_answered: seen.is_answered,
    }
}

/// `R-011 was verified on 2029-05-29 and did not hold: A-0098 failed on 2030-02-07 (T-0127, E-35.1,
/// K-SWAP2 from aft). The same kind of cause again: Bolt or pin binds. N-016 explains it.`
pub(crate) fn sentence(seen: &NotHeldSeen) -> String {
    let verified = seen.verified_on.map_or_else(String::new, |day| format!(" on {day}"));
    let failed = seen.day.map_or_else(String::new, |day| format!(" on {day}"));
    let by = match (&seen.technique, &seen.side) {
        (Some(technique), Some(side)) => format!(", {technique} from {side}"),
        (Some(technique), None) => format!(", {technique}"),
        (None, Some(side)) => format!(", from {side}"),
        (None, None) => String::new(),
    };
    let cause = match (&seen.cause, seen.is_same_cause) {
        (Some(cause), true) => format!("The same kind of cause again: {}", ended(cause)),
        (Some(cause), false) => format!("Another kind of cause this time: {}", ended(cause)),
        (None, _) => "Nobody has named a cause yet.".to_owned(),
    };
    let explained = match &seen.explained_by {
        Some(finding) => format!("{finding} explains it."),
        None => "No finding explains it yet.".to_owned(),
    };
    format!(
        "{} was verified{verified} and did not hold: {} failed{failed} ({}, {}{by}). {cause} {explained}",
        seen.remedy, seen.attempt, seen.task, seen.excursion
    )
}

/// The attempts that one remedy did not prevent.
pub(crate) fn of_remedy(seen: &[NotHeldSeen], remedy: &str) -> Vec<(String, bool)> {
    seen.iter()
        .filter(|one| one.remedy.as_str() == remedy)
        .map(|one| (one.attempt.to_string(), one.is_answered))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::cells::{Cell as _, Line};
    use domain::sides::Side;
    use domain::time::Day;

    #[test]
    fn the_sentence_names_remedy_failure_and_whether_the_cause_is_the_same() {
        let seen = NotHeldSeen {
            remedy: "R-1".into(),
            what: Line::known("Grease"),
            finding: None,
            verified_on: Day::read("2030-01-02").ok(),
            attempt: "A-9".into(),
            task: "T-1".into(),
            title: "Swap".into(),
            excursion: "E-36.1".into(),
            day: Day::read("2030-11-01").ok(),
            technique: Some("K-1".into()),
            side: Some(Side::read("aft").unwrap()),
            cause: Some("Bolt binds".into()),
            is_same_cause: true,
            is_answered: false,
            explained_by: Some("N-2".into()),
        };
        assert_eq!(
            sentence(&seen),
            "R-1 was verified on 2030-01-02 and did not hold: A-9 failed on 2030-11-01 (T-1, E-36.1, \
             K-1 from aft). The same kind of cause again: Bolt binds. N-2 explains it."
        );
        let unknown = NotHeldSeen {
            verified_on: None,
            day: None,
            technique: None,
            side: None,
            cause: None,
            explained_by: None,
            ..seen
        };
        assert_eq!(
            sentence(&unknown),
            "R-1 was verified and did not hold: A-9 failed (T-1, E-36.1). Nobody has named a cause yet. \
             No finding explains it yet."
        );
    }
}
