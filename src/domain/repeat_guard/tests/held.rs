//! Remedies that did not hold.

use super::*;

fn verified(names: &[&str], reach: Reach, flight: i64) -> Answer {
    let when = When::on(flight, None, Phase::After, 1_000 + flight);
    Answer { when, ..answer(names, reach, RemedyState::Verified) }
}

/// The failures that show a remedy not to have held; `+` stands before those that are answered again.
fn again(tries: &[Try], answers: &[Answer]) -> Vec<String> {
    not_held(record(tries, answers, &[]))
        .into_iter()
        .map(|one| {
            format!("{}{} {}", if one.is_answered { "+" } else { "" }, one.remedy, one.attempt)
        })
        .collect()
}

#[test]
fn a_failure_after_the_remedy_was_verified_reopens_the_question() {
    let by = approach("K-1", "port");
    let tries = [failed(1, unit(1), &by), failed(5, unit(1), &by)];
    assert_eq!(again(&tries, &[verified(&["A-1"], Reach::ThisUnit, 3)]), ["R-1 A-5"]);
    // Verified after both: nothing came later.
    assert!(again(&tries, &[verified(&["A-1", "A-5"], Reach::ThisUnit, 6)]).is_empty());
}

#[test]
fn only_a_verified_remedy_can_fail_to_hold() {
    let by = approach("K-1", "port");
    let tries = [failed(1, unit(1), &by), failed(5, unit(1), &by)];
    for state in [RemedyState::Open, RemedyState::Done, RemedyState::Withdrawn] {
        let remedy = Answer { state, ..verified(&["A-1"], Reach::EveryUnit, 3) };
        assert!(again(&tries, &[remedy]).is_empty(), "{state}");
    }
}

#[test]
fn a_remedy_of_this_unit_says_nothing_of_its_sisters() {
    let by = approach("K-1", "port");
    let tries = [failed(1, unit(1), &by), failed(5, unit(2), &by)];
    assert!(again(&tries, &[verified(&["A-1"], Reach::ThisUnit, 3)]).is_empty());
    assert_eq!(again(&tries, &[verified(&["A-1"], Reach::EveryUnit, 3)]), ["R-1 A-5"]);
}

#[test]
fn another_approach_is_another_question() {
    let tries = [
        failed(1, unit(1), &approach("K-1", "port")),
        failed(4, unit(1), &approach("K-1", "aft")),
        failed(5, unit(1), &approach("K-2", "port")),
    ];
    assert!(again(&tries, &[verified(&["A-1"], Reach::EveryUnit, 3)]).is_empty());
}

#[test]
fn what_the_remedy_brought_counts_from_its_revision_on() {
    let new = approach("K-2", "aft");
    let flown = |revision| Try { revision, ..failed(5, unit(1), &new) };
    let brought = Answer {
        technique: Some("K-2".into()),
        revision: Some(4),
        ..verified(&["A-1"], Reach::ThisUnit, 3)
    };
    let first = failed(1, unit(1), &approach("K-1", "port"));
    for (revision, holds) in [(Some(3), true), (Some(4), false), (Some(5), false), (None, false)] {
        let tries = [first.clone(), flown(revision)];
        assert_eq!(again(&tries, std::slice::from_ref(&brought)).is_empty(), holds, "{revision:?}");
    }
}

#[test]
fn what_tells_nothing_or_went_well_reopens_nothing() {
    let by = approach("K-1", "port");
    let outside = account(Outcome::NotCompleted, Some(Scope::Outside));
    let never_begun = account(Outcome::NotReached, Some(Scope::Approach));
    let tries = [
        failed(1, unit(1), &by),
        tried(4, unit(1), &by, outside),
        tried(5, unit(1), &by, never_begun),
        done(6, unit(1), &by),
    ];
    assert!(again(&tries, &[verified(&["A-1"], Reach::EveryUnit, 3)]).is_empty());
}

#[test]
fn another_remedy_closes_the_question_and_naming_the_failure_afterwards_does_not() {
    let by = approach("K-1", "port");
    let tries = [failed(1, unit(1), &by), failed(5, unit(1), &by)];
    let first = verified(&["A-1"], Reach::ThisUnit, 3);
    let second = Answer { remedy: "R-2".into(), ..verified(&["A-5"], Reach::ThisUnit, 6) };
    assert_eq!(again(&tries, &[first.clone(), second.clone()]), ["+R-1 A-5"]);
    let open = Answer { state: RemedyState::Done, ..second };
    assert_eq!(again(&tries, &[first, open]), ["R-1 A-5"]);
    let widened = verified(&["A-1", "A-5"], Reach::ThisUnit, 3);
    assert_eq!(again(&tries, &[widened]), ["R-1 A-5"]);
}

#[test]
fn the_guard_takes_the_failure_after_the_remedy_as_unanswered() {
    let by = approach("K-1", "port");
    let tries = [failed(1, unit(1), &by), failed(5, unit(1), &by)];
    let remedy = [verified(&["A-1"], Reach::EveryUnit, 3)];
    let judged = |on: &UnitKey| judge(on, &by, record(&tries, &remedy, &[]));
    assert_eq!(judged(&unit(1)), blocked(&["A-5"]));
    assert_eq!(judged(&unit(2)), questioned(&["A-5"]));
}

#[test]
fn a_remedy_whose_day_nobody_knows_stands_where_it_was_entered() {
    let by = approach("K-1", "port");
    let tries = [failed(1, unit(1), &by), failed(5, unit(1), &by)];
    let entered = |entry| Answer {
        when: When::undated(entry),
        ..answer(&["A-1"], Reach::ThisUnit, RemedyState::Verified)
    };
    assert_eq!(again(&tries, &[entered(3)]), ["R-1 A-5"]);
    assert!(again(&tries, &[entered(9)]).is_empty(), "it was written down with A-5 in view");
}
