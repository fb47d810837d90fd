//! Rule 5: sister units are affected by a failure, and by a new approach that worked.

use proptest::prelude::*;

use super::*;

fn turned_by(failed: &str, open: &[UnitKey], tries: &[Try]) -> Vec<WorseOnSister> {
    let record = record(tries, &[], &[]);
    newly_in_question(&failed.into(), open, record, &Guard::new(record))
}

fn exempt(task: &str, names: &[&str], reviewed: bool) -> Exempt {
    Exempt { exemption: "X-1".into(), task: task.into(), attempts: attempts(names), reviewed }
}

#[test]
fn a_failure_puts_its_approach_in_question_on_every_open_sister() {
    let by = approach("K-1", "nadir");
    let tries = [failed(1, unit(1), &by)];
    let open = [unit(1), unit(2), unit(3)];

    let turned = turned_by("A-1", &open, &tries);

    let told: Vec<_> = turned.iter().map(|t| (t.unit.clone(), t.after.clone())).collect();
    let expected = [
        (unit(1), blocked(&["A-1"])),
        (unit(2), questioned(&["A-1"])),
        (unit(3), questioned(&["A-1"])),
    ];
    assert_eq!(told, expected);
    assert!(turned.iter().all(|t| t.before == Judgement::Clear && t.approach == by));
}

#[test]
fn a_second_failure_turns_questioned_into_blocked() {
    let by = approach("K-1", "nadir");
    let tries = [failed(1, unit(2), &by), failed(2, unit(3), &by)];

    let turned = turned_by("A-2", &[unit(1)], &tries);

    assert_eq!(turned[0].before, questioned(&["A-1"]));
    assert_eq!(turned[0].after, blocked(&["A-1", "A-2"]));
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
        let turned = turned_by(code, &[unit(1)], &tries);
        assert_eq!(turned, [], "{code}");
    }
}

#[test]
fn a_reviewed_exemption_ends_the_question_for_that_task_alone() {
    let by = approach("K-1", "nadir");
    let tries = [failed(1, unit(2), &by), failed(2, unit(3), &by)];
    let with = |on: u8, exempt: &[Exempt]| judge(&unit(on), &by, record(&tries, &[], exempt));

    assert_eq!(with(1, &[exempt("T-1", &["A-1"], true)]), questioned(&["A-2"]));
    assert_eq!(with(1, &[exempt("T-1", &["A-1", "A-2"], true)]), Judgement::Clear);
    assert_eq!(with(1, &[exempt("T-1", &["A-1", "A-2"], false)]), blocked(&["A-1", "A-2"]));
    assert_eq!(with(4, &[exempt("T-1", &["A-1", "A-2"], true)]), blocked(&["A-1", "A-2"]));
}

#[test]
fn nobody_can_say_of_a_failure_here_that_it_does_not_apply_here() {
    let by = approach("K-1", "nadir");
    let tries = [failed(1, unit(1), &by)];
    let exempted = [exempt("T-1", &["A-1"], true)];

    assert_eq!(judge(&unit(1), &by, record(&tries, &[], &exempted)), blocked(&["A-1"]));
}

#[test]
fn a_question_ends_with_a_later_done_on_a_sister() {
    let by = approach("K-1", "nadir");
    let tries = [failed(1, unit(2), &by), done(2, unit(2), &by)];

    assert_eq!(plainly(&unit(1), &by, &tries[..1]), questioned(&["A-1"]));
    assert_eq!(plainly(&unit(1), &by, &tries), Judgement::Clear);
}

/// The units to which the first `done` by each approach is offered, with that `done`.
fn offers(tries: &[Try], open: &[UnitKey]) -> Vec<(AttemptCode, Vec<UnitKey>)> {
    let guard = Guard::new(record(tries, &[], &[]));
    let to = |done: &Try| open.iter().filter(|unit| is_offered_to(done, unit)).cloned().collect();
    guard.first_dones().map(|(_, done)| (done.attempt.clone(), to(done))).collect()
}

#[test]
fn a_done_by_a_new_approach_is_offered_to_the_open_sisters_once() {
    let by = approach("K-1", "starboard");
    // Entered late: it was the first all the same.
    let first = Try { when: When::on(1, Some(1), Phase::During, 9), ..done(2, unit(2), &by) };
    let tries = [failed(1, unit(2), &by), done(3, unit(3), &by), first];
    let open = [unit(1), unit(2), unit(4)];

    assert_eq!(offers(&tries, &open), [("A-2".into(), vec![unit(1), unit(4)])]);
}

#[test]
fn a_done_by_an_approach_that_was_not_recorded_offers_nothing() {
    let tries = [done(1, unit(2), &Approach::default())];

    assert_eq!(offers(&tries, &[unit(1)]), []);
}

/// One of a few families of tries: outcomes, units, approaches (one not recorded), some undated.
fn some_tries() -> impl Strategy<Value = Vec<Try>> {
    let one = (1..5u8, 0..3usize, 0..4u8, any::<bool>());
    proptest::collection::vec(one, 1..9).prop_map(|drawn| {
        let by = [approach("K-1", "nadir"), approach("K-2", "nadir"), Approach::default()];
        let made = |(number, (on, way, ends, dated)): (usize, (u8, usize, u8, bool))| {
            let number = i64::try_from(number).unwrap_or(0) + 1;
            let made = match ends {
                0 => done(number, unit(on), &by[way]),
                1 => {
                    let hardware = account(Outcome::NotCompleted, Some(Scope::Hardware));
                    tried(number, unit(on), &by[way], hardware)
                }
                _ => failed(number, unit(on), &by[way]),
            };
            let when = if dated { made.when } else { When::undated(number) };
            Try { when, ..made }
        };
        drawn.into_iter().enumerate().map(made).collect()
    })
}

proptest! {
    /// What an attempt turned is told without laying the family out anew; it is the same.
    #[test]
    fn what_turned_is_what_a_record_without_the_attempt_says(
        tries in some_tries(),
        names in proptest::collection::vec(1..9usize, 0..3),
    ) {
        let named: Vec<String> = names.iter().map(|name| format!("A-{name}")).collect();
        let named: Vec<&str> = named.iter().map(String::as_str).collect();
        let answers = [answer(&named, Reach::ThisUnit, RemedyState::Verified)];
        let units = [unit(1), unit(2), unit(3), unit(4)];
        let whole = record(&tries, &answers, &[]);
        let guard = Guard::new(whole);
        for made in &tries {
            let without: Vec<Try> =
                tries.iter().filter(|other| other.attempt != made.attempt).cloned().collect();
            for turned in newly_in_question(&made.attempt, &units, whole, &guard) {
                let earlier = judge(&turned.unit, &made.approach, record(&without, &answers, &[]));
                prop_assert_eq!(&turned.before, &earlier);
            }
            for unit in &units {
                let clear = guard.judge(unit, &made.approach) == Judgement::Clear;
                prop_assert_eq!(guard.is_clear(unit, &made.approach), clear);
            }
        }
    }
}
