//! Every gate, each time with the rule bent once so that it bites.

use super::super::ready::Ready;
use super::super::snapshot::Snapshot;
use super::super::{Constants, Guard, Part, Remedy, Standing, sentence};
use super::{KEEL, add, cell, day, gate, record, says, set, task};
use crate::places::{ApproachAt, ExcursionAt, FlightAt, SlotAt, TaskAt, ToolAt};
use crate::three_point::ThreePoint;
use domain::kinds::Kind;
use domain::repeat_guard::Against;
use domain::words::GateVerdict::{CannotTell, Met, NotMet, Note, Tight};
use domain::words::{GateName, RemedyState, SlotVerdict, ToolState};
use typed_index_collections::ti_vec;

#[test]
fn a_task_that_nothing_hinders_fits() {
    let record = record();
    assert_eq!(cell(&record, 0, 0).cell.verdict, SlotVerdict::Fits);
    assert_eq!(
        says(&record, 0, GateName::Time),
        "Adds 90 min in one seat: over 99 % to end inside the limit."
    );
}

#[test]
fn every_gate_of_the_table_is_asked() {
    let cell = cell(&record(), 0, 0).cell;
    assert!(cell.gates().all(|(_, verdict)| verdict == Met), "{cell:?}");
}

#[test]
fn time_is_tight_from_half_and_met_from_eighty_per_cent() {
    let mut record = record();
    // Egress to ingress without the work takes 80, so 340 are left for it.
    for (mean, verdict) in [(270.0, Met), (320.0, Tight), (380.0, NotMet)] {
        record.tasks[TaskAt(0)].work = ThreePoint::new(mean - 180.0, mean, mean + 180.0);
        assert_eq!(gate(&record, 0, GateName::Time), verdict, "{mean}");
    }
    let sentence = says(&record, 0, GateName::Time);
    assert_eq!(
        sentence,
        "Adds 410 min in one seat: 32 % to end inside the limit; at mean minutes 100 min past the plan, 40 past the limit."
    );
}

#[test]
fn passing_the_plan_is_a_note() {
    let mut record = record();
    record.tasks[TaskAt(0)].work = ThreePoint::new(90.0, 270.0, 450.0);
    for (planned, verdict) in [(350.0, Met), (349.0, Note)] {
        record.excursions[ExcursionAt(0)].planned = Some(planned);
        assert_eq!(gate(&record, 0, GateName::Time), verdict, "{planned}");
        assert_eq!(cell(&record, 0, 0).cell.verdict, SlotVerdict::Fits);
    }
}

#[test]
fn what_is_not_known_makes_time_cannot_tell_and_names_the_field() {
    let field = |bend: &dyn Fn(&mut super::Snapshot)| {
        let mut record = record();
        bend(&mut record);
        let explained = cell(&record, 0, 0);
        assert_eq!(explained.cell.gate(GateName::Time), CannotTell);
        let parts = sentence(&record, TaskAt(0), &explained.reason(GateName::Time));
        parts.into_iter().find_map(|part| match part {
            Part::Field { kind, code, column, .. } => Some((kind, code, column)),
            Part::Text(_) | Part::Code(..) => None,
        })
    };
    let on = |code: &str, column| Some((Kind::Excursion, code.to_owned(), column));
    assert_eq!(field(&|r| r.excursions[ExcursionAt(0)].limit = None), on("E-1.1", "limit"));
    assert_eq!(field(&|r| r.excursions[ExcursionAt(0)].egress = None), on("E-1.1", "egress"));
    assert_eq!(field(&|r| r.excursions[ExcursionAt(0)].ingress = None), on("E-1.1", "ingress"));
    assert_eq!(field(&|r| r.excursions[ExcursionAt(0)].airlock = None), on("E-1.1", "airlock"));
    assert_eq!(field(&|r| r.excursions[ExcursionAt(0)].seats.clear()), on("E-1.1", "seats"));
    let task = |column| Some((Kind::Task, "T-1".to_owned(), column));
    assert_eq!(field(&|r| r.tasks[TaskAt(0)].work = None), task("likely"));
    assert_eq!(field(&|r| r.tasks[TaskAt(0)].site = None), task("worksite"));
    assert_eq!(field(&|r| r.tasks[TaskAt(0)].seats = None), task("seats"));
    let site = |column| Some((Kind::Worksite, "W-KEEL".to_owned(), column));
    assert_eq!(field(&|r| r.sites[KEEL].setup = None), site("setup"));
    assert_eq!(field(&|r| r.sites[KEEL].cleanup = None), site("cleanup"));
    assert_eq!(field(&|r| r.routes.clear()), None);
}

