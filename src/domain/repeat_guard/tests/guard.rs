//! Rule 4: blocked, questioned, resolved, and what nobody can tell.

use proptest::prelude::*;

use super::*;

#[test]
fn what_was_never_tried_is_clear() {
    assert_eq!(plainly(&unit(1), &approach("K-1", "nadir"), &[]), Judgement::Clear);
}

#[test]
fn one_failure_on_the_unit_blocks_the_approach_for_it() {
    let by = approach("K-1", "nadir");
    let tries = [failed(1, unit(1), &by)];

    assert_eq!(plainly(&unit(1), &by, &tries), blocked(&["A-1"]));
    let other_side = approach("K-1", "starboard");
    assert_eq!(plainly(&unit(1), &other_side, &tries), Judgement::Clear);
    assert_eq!(plainly(&unit(1), &approach("K-2", "nadir"), &tries), Judgement::Clear);
}

#[test]
fn one_failure_on_a_sister_questions_and_two_block() {
    let by = approach("K-1", "nadir");
    let tries = [failed(2, unit(3), &by), failed(1, unit(2), &by)];

    assert_eq!(plainly(&unit(1), &by, &tries[..1]), questioned(&["A-2"]));
    assert_eq!(plainly(&unit(1), &by, &tries), blocked(&["A-1", "A-2"]));
    let same_sister_twice = [failed(1, unit(2), &by), failed(2, unit(2), &by)];
    assert_eq!(plainly(&unit(1), &by, &same_sister_twice), blocked(&["A-1", "A-2"]));
}

#[test]
fn what_tells_nothing_shuts_nothing() {
    let by = approach("K-1", "nadir");
    let tries = [
        tried(1, unit(1), &by, account(Outcome::NotReached, None)),
        tried(2, unit(1), &by, account(Outcome::NotCompleted, Some(Scope::Outside))),
        tried(3, unit(1), &by, account(Outcome::NotCompleted, Some(Scope::Diagnosis))),
    ];

    assert_eq!(plainly(&unit(1), &by, &tries), Judgement::Clear);
}

#[test]
fn only_a_verified_remedy_that_names_the_failure_answers_it() {
    let by = approach("K-1", "nadir");
    let tries = [failed(1, unit(1), &by)];
    let with = |answers: &[Answer]| judge(&unit(1), &by, record(&tries, answers, &[]));

    for state in RemedyState::ALL {
        let expected =
            if *state == RemedyState::Verified { Judgement::Clear } else { blocked(&["A-1"]) };
        assert_eq!(with(&[answer(&["A-1"], Reach::ThisUnit, *state)]), expected, "{state}");
    }
    let other = answer(&["A-7"], Reach::EveryUnit, RemedyState::Verified);
    assert_eq!(with(&[other]), blocked(&["A-1"]));
}

#[test]
fn a_remedy_answers_only_where_it_reaches() {
    let by = approach("K-1", "nadir");
    let tries = [failed(1, unit(2), &by)];
    let with = |on: u8, reach| {
        judge(
            &unit(on),
            &by,
            record(&tries, &[answer(&["A-1"], reach, RemedyState::Verified)], &[]),
        )
    };

    assert_eq!(with(1, Reach::ThisUnit), questioned(&["A-1"]));
    assert_eq!(with(2, Reach::ThisUnit), Judgement::Clear);
    assert_eq!(with(1, Reach::EveryUnit), Judgement::Clear);
}

#[test]
fn a_remedy_made_on_two_units_reaches_both() {
    let by = approach("K-1", "nadir");
    let tries = [failed(1, unit(1), &by), failed(2, unit(2), &by), failed(3, unit(2), &by)];
    let both = [answer(&["A-1", "A-2", "A-3"], Reach::ThisUnit, RemedyState::Verified)];

    assert_eq!(judge(&unit(1), &by, record(&tries, &both, &[])), Judgement::Clear);
    assert_eq!(judge(&unit(3), &by, record(&tries, &both, &[])), blocked(&["A-1", "A-2", "A-3"]));
}

