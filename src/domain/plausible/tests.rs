//! Each refusal with the case beside it that is allowed; and the questions.

use super::*;
use crate::cells::Cells;
use crate::records::Record;
use crate::units::Share;

fn record<R: Record>(text: &str) -> R {
    let cells: Cells = text
        .split(" | ")
        .filter_map(|part| part.split_once(": "))
        .map(|(name, text)| (name.to_owned(), text.to_owned()))
        .collect();
    R::parse(&cells).unwrap_or_else(|wrong| panic!("{text}: {wrong:?}"))
}

/// The task `T-1` of the family `F-1`, opened on 1 March 2030, and the excursion of 5 May.
fn known() -> AttemptContext {
    AttemptContext {
        task: record(
            "code: T-1 | title: Swap it | family: F-1 | sides: nadir, zenith | likely: 30 \
             | opened: 2030-03-01",
        ),
        excursion: record(
            "code: E-36.1 | flight: G-36 | day: 2030-05-05 | state: flown | actual: 6:30",
        ),
        flight: Some(record(
            "code: G-36 | launch: 2030-05-01 | landing: 2030-05-12 | state: flown",
        )),
        opened_after: None,
        technique: Some(record("code: K-1 | name: pull | family: F-1 | state: cleared")),
        estimate: Some(Minutes(30)),
    }
}

fn attempt(rest: &str) -> Attempt {
    record(&format!("task: T-1 | excursion: E-36.1 | {rest}"))
}

/// The fields that are refused.
fn refused(rest: &str, known: &AttemptContext) -> Vec<String> {
    impossible(&attempt(rest), known).into_iter().map(|error| error.field).collect()
}

#[test]
fn an_attempt_that_can_have_been_is_not_refused() {
    let whole = "technique: K-1 | side: nadir | outcome: done | minutes: 390 | pet_start: 0:00";
    assert_eq!(refused(whole, &known()), [] as [&str; 0]);
    assert_eq!(refused("outcome: not reached", &known()), [] as [&str; 0]);
}

#[test]
fn no_attempt_lies_before_the_opening_of_its_task() {
    let mut around = known();
    around.excursion.day = Some(record::<Task>("title: x | opened: 2028-09-01").opened.unwrap());
    around.flight = None;
    assert_eq!(refused("outcome: done", &around), ["excursion"]);
    let message = &impossible(&attempt("outcome: done"), &around)[0].message;
    assert!(message.contains("before T-1 was opened on 2030-03-01"), "{message}");
    // The task was found there.
    around.task.from_excursion = Some("E-36.1".into());
    assert_eq!(refused("outcome: done", &around), [] as [&str; 0]);
    // On the day of its opening it may be tried.
    around.task.from_excursion = None;
    around.task.opened = around.excursion.day;
    assert_eq!(refused("outcome: done", &around), [] as [&str; 0]);
    // What nobody knows refuses nothing.
    around.task.opened = None;
    assert_eq!(refused("outcome: done", &around), [] as [&str; 0]);
}

#[test]
fn a_task_that_was_opened_after_a_flight_was_not_tried_on_it() {
    let mut around = known();
    around.task.opened = None;
    around.opened_after = around.flight.clone();
    assert_eq!(refused("outcome: done", &around), ["excursion"]);
    around.opened_after =
        Some(record("code: G-35 | launch: 2030-01-01 | landing: 2030-01-10 | state: flown"));
    assert_eq!(refused("outcome: done", &around), [] as [&str; 0]);
}

#[test]
fn the_date_of_an_attempt_lies_inside_its_flight() {
    let day = |text: &str| record::<Task>(&format!("title: x | opened: {text}")).opened;
    for (date, is_wrong) in
        [("2030-04-30", true), ("2030-05-01", false), ("2030-05-12", false), ("2030-05-13", true)]
    {
        let mut around = known();
        around.excursion.day = day(date);
        assert_eq!(!refused("outcome: done", &around).is_empty(), is_wrong, "{date}");
    }
    let mut around = known();
    around.excursion.day = day("2031-05-13");
    around.flight = Some(record("code: G-36 | launch: 2030-05-01 | state: under way"));
    assert_eq!(refused("outcome: done", &around), [] as [&str; 0], "its landing is not known");
}

#[test]
fn a_technique_of_another_family_or_task_is_refused_and_an_unknown_one_is_not() {
    let by = |technique: &str| {
        let mut around = known();
        around.technique = Some(record(technique));
        refused("technique: K-9 | outcome: done", &around)
    };
    assert_eq!(by("code: K-9 | name: x | family: F-2 | state: cleared"), ["technique"]);
    assert_eq!(by("code: K-9 | name: x | task: T-2 | state: cleared"), ["technique"]);
    assert_eq!(by("code: K-9 | name: x | task: T-1 | state: cleared"), [] as [&str; 0]);
    assert_eq!(by("code: K-9 | name: x | state: withdrawn"), [] as [&str; 0]);
}

#[test]
fn a_side_that_the_task_lacks_is_refused_unless_its_sides_are_unknown() {
    let mut around = known();
    assert_eq!(refused("side: aft | outcome: done", &around), ["side"]);
    around.task.sides = crate::cells::List::default();
    assert_eq!(refused("side: aft | outcome: done", &around), [] as [&str; 0]);
}

#[test]
fn no_attempt_is_longer_than_its_excursion() {
    let mut around = known();
    assert_eq!(refused("outcome: done | minutes: 390", &around), [] as [&str; 0]);
    assert_eq!(refused("outcome: done | minutes: 391", &around), ["minutes"]);
    assert_eq!(refused("outcome: done | pet_start: 0:10 | pet_end: 6:50", &around), ["minutes"]);
    let message = impossible(&attempt("outcome: done | minutes: 1800"), &around)[0].message.clone();
    assert!(message.contains("lasted 6:30. Enter 1 to 390"), "{message}");
    // Without its duration the limit holds, and without that what no excursion exceeds.
    around.excursion.actual = None;
    around.excursion.limit = Some(Minutes(420));
    assert_eq!(refused("outcome: done | minutes: 420", &around), [] as [&str; 0]);
    assert_eq!(refused("outcome: done | minutes: 421", &around), ["minutes"]);
    around.excursion.limit = None;
    assert_eq!(refused("outcome: done | minutes: 720", &around), [] as [&str; 0]);
    assert_eq!(refused("outcome: done | minutes: 1800", &around), ["minutes"]);
}

#[test]
fn minutes_past_three_times_the_estimate_are_asked_about_and_missing_ones_too() {
    let asks = |rest: &str, likely| unlikely(&attempt(rest), likely);
    let likely = Some(Minutes(30));
    assert_eq!(asks("outcome: done | minutes: 90", likely), None);
    assert_eq!(asks("outcome: done | minutes: 91", likely), Some(Doubt::Minutes(Minutes(91))));
    assert_eq!(asks("outcome: done | minutes: 91", None), None);
    assert_eq!(asks("outcome: done | pet_start: 1:00 | pet_end: 2:00", likely), None);
    for outcome in ["done", "part done", "not completed"] {
        assert_eq!(asks(&format!("outcome: {outcome}"), likely), Some(Doubt::NoMinutes));
    }
    assert_eq!(asks("outcome: not reached", likely), None);
    // The planned share changes nothing about the question.
    let part = Attempt { share: Some(Share(10)), ..attempt("outcome: part done | minutes: 31") };
    assert_eq!(unlikely(&part, likely), None);
}