#[test]
fn a_missing_route_says_between_which_worksites() {
    let mut record = record();
    record.routes.clear();
    assert_eq!(gate(&record, 0, GateName::Routes), CannotTell);
    let sentence = says(&record, 0, GateName::Routes);
    assert_eq!(sentence, "No route is recorded from W-LOCK to W-KEEL; enter a route.");
}

#[test]
fn a_set_slot_without_minutes_stops_the_clock_for_all() {
    let mut record = record();
    let other = add(&mut record, super::Task { work: None, ..task("T-2", KEEL, 1.0) });
    set(&mut record, other, 0, &[1]);
    assert_eq!(gate(&record, 0, GateName::Time), CannotTell);
    assert!(says(&record, 0, GateName::Time).contains("T-2"));
    assert_eq!(gate(&record, 1, GateName::Time), Met);
}

#[test]
fn seats() {
    let mut record = record();
    record.tasks[TaskAt(0)].seats = Some(3);
    assert_eq!(gate(&record, 0, GateName::Seats), NotMet);
    assert_eq!(says(&record, 0, GateName::Seats), "Takes 3 seats; the excursion has 2.");
    record.tasks[TaskAt(0)].seats = None;
    assert_eq!(gate(&record, 0, GateName::Seats), CannotTell);
    record.tasks[TaskAt(0)].approaches[ApproachAt(0)].seats = Some(2);
    assert_eq!(gate(&record, 0, GateName::Seats), Met);
    // A slot with one seat chosen does not carry a task that takes two.
    set(&mut record, 0, 0, &[1]);
    assert_eq!(gate(&record, 0, GateName::Seats), NotMet);
}

#[test]
fn the_repeat_guard_decides_the_approach() {
    let mut record = record();
    let two = || vec!["A-7".into(), "A-9".into()];
    record.tasks[TaskAt(0)].approaches[ApproachAt(0)].against =
        Against { here: vec!["A-3".into()], sisters: two(), unclear: two() };
    let by_guard = [
        (Guard::Free, Met, "K-1: no failure recorded against it here."),
        (Guard::Questioned, Tight, "K-1: questioned since A-7 and A-9 failed on a sister unit."),
        (
            Guard::Blocked,
            NotMet,
            "K-1: blocked after A-3, and after A-7 and A-9 on sister units, not resolved yet.",
        ),
        (
            Guard::NotRecorded,
            CannotTell,
            "K-1: a failure could have been by it; enter the technique and side of A-7 and A-9.",
        ),
        (Guard::Withdrawn, NotMet, "K-1: the technique is withdrawn; choose another."),
    ];
    for (guard, verdict, words) in by_guard {
        record.tasks[TaskAt(0)].approaches[ApproachAt(0)].guard = guard;
        assert_eq!(gate(&record, 0, GateName::Approach), verdict);
        assert_eq!(says(&record, 0, GateName::Approach), words);
    }
    record.tasks[TaskAt(0)].approaches.clear();
    assert_eq!(gate(&record, 0, GateName::Approach), CannotTell);
}

#[test]
fn the_first_approach_that_is_not_shut_is_taken() {
    let mut record = record();
    let free = record.tasks[TaskAt(0)].approaches[ApproachAt(0)].clone();
    record.tasks[TaskAt(0)].approaches[ApproachAt(0)].guard = Guard::Blocked;
    record.tasks[TaskAt(0)].approaches.push(free);
    let cell = cell(&record, 0, 0).cell;
    assert_eq!(cell.approach, Some(ApproachAt(1)));
    assert_eq!(cell.gate(GateName::Approach), Met);
}