#[test]
fn a_new_failure_after_the_remedy_shuts_again() {
    let by = approach("K-1", "nadir");
    let tries = [failed(1, unit(1), &by), failed(2, unit(1), &by)];
    let first = [answer(&["A-1"], Reach::EveryUnit, RemedyState::Verified)];

    assert_eq!(judge(&unit(1), &by, record(&tries, &first, &[])), blocked(&["A-2"]));
}

#[test]
fn a_done_counts_where_its_failure_was() {
    let by = approach("K-1", "nadir");
    let here = failed(1, unit(1), &by);
    let there = [failed(1, unit(2), &by), failed(2, unit(3), &by)];

    let on_the_unit = done(3, unit(1), &by);
    let on_a_sister = done(3, unit(4), &by);
    assert_eq!(plainly(&unit(1), &by, &[here.clone(), on_the_unit.clone()]), Judgement::Clear);
    assert_eq!(plainly(&unit(1), &by, &[here, on_a_sister.clone()]), blocked(&["A-1"]));
    let [one, two] = there;
    let sisters = [one.clone(), two.clone(), on_a_sister];
    assert_eq!(plainly(&unit(1), &by, &sisters), Judgement::Clear);
    assert_eq!(plainly(&unit(1), &by, &[one, two, on_the_unit]), blocked(&["A-1", "A-2"]));
}

#[test]
fn a_done_counts_only_since_and_only_by_that_approach() {
    let by = approach("K-1", "nadir");
    let failure = failed(5, unit(1), &by);

    assert_eq!(
        plainly(&unit(1), &by, &[done(4, unit(1), &by), failure.clone()]),
        blocked(&["A-5"])
    );
    let other_way = done(6, unit(1), &approach("K-1", "zenith"));
    assert_eq!(plainly(&unit(1), &by, &[failure, other_way]), blocked(&["A-5"]));
}

#[test]
fn a_part_that_reached_its_plan_is_no_done_and_opens_nothing_again() {
    let by = approach("K-1", "nadir");
    let mut reached = tried(2, unit(1), &by, account(Outcome::PartDone, None));
    reached.account.added = Some(Share(40));
    reached.account.planned = Some(Share(40));

    assert_eq!(plainly(&unit(1), &by, &[failed(1, unit(1), &by), reached]), blocked(&["A-1"]));
}

#[test]
fn what_the_hardware_caused_goes_with_the_serial() {
    let by = approach("K-1", "nadir");
    let seized = tried(1, unit(1), &by, account(Outcome::NotCompleted, Some(Scope::Hardware)));
    let spare = UnitKey { unit: Some("U-9".into()), ..unit(1) };
    let moved = UnitKey { unit: Some("U-1".into()), ..unit(7) };

    assert_eq!(plainly(&spare, &by, std::slice::from_ref(&seized)), questioned(&["A-1"]));
    assert_eq!(plainly(&moved, &by, std::slice::from_ref(&seized)), blocked(&["A-1"]));
}

#[test]
fn what_the_place_caused_stays_with_the_position() {
    let by = approach("K-1", "nadir");
    let spare = UnitKey { unit: Some("U-9".into()), ..unit(1) };
    let moved = UnitKey { unit: Some("U-1".into()), ..unit(7) };
    for scope in [Some(Scope::Approach), None] {
        let no_reach = tried(1, unit(1), &by, account(Outcome::NotCompleted, scope));

        assert_eq!(plainly(&spare, &by, std::slice::from_ref(&no_reach)), blocked(&["A-1"]));
        assert_eq!(plainly(&moved, &by, std::slice::from_ref(&no_reach)), questioned(&["A-1"]));
    }
}

