//! What a failure waits for until it is closed, who takes that step, and since when it is overdue.

use crate::cells::Line;
use crate::four_eyes::same_account;
use crate::repeat_guard::Tells;
use crate::time::Day;
use crate::words::{RemedyState, words};

/// A step waits so many days before it counts as overdue, where no flight says otherwise.
// common practice: a month from one meeting of a failure review board to the next but one.
pub const FINDING_DUE_DAYS: i64 = 30;

words! {
    /// The next step, in the order in which they follow on each other.
    Step {
        /// The attempt failed, no finding names it, and the work is still open.
        Explain = "write a finding",
        Review = "review a finding",
        /// Reviewed, and nothing is changed.
        Propose = "propose a remedy",
        CarryOut = "carry out a remedy",
        Verify = "verify a remedy",
        /// It failed again after a verified remedy.
        Reconsider = "resolve a failure after a verified remedy"
    }
}

/// Who takes a step.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Who {
    /// This person or crew role.
    Named(Line),
    /// Nobody does it for themselves: whoever touched the record, and whom it names.
    AnyoneBut(Vec<Line>),
    /// Nobody is named; any engineer may.
    Anyone,
}

/// A step that waits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wait {
    pub step: Step,
    pub who: Who,
    /// From this day on it is overdue; `None`: nobody knows.
    pub due: Option<Day>,
    pub overdue: bool,
}

/// A finding, as far as the next step hangs on it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FindingStands {
    pub author: Option<Line>,
    /// The accounts that wrote or edited it.
    pub touched_by: Vec<Line>,
    pub written_on: Option<Day>,
    pub is_reviewed: bool,
    pub reviewed_on: Option<Day>,
    /// Some remedy of it was not withdrawn.
    pub has_remedy: bool,
    /// A failure after one of its verified remedies that nothing answers yet.
    pub failed_again_on: Option<Option<Day>>,
}

/// A remedy, as far as the next step hangs on it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RemedyStands {
    pub owner: Option<Line>,
    /// The accounts that wrote it, edited it or marked it done.
    pub touched_by: Vec<Line>,
    pub state: RemedyState,
    /// The flight that needs it has begun or is over.
    pub flight_has_begun: bool,
    pub launch: Option<Day>,
}

/// The next step of a finding, or `None` where it waits for nothing but its remedies.
pub fn of_finding(finding: &FindingStands, today: Day) -> Option<Wait> {
    let author = || finding.author.clone().map_or(Who::Anyone, Who::Named);
    if !finding.is_reviewed {
        let who = anyone_but(finding.author.as_ref(), &finding.touched_by);
        return Some(since(Step::Review, who, finding.written_on, today));
    }
    if let Some(again) = finding.failed_again_on {
        return Some(since(Step::Reconsider, author(), again, today));
    }
    if !finding.has_remedy {
        return Some(since(Step::Propose, author(), finding.reviewed_on, today));
    }
    None
}

/// The next step of a remedy: its owner carries it out, somebody else verifies it; both before the
/// flight that needs it.
pub fn of_remedy(remedy: &RemedyStands, today: Day) -> Option<Wait> {
    let (step, who) = match remedy.state {
        RemedyState::Open => (Step::CarryOut, remedy.owner.clone().map_or(Who::Anyone, Who::Named)),
        RemedyState::Done => (Step::Verify, anyone_but(remedy.owner.as_ref(), &remedy.touched_by)),
        RemedyState::Verified | RemedyState::Withdrawn => return None,
    };
    let overdue = remedy.flight_has_begun || remedy.launch.is_some_and(|launch| launch <= today);
    Some(Wait { step, who, due: remedy.launch, overdue })
}

/// Each name once, the one that the record gives first.
fn anyone_but(named: Option<&Line>, touched_by: &[Line]) -> Who {
    let mut barred: Vec<Line> = Vec::new();
    for name in named.into_iter().chain(touched_by) {
        if !barred.iter().any(|known| same_account(known.as_str(), name.as_str())) {
            barred.push(name.clone());
        }
    }
    Who::AnyoneBut(barred)
}

/// Whether an attempt waits for a finding. Once the work has ended, nobody is asked to explain how it
/// failed before.
pub fn waits_for_finding(tells: Tells, has_finding: bool, is_open_item: bool) -> bool {
    tells == Tells::Failure && !has_finding && is_open_item
}

/// An attempt that failed on this day and that no finding names.
pub fn of_failure(day: Option<Day>, today: Day) -> Wait {
    since(Step::Explain, Who::Anyone, day, today)
}

/// Days before this one have waited too long.
pub fn patience_ended(today: Day) -> Day {
    today.plus(-FINDING_DUE_DAYS)
}

