//! What an attempt tells about its approach. Not reached is not failed.

use crate::codes::CauseCode;
use crate::units::{Minutes, Share};
use crate::words::{Outcome, Scope, words};

words! {
    /// What one attempt says of the approach that it used.
    Tells { Success = "success", Failure = "failure", Nothing = "nothing" }
}

/// How one attempt ended, as far as its approach is concerned.
#[derive(Debug, Clone, PartialEq)]
pub struct Account {
    pub outcome: Outcome,
    /// What it added to the work; `None`: unknown, or nothing.
    pub added: Option<Share>,
    /// `None`: all that was left.
    pub planned: Option<Share>,
    /// The scope of the cause that decides (`deciding_cause`); `None`: no cause is known.
    pub scope: Option<Scope>,
    /// That cause is “time ran out”.
    pub time_ran_out: bool,
    pub minutes: Option<Minutes>,
    /// The approach's cut-off, or its P80 while it has none; `None`: it has neither.
    pub cut_off: Option<Minutes>,
}

/// The main cause that a finding gives.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReviewedCause {
    pub cause: Option<CauseCode>,
    pub reviewed: bool,
}

/// The cause that decides: the debrief's until a finding is reviewed, then that finding's main
/// cause. `findings` come oldest first; of several reviewed ones the last decides.
pub fn deciding_cause<'a>(
    debrief: Option<&'a CauseCode>,
    findings: &'a [ReviewedCause],
) -> Option<&'a CauseCode> {
    findings
        .iter()
        .rev()
        .filter(|finding| finding.reviewed)
        .find_map(|finding| finding.cause.as_ref())
        .or(debrief)
}

/// What the attempt tells. Reaching the planned share is a success, though the task stays part
/// done; falling short tells against the approach unless an outside cause or a wrong
/// diagnosis stopped it.
pub fn tells(account: &Account) -> Tells {
    match account.outcome {
        Outcome::NotReached => Tells::Nothing,
        Outcome::Done => Tells::Success,
        Outcome::PartDone | Outcome::NotCompleted if reached_the_plan(account) => Tells::Success,
        Outcome::PartDone | Outcome::NotCompleted => match account.scope {
            Some(Scope::Diagnosis) => Tells::Nothing,
            _ if account.time_ran_out => time_ran_out(account),
            Some(Scope::Outside) => Tells::Nothing,
            Some(Scope::Approach | Scope::Hardware) | None => Tells::Failure,
        },
    }
}

fn reached_the_plan(account: &Account) -> bool {
    account.added.zip(account.planned).is_some_and(|(added, planned)| added >= planned)
}

/// Time that ran out is somebody else's only while fewer minutes were spent than the approach may
/// take. Minutes that nobody noted are not known to be fewer; an approach without any such
/// figure cannot have used it up.
fn time_ran_out(account: &Account) -> Tells {
    match (account.minutes, account.cut_off) {
        (_, None) => Tells::Nothing,
        (Some(spent), Some(cut_off)) if spent < cut_off => Tells::Nothing,
        (Some(_) | None, Some(_)) => Tells::Failure,
    }
}