#[test]
fn a_failure_of_the_hardware_is_outlived_by_a_done_on_that_serial_wherever_it_stood() {
    let by = approach("K-1", "nadir");
    let seized = tried(1, unit(1), &by, account(Outcome::NotCompleted, Some(Scope::Hardware)));
    let moved = UnitKey { unit: Some("U-1".into()), ..unit(7) };
    let spare = UnitKey { unit: Some("U-9".into()), ..unit(1) };

    let on_the_serial = [seized.clone(), done(2, unit(1), &by)];
    assert_eq!(plainly(&moved, &by, &on_the_serial), Judgement::Clear);
    let on_the_spare = [seized, done(2, spare, &by)];
    assert_eq!(plainly(&unit(1), &by, &on_the_spare), blocked(&["A-1"]));
}

#[test]
fn hardware_without_a_serial_is_told_apart_by_its_position() {
    let by = approach("K-1", "nadir");
    let bare = |task: &str, place: &str| UnitKey {
        task: task.into(),
        unit: None,
        position: Some(place.into()),
    };
    let hardware = account(Outcome::NotCompleted, Some(Scope::Hardware));
    let tries = [tried(1, bare("T-1", "P-1"), &by, hardware)];

    assert_eq!(plainly(&bare("T-2", "P-1"), &by, &tries), blocked(&["A-1"]));
    assert_eq!(plainly(&bare("T-2", "P-2"), &by, &tries), questioned(&["A-1"]));
}

#[test]
fn where_nothing_tells_units_apart_the_task_does() {
    let by = approach("K-1", "nadir");
    let bare = |task: &str| UnitKey { task: task.into(), unit: None, position: None };
    let seized = tried(1, bare("T-1"), &by, account(Outcome::NotCompleted, Some(Scope::Hardware)));
    let tries = [seized];

    assert_eq!(plainly(&bare("T-1"), &by, &tries), blocked(&["A-1"]));
    assert_eq!(plainly(&bare("T-2"), &by, &tries), questioned(&["A-1"]));
}

#[test]
fn what_was_not_recorded_cannot_be_told_wherever_it_could_match() {
    let no_side = Approach { side: None, ..approach("K-1", "nadir") };
    let no_technique = Approach { technique: None, ..approach("K-1", "nadir") };
    let by = approach("K-1", "nadir");

    for unclear in [&no_side, &no_technique, &Approach::default()] {
        let tries = [failed(1, unit(1), unclear)];
        assert_eq!(plainly(&unit(1), &by, &tries), cannot_tell(&["A-1"]), "{unclear}");
        assert_eq!(plainly(&unit(2), &by, &tries), cannot_tell(&["A-1"]), "{unclear}");
    }
    let elsewhere = [failed(1, unit(1), &no_side)];
    assert_eq!(plainly(&unit(1), &approach("K-2", "nadir"), &elsewhere), Judgement::Clear);
    let other_side = [failed(1, unit(1), &no_technique)];
    assert_eq!(plainly(&unit(1), &approach("K-1", "aft"), &other_side), Judgement::Clear);
}

#[test]
fn an_approach_not_fully_chosen_cannot_be_told_from_what_failed() {
    let tries = [failed(1, unit(1), &approach("K-1", "nadir"))];
    let open = Approach { side: None, ..approach("K-1", "nadir") };

    assert_eq!(plainly(&unit(1), &open, &tries), cannot_tell(&["A-1"]));
    assert_eq!(plainly(&unit(1), &open, &[]), Judgement::Clear);
    let done_somehow = [failed(1, unit(1), &open), done(2, unit(1), &open)];
    assert_eq!(plainly(&unit(1), &open, &done_somehow), cannot_tell(&["A-1"]));
}