fn since(step: Step, who: Who, day: Option<Day>, today: Day) -> Wait {
    let due = day.map(|day| day.plus(FINDING_DUE_DAYS));
    Wait { step, who, due, overdue: day.is_some_and(|day| day < patience_ended(today)) }
}

impl std::fmt::Display for Who {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Named(name) => write!(f, "{name}"),
            Self::AnyoneBut(names) if !names.is_empty() => {
                let names: Vec<&str> = names.iter().map(Line::as_str).collect();
                write!(f, "anyone but {}", names.join(", "))
            }
            Self::AnyoneBut(_) | Self::Anyone => f.write_str("any engineer"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cells::Cell as _;

    fn day(text: &str) -> Day {
        Day::read(text).unwrap()
    }

    fn line(text: &str) -> Line {
        Line::known(text)
    }

    fn finding() -> FindingStands {
        FindingStands {
            author: Some(line("engineer")),
            touched_by: vec![line("Engineer")],
            written_on: Some(day("2030-11-01")),
            is_reviewed: true,
            reviewed_on: Some(day("2030-11-05")),
            has_remedy: true,
            failed_again_on: None,
        }
    }

    fn remedy(state: RemedyState) -> RemedyStands {
        RemedyStands {
            owner: Some(line("tools engineer")),
            touched_by: vec![line("engineer")],
            state,
            flight_has_begun: false,
            launch: Some(day("2031-03-18")),
        }
    }

    #[test]
    fn a_finding_waits_for_its_review_then_for_a_remedy_then_for_nothing() {
        let today = day("2030-11-21");
        let waits = |stands: &FindingStands| {
            of_finding(stands, today).map(|wait| (wait.step, wait.who.to_string()))
        };
        let written = FindingStands { is_reviewed: false, has_remedy: false, ..finding() };
        assert_eq!(waits(&written), Some((Step::Review, "anyone but engineer".into())));
        let bare = FindingStands { has_remedy: false, ..finding() };
        assert_eq!(waits(&bare), Some((Step::Propose, "engineer".into())));
        assert_eq!(waits(&finding()), None);
    }

    #[test]
    fn a_question_that_was_reopened_waits_for_the_author_again() {
        let again = FindingStands { failed_again_on: Some(Some(day("2030-10-01"))), ..finding() };
        let wait = of_finding(&again, day("2030-11-21")).unwrap();
        assert_eq!((wait.step, wait.who.to_string()), (Step::Reconsider, "engineer".into()));
        assert_eq!((wait.due, wait.overdue), (Some(day("2030-10-31")), true));
        let undated = FindingStands { failed_again_on: Some(None), ..finding() };
        assert!(
            !of_finding(&undated, day("2030-11-21")).unwrap().overdue,
            "nobody knows since when"
        );
    }

    #[test]
    fn nobody_is_asked_to_verify_their_own_remedy() {
        let today = day("2030-11-21");
        let who = |state| of_remedy(&remedy(state), today).map(|wait| wait.who.to_string());
        assert_eq!(who(RemedyState::Open).as_deref(), Some("tools engineer"));
        assert_eq!(who(RemedyState::Done).as_deref(), Some("anyone but tools engineer, engineer"));
        assert_eq!(who(RemedyState::Verified), None);
        assert_eq!(who(RemedyState::Withdrawn), None);
    }

    #[test]
    fn a_remedy_is_overdue_once_the_flight_that_needs_it_has_begun() {
        let overdue = |remedy: &RemedyStands, on: &str| of_remedy(remedy, day(on)).unwrap().overdue;
        let open = remedy(RemedyState::Open);
        assert!(!overdue(&open, "2031-03-17"));
        assert!(overdue(&open, "2031-03-18"));
        let early = RemedyStands { flight_has_begun: true, ..open.clone() };
        assert!(overdue(&early, "2031-03-01"), "launched before its planned day");
        let unknown = RemedyStands { launch: None, ..open };
        assert!(!overdue(&unknown, "2040-01-01"));
    }

    #[test]
    fn only_a_failure_of_open_work_without_a_finding_waits_for_one() {
        assert!(waits_for_finding(Tells::Failure, false, true));
        assert!(!waits_for_finding(Tells::Failure, true, true));
        assert!(!waits_for_finding(Tells::Failure, false, false), "it was done in the end");
        assert!(!waits_for_finding(Tells::Nothing, false, true), "not reached is not failed");
    }

    #[test]
    fn a_failure_is_overdue_after_thirty_days_and_not_on_the_thirtieth() {
        let on = day("2030-10-22");
        assert_eq!(day("2030-11-21").since(on), FINDING_DUE_DAYS);
        assert!(!of_failure(Some(on), day("2030-11-21")).overdue);
        assert!(of_failure(Some(on), day("2030-11-22")).overdue);
    }
}