#[test]
fn order_of_work() {
    let mut record = record();
    let need = add(&mut record, task("T-2", KEEL, 20.0));
    record.tasks[TaskAt(0)].needs = vec![need];
    assert_eq!(gate(&record, 1, GateName::Order), NotMet);
    assert_eq!(
        says(&record, 1, GateName::Order),
        "Needs T-2, which is neither done nor set before it."
    );
    record.tasks[need].standing = Standing::Dropped;
    assert_eq!(gate(&record, 1, GateName::Order), NotMet);
    record.tasks[need].standing = Standing::Done;
    assert_eq!(gate(&record, 1, GateName::Order), Met);
    record.tasks[need].standing = Standing::Open;
    set(&mut record, need, 1, &[1]);
    let verdicts: Vec<_> = (0..3).map(|at| gate(&record, at, GateName::Order)).collect();
    assert_eq!(verdicts, [NotMet, Met, Met]);
    // A pencilled slot of what is needed is not enough.
    record.excursions[ExcursionAt(1)].slots[SlotAt(0)].set = false;
    assert_eq!(gate(&record, 2, GateName::Order), NotMet);
}

#[test]
fn no_place_is_left_between_what_it_needs_and_what_needs_it() {
    let mut record = record();
    let need = add(&mut record, task("T-2", KEEL, 20.0));
    let then = add(&mut record, super::Task { needs: vec![TaskAt(0)], ..task("T-3", KEEL, 20.0) });
    record.tasks[TaskAt(0)].needs = vec![need];
    set(&mut record, then, 0, &[1]);
    set(&mut record, need, 0, &[1]);
    assert_eq!(gate(&record, 0, GateName::Order), NotMet);
    record.excursions[ExcursionAt(0)].slots.swap(SlotAt(0), SlotAt(1));
    assert_eq!(gate(&record, 0, GateName::Order), Met);
}

#[test]
fn the_same_visit_cannot_be_in_two_places() {
    let mut record = record();
    let with = add(&mut record, task("T-2", KEEL, 20.0));
    record.tasks[TaskAt(0)].same_visit = vec![with];
    assert_eq!(gate(&record, 0, GateName::Order), Met);
    set(&mut record, with, 1, &[1]);
    assert_eq!(gate(&record, 0, GateName::Order), NotMet);
    assert_eq!(gate(&record, 1, GateName::Order), Met);
}

#[test]
fn an_only_if_task_waits_for_its_trigger() {
    let mut record = record();
    record.tasks[TaskAt(0)].waits_for_trigger = true;
    assert_eq!(gate(&record, 0, GateName::Order), NotMet);
}

#[test]
fn tools_aboard_by_then() {
    let mut record = record();
    record.tasks[TaskAt(0)].approaches[ApproachAt(0)].tools = vec![ToolAt(0)];
    assert_eq!(gate(&record, 0, GateName::Tools), Met);
    record.tools[ToolAt(0)].aboard = Some(1);
    assert_eq!(gate(&record, 0, GateName::Tools), Note);
    assert_eq!(cell(&record, 0, 0).cell.verdict, SlotVerdict::Fits);
    assert_eq!(cell(&record, 0, 0).cell.deciding(), None);
    assert_eq!(says(&record, 0, GateName::Tools), "L-1 is the last one aboard.");
    record.tools[ToolAt(0)].aboard = Some(0);
    assert_eq!(gate(&record, 0, GateName::Tools), NotMet);
    record.tools[ToolAt(0)].outside = 1;
    assert_eq!(says(&record, 0, GateName::Tools), "L-1 was left outside.");
    record.tools[ToolAt(0)].arrives_with = Some(FlightAt(1));
    let verdicts: Vec<_> = (0..3).map(|at| gate(&record, at, GateName::Tools)).collect();
    assert_eq!(verdicts, [NotMet, Note, Met]);
    assert_eq!(says(&record, 1, GateName::Tools), "L-1 arrives on that very flight, G-2.");
    record.tools[ToolAt(0)].aboard = None;
    record.tools[ToolAt(0)].arrives_with = None;
    assert_eq!(gate(&record, 0, GateName::Tools), CannotTell);
    record.tools[ToolAt(0)].aboard = Some(4);
    record.tools[ToolAt(0)].state = Some(ToolState::Lost);
    assert_eq!(gate(&record, 0, GateName::Tools), NotMet);
}

#[test]
fn remedies() {
    let mut record = record();
    let states = [
        (RemedyState::Verified, Met),
        (RemedyState::Withdrawn, Met),
        (RemedyState::Done, Tight),
        (RemedyState::Open, NotMet),
    ];
    for (state, verdict) in states {
        record.tasks[TaskAt(0)].approaches[ApproachAt(0)].remedies =
            ti_vec![Remedy { code: "R-5".into(), state, answers: Vec::new() }];
        assert_eq!(gate(&record, 0, GateName::Remedies), verdict);
    }
    assert_eq!(says(&record, 0, GateName::Remedies), "R-5 is still open.");
}