#[test]
fn what_is_sure_goes_before_what_cannot_be_told_and_that_before_a_question() {
    let by = approach("K-1", "nadir");
    let unclear = failed(1, unit(2), &Approach::default());

    let with_question = [unclear.clone(), failed(2, unit(3), &by)];
    assert_eq!(plainly(&unit(1), &by, &with_question), cannot_tell(&["A-1"]));
    let with_shut = [unclear, failed(2, unit(1), &by)];
    assert_eq!(plainly(&unit(1), &by, &with_shut), blocked(&["A-2"]));
}

#[test]
fn an_unclear_failure_can_be_answered_and_outlived() {
    let by = approach("K-1", "nadir");
    let tries = [failed(1, unit(1), &Approach::default())];
    let remedy = [answer(&["A-1"], Reach::ThisUnit, RemedyState::Verified)];
    assert_eq!(judge(&unit(1), &by, record(&tries, &remedy, &[])), Judgement::Clear);

    let [unclear] = tries;
    let outlived = [unclear.clone(), done(2, unit(1), &by)];
    assert_eq!(plainly(&unit(1), &by, &outlived), Judgement::Clear);
    let unclear_done = [unclear, done(2, unit(1), &Approach::default())];
    assert_eq!(plainly(&unit(1), &by, &unclear_done), cannot_tell(&["A-1"]));
}

#[test]
fn the_gate_reads_the_judgement() {
    use crate::words::GateVerdict;
    let gates =
        [Judgement::Clear, questioned(&[]), cannot_tell(&[]), blocked(&[])].map(|j| j.gate());

    assert_eq!(
        gates,
        [GateVerdict::Met, GateVerdict::Tight, GateVerdict::CannotTell, GateVerdict::NotMet]
    );
}

#[test]
fn the_refusal_names_the_attempts_and_the_approaches_left() {
    let by = approach("K-1", "nadir");
    let left = [approach("K-1", "starboard")];

    let said = refusal(&by, &blocked(&["A-1", "A-2"]), &left).unwrap();
    assert!(said.contains("K-1 from nadir is blocked"), "{said}");
    assert!(said.contains("A-1, A-2"), "{said}");
    assert!(said.contains("K-1 from starboard"), "{said}");
    let said = refusal(&by, &blocked(&["A-1"]), &[]).unwrap();
    assert!(said.contains("No other approach is left"), "{said}");
    assert!(refusal(&by, &cannot_tell(&["A-4"]), &[]).unwrap().contains("A-4"));
    assert_eq!(refusal(&by, &questioned(&["A-1"]), &left), None);
    assert_eq!(refusal(&by, &Judgement::Clear, &left), None);
}

fn any_tries() -> impl Strategy<Value = Vec<Try>> {
    let scopes = prop::option::of(prop::sample::select(Scope::ALL));
    let ways = prop::sample::select(vec![
        approach("K-1", "nadir"),
        approach("K-2", "nadir"),
        Approach { side: None, ..approach("K-1", "nadir") },
    ]);
    let one = (1..5_u8, ways, prop::sample::select(Outcome::ALL), scopes);
    prop::collection::vec(one, 0..10).prop_map(|all| {
        let numbered = (1..).zip(all);
        numbered
            .map(|(n, (on, by, how, scope))| tried(n, unit(on), &by, account(how, scope)))
            .collect()
    })
}

fn rank(judgement: &Judgement) -> u8 {
    match judgement {
        Judgement::Clear => 0,
        Judgement::Questioned { .. } => 1,
        Judgement::CannotTell { .. } => 2,
        Judgement::Blocked { .. } => 3,
    }
}

