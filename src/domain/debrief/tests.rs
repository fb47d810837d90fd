//! Rule 2: nothing is lost at the debrief.

use super::*;
use crate::cells::Cells;
use crate::records::Record;

fn set(slot: &str, task: &str) -> SetSlot {
    SetSlot { slot: slot.into(), task: task.into() }
}

fn cells(pairs: &[(&str, &str)]) -> Cells {
    pairs.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect()
}

fn tool(pairs: &[(&str, &str)]) -> ExcursionTool {
    let mut all = cells(&[("excursion", "E-36.1"), ("tool", "L-1"), ("taken_out", "2")]);
    for (name, text) in pairs {
        all.set(*name, *text);
    }
    ExcursionTool::parse(&all).unwrap()
}

fn attempt(pairs: &[(&str, &str)]) -> Attempt {
    let mut all = cells(&[("task", "T-1"), ("excursion", "E-36.1")]);
    for (name, text) in pairs {
        all.set(*name, *text);
    }
    Attempt::parse(&all).unwrap()
}

/// The fields that are wrong.
#[expect(clippy::needless_pass_by_value, reason = "the calls read better without a sign")]
fn wrong(pairs: &[(&str, &str)], around: ResultContext) -> Vec<String> {
    check_attempt(&attempt(pairs), &around).into_iter().map(|error| error.field).collect()
}

fn lacking(tools: &[ExcursionTool]) -> Vec<Missing> {
    missing(&[], &BTreeSet::new(), &[], tools)
}

#[test]
fn every_set_slot_asks_for_a_result() {
    let slots = [set("S-1", "T-1"), set("S-2", "T-2")];
    let answered = BTreeSet::from(["S-2".into()]);

    let open = missing(&slots, &answered, &[], &[]);

    assert_eq!(open, [Missing::NoResult { slot: "S-1".into(), task: "T-1".into() }]);
    assert!(open[0].to_string().contains("T-1"), "{}", open[0]);
    let all = BTreeSet::from(["S-1".into(), "S-2".into()]);
    assert_eq!(missing(&slots, &all, &[], &[]), []);
}

#[test]
fn a_result_that_was_begun_has_to_be_finished_planned_or_not() {
    let slots = [set("S-1", "T-1")];
    let begun = [(Some("S-1".into()), "T-1".into()), (None, "T-7".into())];

    let open = missing(&slots, &BTreeSet::new(), &begun, &[]);

    let expected = [
        Missing::Unfinished { slot: Some("S-1".into()), task: "T-1".into() },
        Missing::Unfinished { slot: None, task: "T-7".into() },
    ];
    assert_eq!(open, expected);
}

#[test]
fn tools_that_went_out_are_all_accounted_for() {
    assert_eq!(lacking(&[tool(&[("brought_in", "1"), ("left_outside", "1")])]), []);
    assert_eq!(lacking(&[tool(&[("brought_in", "0"), ("lost", "2")])]), []);
    let short = lacking(&[tool(&[("brought_in", "1")])]);
    let expected = Missing::ToolsDoNotAddUp { tool: "L-1".into(), out: 2, accounted: 1 };
    assert_eq!(short, [expected]);
    assert_eq!(lacking(&[tool(&[("brought_in", "3")])]).len(), 1);
}

#[test]
fn an_uncounted_tool_needs_the_reason_in_words() {
    let expected = Missing::ToolNotCounted { tool: "L-1".into(), out: 2 };
    assert_eq!(lacking(&[tool(&[])]), [expected]);
    assert_eq!(lacking(&[tool(&[("not_counted", "the bag was stowed unopened")])]), []);
}

/// Before an attempt of whose task so much is left.
fn with_left(left: i64) -> ResultContext {
    let left = Left { most: Share(left), unknown_after: None };
    ResultContext { left_before: Some(left), ..ResultContext::default() }
}

fn part_done(left: &str) -> [(&str, &str); 2] {
    [("outcome", "part done"), ("left_after", left)]
}

fn stopped(left: &str) -> [(&str, &str); 3] {
    [("outcome", "not completed"), ("cause", "7"), ("left_after", left)]
}

fn added(share: &str) -> [(&str, &str); 2] {
    [("outcome", "part done"), ("share", share)]
}

#[expect(clippy::needless_pass_by_value, reason = "the calls read better without a sign")]
fn said(pairs: &[(&str, &str)], around: ResultContext) -> String {
    let wrong = check_attempt(&attempt(pairs), &around);
    wrong.into_iter().map(|error| error.message).collect::<Vec<_>>().join(" ")
}

#[test]
fn done_needs_nothing_more_whatever_the_field_of_what_is_left_holds() {
    assert_eq!(wrong(&[("outcome", "done")], ResultContext::default()), Vec::<String>::new());
    let with_field = [("outcome", "done"), ("left_after", "40")];
    assert_eq!(wrong(&with_field, with_left(40)), Vec::<String>::new());
}

#[test]
fn part_done_says_how_much_is_left() {
    let with = |left: &str| {
        wrong(&[("outcome", "part done"), ("left_after", left)], ResultContext::default())
    };

    assert_eq!(with(""), ["left_after"]);
    assert_eq!(with("0"), ["left_after"]);
    assert_eq!(with("100"), ["left_after"]);
    assert_eq!(with("1"), Vec::<String>::new());
    assert_eq!(with("99"), Vec::<String>::new());
}

