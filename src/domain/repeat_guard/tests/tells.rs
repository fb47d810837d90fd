//! Rule 3: not reached is not failed.

use super::*;
use crate::codes::CauseCode;

use Outcome::{Done, NotCompleted, NotReached, PartDone};
use Scope::{Diagnosis, Hardware, Outside};

fn shares(share: i64, planned: i64) -> Account {
    Account {
        added: Some(Share(share)),
        planned: Some(Share(planned)),
        ..account(PartDone, Some(Scope::Approach))
    }
}

fn out_of_time(minutes: Option<i64>, cut_off: Option<i64>) -> Account {
    Account {
        time_ran_out: true,
        minutes: minutes.map(Minutes),
        cut_off: cut_off.map(Minutes),
        ..account(NotCompleted, Some(Outside))
    }
}

#[test]
fn what_was_never_begun_tells_nothing() {
    for scope in Scope::ALL {
        assert_eq!(tells(&account(NotReached, Some(*scope))), Tells::Nothing);
    }
    assert_eq!(tells(&account(NotReached, None)), Tells::Nothing);
}

#[test]
fn done_is_a_success_whatever_delayed_it() {
    assert_eq!(tells(&account(Done, None)), Tells::Success);
    assert_eq!(tells(&account(Done, Some(Hardware))), Tells::Success);
}

#[test]
fn the_scope_of_the_cause_says_whether_a_short_try_failed() {
    for outcome in [NotCompleted, PartDone] {
        let told = |scope| tells(&account(outcome, scope));
        assert_eq!(told(Some(Scope::Approach)), Tells::Failure);
        assert_eq!(told(Some(Hardware)), Tells::Failure);
        assert_eq!(told(None), Tells::Failure, "an unknown cause counts as the approach's");
        assert_eq!(told(Some(Outside)), Tells::Nothing);
        assert_eq!(told(Some(Diagnosis)), Tells::Nothing);
    }
}

#[test]
fn reaching_the_planned_share_is_a_success_though_the_task_stays_part_done() {
    assert_eq!(tells(&shares(40, 40)), Tells::Success);
    assert_eq!(tells(&shares(41, 40)), Tells::Success);
    assert_eq!(tells(&shares(39, 40)), Tells::Failure);
    let all_planned = Account { planned: None, ..shares(40, 0) };
    assert_eq!(tells(&all_planned), Tells::Failure);
}

#[test]
fn time_that_ran_out_is_outside_only_below_the_cut_off() {
    assert_eq!(tells(&out_of_time(Some(44), Some(45))), Tells::Nothing);
    assert_eq!(tells(&out_of_time(Some(45), Some(45))), Tells::Failure);
    assert_eq!(tells(&out_of_time(Some(60), Some(45))), Tells::Failure);
    assert_eq!(tells(&out_of_time(None, Some(45))), Tells::Failure);
    assert_eq!(tells(&out_of_time(Some(60), None)), Tells::Nothing);
}

#[test]
fn another_outside_cause_does_not_ask_for_minutes() {
    let suit = Account { time_ran_out: false, ..out_of_time(Some(60), Some(45)) };

    assert_eq!(tells(&suit), Tells::Nothing);
}

#[test]
fn the_debriefs_cause_decides_until_a_finding_is_reviewed() {
    let (debrief, jammed, access) =
        (CauseCode::from("17"), CauseCode::from("7"), CauseCode::from("12"));
    let finding =
        |cause: &CauseCode, reviewed| ReviewedCause { cause: Some(cause.clone()), reviewed };

    let open = [finding(&jammed, false)];
    assert_eq!(deciding_cause(Some(&debrief), &open), Some(&debrief));
    let reviewed = [finding(&jammed, true)];
    assert_eq!(deciding_cause(Some(&debrief), &reviewed), Some(&jammed));
    let two = [finding(&jammed, true), finding(&access, true), finding(&debrief, false)];
    assert_eq!(deciding_cause(Some(&debrief), &two), Some(&access));
    let silent = [ReviewedCause { cause: None, reviewed: true }];
    assert_eq!(deciding_cause(Some(&debrief), &silent), Some(&debrief));
    assert_eq!(deciding_cause(None, &open), None);
}
