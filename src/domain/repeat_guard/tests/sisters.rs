//! Rule 5: sisters hear of a failure, and of a new way that worked.

use super::*;

fn exempt(task: &str, names: &[&str], reviewed: bool) -> Exempt {
    Exempt { exemption: "X-1".into(), task: task.into(), attempts: attempts(names), reviewed }
}

#[test]
fn a_failure_puts_its_approach_in_question_on_every_open_sister() {
    let by = approach("K-1", "nadir");
    let tries = [failed(1, unit(1), &by)];
    let open = [unit(1), unit(2), unit(3)];

    let turned = newly_in_question(&"A-1".into(), &open, record(&tries, &[], &[]));

    let told: Vec<_> = turned.iter().map(|t| (t.unit.clone(), t.after.clone())).collect();
    let expected = [
        (unit(1), shut(&["A-1"])),
        (unit(2), in_question(&["A-1"])),
        (unit(3), in_question(&["A-1"])),
    ];
    assert_eq!(told, expected);
    assert!(turned.iter().all(|t| t.before == Judgement::Clear && t.approach == by));
}

#[test]
fn a_second_failure_turns_a_question_into_shut() {
    let by = approach("K-1", "nadir");
    let tries = [failed(1, unit(2), &by), failed(2, unit(3), &by)];

    let turned = newly_in_question(&"A-2".into(), &[unit(1)], record(&tries, &[], &[]));

    assert_eq!(turned[0].before, in_question(&["A-1"]));
    assert_eq!(turned[0].after, shut(&["A-1", "A-2"]));
}

#[test]
fn what_is_no_failure_or_not_recorded_turns_nothing() {
    let by = approach("K-1", "nadir");
    let tries = [
        tried(1, unit(2), &by, account(Outcome::NotCompleted, Some(Scope::Outside))),
        done(2, unit(2), &by),
        failed(3, unit(2), &Approach::default()),
    ];

    for code in ["A-1", "A-2", "A-3", "A-9"] {
        let turned = newly_in_question(&code.into(), &[unit(1)], record(&tries, &[], &[]));
        assert_eq!(turned, [], "{code}");
    }
}

#[test]
fn a_reviewed_exemption_ends_the_question_for_that_task_alone() {
    let by = approach("K-1", "nadir");
    let tries = [failed(1, unit(2), &by), failed(2, unit(3), &by)];
    let with = |on: u8, exempt: &[Exempt]| judge(&unit(on), &by, record(&tries, &[], exempt));

    assert_eq!(with(1, &[exempt("T-1", &["A-1"], true)]), in_question(&["A-2"]));
    assert_eq!(with(1, &[exempt("T-1", &["A-1", "A-2"], true)]), Judgement::Clear);
    assert_eq!(with(1, &[exempt("T-1", &["A-1", "A-2"], false)]), shut(&["A-1", "A-2"]));
    assert_eq!(with(4, &[exempt("T-1", &["A-1", "A-2"], true)]), shut(&["A-1", "A-2"]));
}

#[test]
fn nobody_can_say_of_a_failure_here_that_it_does_not_apply_here() {
    let by = approach("K-1", "nadir");
    let tries = [failed(1, unit(1), &by)];
    let exempted = [exempt("T-1", &["A-1"], true)];

    assert_eq!(judge(&unit(1), &by, record(&tries, &[], &exempted)), shut(&["A-1"]));
}

#[test]
fn a_question_ends_with_a_later_done_on_a_sister() {
    let by = approach("K-1", "nadir");
    let tries = [failed(1, unit(2), &by), done(2, unit(2), &by)];

    assert_eq!(plainly(&unit(1), &by, &tries[..1]), in_question(&["A-1"]));
    assert_eq!(plainly(&unit(1), &by, &tries), Judgement::Clear);
}

#[test]
fn a_done_by_a_new_approach_is_offered_to_the_open_sisters_once() {
    let by = approach("K-1", "starboard");
    let tries = [failed(1, unit(2), &by), done(2, unit(2), &by), done(3, unit(3), &by)];
    let open = [unit(1), unit(2), unit(4)];
    let offered = |code: &str| offered_to_sisters(&code.into(), &open, record(&tries, &[], &[]));

    assert_eq!(offered("A-2"), [unit(1), unit(4)]);
    assert_eq!(offered("A-3"), [], "it was new no more");
    assert_eq!(offered("A-1"), []);
    assert_eq!(offered("A-9"), []);
}

#[test]
fn a_done_by_an_approach_that_was_not_recorded_offers_nothing() {
    let tries = [done(1, unit(2), &Approach::default())];

    assert_eq!(offered_to_sisters(&"A-1".into(), &[unit(1)], record(&tries, &[], &[])), []);
}