#[test]
fn what_was_left_before_limits_what_is_left_after() {
    assert_eq!(wrong(&part_done("40"), with_left(40)), ["left_after"], "nothing was added");
    assert_eq!(wrong(&part_done("39"), with_left(40)), Vec::<String>::new());
    assert_eq!(wrong(&part_done("50"), with_left(40)), Vec::<String>::new(), "more than thought");
    assert_eq!(wrong(&stopped("40"), with_left(40)), Vec::<String>::new());
    assert_eq!(wrong(&stopped(""), with_left(40)), Vec::<String>::new());
    assert_eq!(wrong(&stopped("41"), with_left(40)), ["left_after"]);
    assert_eq!(wrong(&stopped("0"), with_left(40)), ["left_after"]);
    assert!(said(&part_done("40"), with_left(40)).contains("40 % was left before"));
}

#[test]
fn a_result_that_leaves_nothing_asks_whether_it_is_done() {
    assert!(said(&part_done("0"), with_left(40)).contains("choose “done”"));
    // As older records say it.
    assert_eq!(wrong(&added("60"), with_left(40)), ["left_after"]);
    assert!(said(&added("60"), with_left(40)).contains("choose “done”"));
    assert_eq!(wrong(&added("39"), with_left(40)), Vec::<String>::new());
    assert_eq!(wrong(&added("0"), with_left(40)), ["left_after"]);
}

#[test]
fn not_completed_says_what_stopped_it() {
    assert_eq!(wrong(&[("outcome", "not completed")], ResultContext::default()), ["cause"]);
    let with_cause = [("outcome", "not completed"), ("cause", "7")];
    assert_eq!(wrong(&with_cause, ResultContext::default()), Vec::<String>::new());
    let all_of_it = [("outcome", "not completed"), ("cause", "7"), ("share", "100")];
    assert_eq!(wrong(&all_of_it, ResultContext::default()), ["left_after"]);
}

#[test]
fn not_reached_was_never_begun() {
    let plain = wrong(&[("outcome", "not reached")], ResultContext::default());
    assert_eq!(plain, Vec::<String>::new());
    for (field, text) in [("pet_start", "1:00"), ("pet_end", "1:00"), ("minutes", "5")] {
        let begun = [("outcome", "not reached"), (field, text)];
        assert_eq!(wrong(&begun, ResultContext::default()), ["outcome"], "{field}");
    }
}

#[test]
fn it_ends_after_it_begins_and_inside_the_excursion() {
    let lasted = ResultContext { actual: Some(Minutes(400)), ..ResultContext::default() };
    let from_to = |from: &str, to: &str| {
        wrong(&[("outcome", "done"), ("pet_start", from), ("pet_end", to)], lasted.clone())
    };

    assert_eq!(from_to("2:00", "1:59"), ["pet_end"]);
    assert_eq!(from_to("2:00", "2:00"), ["pet_end"]);
    assert_eq!(from_to("2:00", "6:40"), Vec::<String>::new());
    assert_eq!(from_to("2:00", "6:41"), ["pet_end"]);
    assert_eq!(from_to("6:41", ""), ["pet_start"]);
    assert_eq!(from_to("", "6:41"), ["pet_end"]);
}

#[test]
fn a_planned_share_is_more_than_nothing() {
    let none = [("outcome", "done"), ("planned_share", "0")];
    assert_eq!(wrong(&none, ResultContext::default()), ["planned_share"]);
}

#[test]
fn time_that_ran_out_asks_for_the_minutes_that_decide() {
    let out_of_time = ResultContext { time_ran_out: true, ..ResultContext::default() };
    let stopped = [("outcome", "not completed"), ("cause", "17")];
    let with = |more: &[(&str, &str)]| wrong(&[&stopped[..], more].concat(), out_of_time.clone());

    assert_eq!(with(&[]), ["minutes"]);
    assert_eq!(with(&[("minutes", "20")]), Vec::<String>::new());
    assert_eq!(with(&[("pet_start", "1:00"), ("pet_end", "1:20")]), Vec::<String>::new());
}

#[test]
fn minutes_are_as_typed_or_from_pet_to_pet() {
    let spent = |pairs: &[(&str, &str)]| {
        minutes_spent(&attempt(&[&[("outcome", "done")], pairs].concat())).map(|m| m.0)
    };

    assert_eq!(spent(&[("pet_start", "1:00"), ("pet_end", "1:20")]), Some(20));
    assert_eq!(spent(&[("pet_start", "1:00"), ("pet_end", "1:20"), ("minutes", "15")]), Some(15));
    assert_eq!(spent(&[("pet_start", "1:00")]), None);
}

#[test]
fn a_deferral_goes_to_another_excursion() {
    let to = |code: &str| {
        let pairs = [
            ("task", "T-1"),
            ("excursion", "E-36.1"),
            ("phase", "during"),
            ("reason", "time"),
            ("to_excursion", code),
        ];
        check_deferral(&Deferral::parse(&cells(&pairs)).unwrap()).len()
    };

    assert_eq!((to("E-36.1"), to("E-37.1"), to("")), (1, 0, 0));
}

#[test]
fn done_without_the_function_back_opens_a_follow_on() {
    let follows = |outcome: &str, after: &str| {
        opens_follow_on(&attempt(&[("outcome", outcome), ("function_after", after)]))
    };

    assert!(follows("done", "not restored"));
    assert!(!follows("done", "restored"));
    assert!(!follows("done", "not checked"));
    assert!(!follows("not completed", "not restored"));
}

#[test]
fn an_excursion_called_off_defers_each_of_its_set_slots() {
    let slots = [set("S-1", "T-1"), set("S-2", "T-2")];

    let on_ground = called_off(&slots, false);
    assert_eq!(on_ground.len(), 2);
    assert!(on_ground.iter().all(|given_up| given_up.reason == DeferralReason::ExcursionGivenUp));
    assert!(on_ground.iter().all(|given_up| given_up.phase == DeferralPhase::BeforeLaunch));
    assert_eq!(called_off(&slots, true)[1].phase, DeferralPhase::BeforeEgress);
}