#[test]
fn what_must_come_back_inside_by_a_flight() {
    let mut record = record();
    record.tasks[TaskAt(0)].back_inside_by = Some(FlightAt(1));
    let verdicts: Vec<_> = (0..3).map(|at| gate(&record, at, GateName::Return)).collect();
    assert_eq!(verdicts, [Met, Met, NotMet]);
    record.excursions[ExcursionAt(0)].flight = None;
    assert_eq!(gate(&record, 0, GateName::Return), CannotTell);
}

#[test]
fn late_is_tight_and_moot_is_not_met() {
    let mut record = record();
    record.tasks[TaskAt(0)].needed_by_flight = Some(FlightAt(1));
    record.tasks[TaskAt(0)].late_means = Some("the keel stays cold.".to_owned());
    let verdicts: Vec<_> = (0..3).map(|at| gate(&record, at, GateName::NeededBy)).collect();
    assert_eq!(verdicts, [Met, Met, Tight]);
    assert_eq!(says(&record, 2, GateName::NeededBy), "Late, needed by G-2: the keel stays cold.");
    record.tasks[TaskAt(0)].late_is_moot = true;
    assert_eq!(gate(&record, 2, GateName::NeededBy), NotMet);
}

#[test]
fn a_needed_by_date_is_held_against_the_day_or_the_flight() {
    let mut record = record();
    record.tasks[TaskAt(0)].needed_by_day = Some(day("2031-07-10"));
    let verdicts: Vec<_> = (0..3).map(|at| gate(&record, at, GateName::NeededBy)).collect();
    assert_eq!(verdicts, [Met, Met, Tight]);
    for excursion in &mut record.excursions {
        excursion.day = None;
    }
    // G-1 has landed by then and G-3 not yet been launched; on G-2 it depends on the day.
    let verdicts: Vec<_> = (0..3).map(|at| gate(&record, at, GateName::NeededBy)).collect();
    assert_eq!(verdicts, [Met, CannotTell, Tight]);
}

#[test]
fn after_the_date_of_a_constraint_it_is_tight_even_where_late_is_moot() {
    let mut record = record();
    record.tasks[TaskAt(0)].late_is_moot = true;
    record.tasks[TaskAt(0)].bound = Some(domain::constraints::Bound {
        day: day("2031-07-10"),
        kind: domain::kinds::Kind::Constraint,
        code: "CN-1".to_owned(),
    });
    let verdicts: Vec<_> = (0..3).map(|at| gate(&record, at, GateName::NeededBy)).collect();
    assert_eq!(verdicts, [Met, Met, Tight]);
    let said = |at| says(&record, at, GateName::NeededBy);
    assert_eq!(said(0), "In time for CN-1, safe until 2031-07-10.");
    assert_eq!(said(2), "Too late for CN-1, safe until 2031-07-10.");
}

#[test]
fn the_worst_gate_makes_the_verdict() {
    let mut record = record();
    record.tasks[TaskAt(0)].needed_by_flight = Some(FlightAt(0));
    assert_eq!(cell(&record, 0, 1).cell.verdict, SlotVerdict::Tight);
    record.tasks[TaskAt(0)].site = None;
    assert_eq!(cell(&record, 0, 1).cell.verdict, SlotVerdict::CannotTell);
    record.tasks[TaskAt(0)].back_inside_by = Some(FlightAt(0));
    let cell = cell(&record, 0, 1).cell;
    assert_eq!(cell.verdict, SlotVerdict::DoesNotFit);
    assert_eq!(cell.deciding().map(|(gate, _)| gate), Some(GateName::Return));
}

#[test]
fn an_airlock_that_takes_seats_in_one_by_one_does_so_for_its_own_excursions() {
    let together = |record: &Snapshot| {
        let ready = Ready::new(record, &Constants::default());
        ready.plans[ExcursionAt(0)].frame(&ready).together
    };
    let mut record = record();
    assert!(together(&record));
    let airlock = record.excursions[ExcursionAt(0)].airlock.unwrap();
    for site in record.sites.keys() {
        record.sites[site].one_by_one = true;
        assert_eq!(together(&record), site != airlock, "{site:?}");
        record.sites[site].one_by_one = false;
    }
}