proptest! {
    #[test]
    fn the_judgement_does_not_depend_on_the_order_of_the_tries(
        (tries, shuffled) in any_tries().prop_flat_map(|t| (Just(t.clone()), Just(t).prop_shuffle()))
    ) {
        let by = approach("K-1", "nadir");
        prop_assert_eq!(plainly(&unit(1), &by, &tries), plainly(&unit(1), &by, &shuffled));
    }

    #[test]
    fn remedies_for_everything_open_everything(tries in any_tries()) {
        let named = tries.iter().map(|tried| tried.attempt.clone()).collect();
        let all = Answer { attempts: named, ..answer(&[], Reach::EveryUnit, RemedyState::Verified) };
        let judged = judge(&unit(1), &approach("K-1", "nadir"), record(&tries, &[all], &[]));
        prop_assert_eq!(judged, Judgement::Clear);
    }

    #[test]
    fn what_is_asked_shortly_is_what_the_judgement_says(tries in any_tries(), on in 1..5_u8) {
        let guard = Guard::new(record(&tries, &[], &[]));
        for by in [approach("K-1", "nadir"), approach("K-1", "zenith"), Approach::default()] {
            let judged = guard.judge(&unit(on), &by);
            let says = matches!(judged, Judgement::Questioned { .. });
            prop_assert_eq!(guard.is_in_question(&unit(on), &by), says, "{:?}", judged);
        }
    }

    #[test]
    fn one_more_failure_never_makes_it_better(tries in any_tries(), on in 1..5_u8) {
        let by = approach("K-1", "nadir");
        let mut more = tries.clone();
        more.push(failed(99, unit(on), &by));
        prop_assert!(rank(&plainly(&unit(1), &by, &more)) >= rank(&plainly(&unit(1), &by, &tries)));
        prop_assert!(rank(&plainly(&unit(on), &by, &more)) == 3);
    }
}

#[test]
fn all_failures_are_named_and_a_verified_remedy_leaves_the_others() {
    let by = approach("K-1", "nadir");
    let tries = [failed(1, unit(1), &by), failed(2, unit(2), &by), failed(3, unit(3), &by)];
    let with = |answers: &[Answer]| Guard::new(record(&tries, answers, &[])).against(&unit(1), &by);

    let all = with(&[]);
    assert_eq!((all.here.len(), all.sisters.len()), (1, 2));
    assert_eq!(all.judgement(), blocked(&["A-1"]));
    // Two sisters go on blocking it once the failure here is resolved.
    let own = answer(&["A-1"], Reach::ThisUnit, RemedyState::Verified);
    let guard = Guard::new(record(&tries, &[], &[]));
    assert!(guard.reaches(&own, &unit(1)) && !guard.reaches(&own, &unit(2)));
    assert_eq!(with(&[own]).judgement(), blocked(&["A-2", "A-3"]));
}

proptest! {
    /// Taking the failures that a remedy resolves out of the list is what the guard says once the
    /// remedy is verified.
    #[test]
    fn what_a_remedy_would_leave_is_what_is_left_once_it_is_verified(
        on in prop::collection::vec((1..5_u8, 0..3_usize), 1..7),
        named in prop::collection::vec(1..7_i64, 1..4),
        every in any::<bool>(),
    ) {
        let ways = [
            approach("K-1", "nadir"),
            approach("K-2", "nadir"),
            Approach { side: None, ..approach("K-1", "nadir") },
        ];
        let tries: Vec<Try> =
            (1..).zip(&on).map(|(number, (u, by))| failed(number, unit(*u), &ways[*by])).collect();
        let codes: Vec<String> = named.iter().map(|number| format!("A-{number}")).collect();
        let codes: Vec<&str> = codes.iter().map(String::as_str).collect();
        let reach = if every { Reach::EveryUnit } else { Reach::ThisUnit };
        let verified = answer(&codes, reach, RemedyState::Verified);
        for number in 1..5 {
            let guard = Guard::new(record(&tries, &[], &[]));
            let before = guard.against(&unit(number), &ways[0]);
            let reaches = guard.reaches(&verified, &unit(number));
            let left = before.without(|attempt| reaches && verified.attempts.contains(attempt));
            let answers = [verified.clone()];
            let after = Guard::new(record(&tries, &answers, &[])).against(&unit(number), &ways[0]);
            prop_assert_eq!(left, after);
        }
    }
}
