//! The search for a place goes on until one is found at which every check holds.

use super::super::{Arranged, Counting, Explained, Snapshot, excursion_as_planned};
use super::{Constants, KEEL, MAST, add, cell, record, says, set, task};
use crate::places::{
    ApproachAt, CrewAt, ExcursionAt, InhibitAt, RatesAt, SiteAt, SlotAt, TaskAt, ToolAt,
};
use crate::supplies::Rates;
use crate::three_point::ThreePoint;
use crate::timeline::Lanes;
use domain::units::{Pet, Window};
use domain::words::GateVerdict::{Met, NotMet, Note, Tight};
use domain::words::{ArrangementState, GateName, SlotVerdict, WorkRate};
use typed_index_collections::ti_vec;

fn fits(explained: &Explained) -> bool {
    explained.cell.verdict == SlotVerdict::Fits
}

fn start(explained: &Explained) -> f64 {
    explained.cell.place.unwrap().start
}

fn window(from: i64, until: i64) -> Window {
    Window { from: Pet(from), until: Pet(until) }
}

#[test]
fn another_seat_is_taken_whose_suit_lasts() {
    let mut record = record();
    // Heavy work in both: T-2 at the keel in EV1, T-3 at the mast in EV2. T-1, heavy too, ends
    // earliest in EV1, who is at the keel already: 4:50, in EV2 5:11.
    let heavy = |code: &str, site: SiteAt, minutes: f64| super::Task {
        work_rate: Some(WorkRate::Heavy),
        ..task(code, site, minutes)
    };
    record.tasks[TaskAt(0)] = heavy("T-1", KEEL, 60.0).into();
    let keel = add(&mut record, heavy("T-2", KEEL, 150.0));
    let mast = add(&mut record, task("T-3", MAST, 150.0));
    set(&mut record, keel, 0, &[1]);
    set(&mut record, mast, 0, &[2]);
    let best = cell(&record, 0, 0);
    assert!(fits(&best), "{best:?}");
    assert_eq!(best.cell.place.unwrap().lanes, Lanes::one(0));
    // With it EV1 spends some 1,870 kcal by the end at P80, without it 1,800, EV2 then 1,550: of
    // 0.668 kg of scrubber that leaves EV1 less than the reserve in the first case alone.
    record.excursions[ExcursionAt(0)].supplies.scrubber = Some(0.668);
    let moved = cell(&record, 0, 0);
    assert_eq!(moved.cell.place.unwrap().lanes, Lanes::one(1), "{moved:?}");
    assert!(fits(&moved), "{moved:?}");
    let ask = super::Ask { seats: vec![1], ..super::Ask::default() };
    let first = super::one_cell(&record, &Constants::default(), TaskAt(0), ExcursionAt(0), &ask);
    assert_eq!(first.cell.gate(GateName::Supplies), Tight, "{first:?}");
}

fn arrange(record: &mut Snapshot, from: Option<f64>, until: Option<f64>) {
    record.tasks[TaskAt(0)].inhibits = vec![InhibitAt(0)];
    let state = ArrangementState::Arranged;
    record.excursions[ExcursionAt(0)].arranged =
        vec![Arranged { inhibit: InhibitAt(0), state, from, until }];
}

#[test]
fn work_waits_until_its_inhibit_is_in_place() {
    let mut record = record();
    arrange(&mut record, Some(120.0), Some(200.0));
    let found = cell(&record, 0, 0);
    // Ready at 0:45, the inhibit is in place from 2:00.
    assert!(fits(&found) && (start(&found) - 120.0).abs() < 1e-9);
    // Set there, the plan waits for it as well.
    set(&mut record, 0, 0, &[1]);
    let timing =
        excursion_as_planned(&record, ExcursionAt(0), Counting::Set, &Constants::default()).timing;
    assert!((timing.unwrap().slots[0].start - 120.0).abs() < 1e-9);
    assert!(fits(&cell(&record, 0, 0)));
    // Too short for the work, nothing helps.
    arrange(&mut record, Some(120.0), Some(170.0));
    assert_eq!(cell(&record, 0, 0).cell.gate(GateName::Inhibits), NotMet);
}

#[test]
fn work_goes_first_where_its_inhibit_ends() {
    let mut record = record();
    let other = add(&mut record, task("T-2", KEEL, 100.0));
    set(&mut record, other, 0, &[1]);
    let third = add(&mut record, task("T-3", KEEL, 100.0));
    set(&mut record, third, 0, &[2]);
    // In place until 2:10: only as the first task of a seat it is done by then.
    arrange(&mut record, None, Some(130.0));
    let found = cell(&record, 0, 0);
    assert!(fits(&found), "{found:?}");
    assert!((start(&found) - 45.0).abs() < 1e-9);
}

/// T-2 at the keel in EV1 and T-1 at the mast, both with the only L-1.
fn one_tool() -> Snapshot {
    let mut record = record();
    record.tools[ToolAt(0)].aboard = Some(1);
    record.tasks[TaskAt(0)].approaches[ApproachAt(0)].tools = vec![ToolAt(0)];
    record.tasks[TaskAt(0)].site = Some(MAST);
    let mut other = task("T-2", KEEL, 200.0);
    other.approaches[ApproachAt(0)].tools = vec![ToolAt(0)];
    let other = add(&mut record, other);
    set(&mut record, other, 0, &[1]);
    record.excursions[ExcursionAt(0)].slots[SlotAt(0)].approach = Some(ApproachAt(0));
    record
}

#[test]
fn a_tool_is_waited_for_until_the_other_lane_is_done_with_it() {
    let mut record = one_tool();
    let found = cell(&record, 0, 0);
    assert_ne!(found.cell.gate(GateName::Tools), NotMet);
    assert_ne!(found.cell.verdict, SlotVerdict::DoesNotFit);
    // Whoever has the tool first, the two do not overlap: T-2 takes 200 min.
    let place = found.cell.place.unwrap();
    let seats: Vec<u8> = place.lanes.each().map(|lane| [1, 2][lane]).collect();
    let slot = super::Slot {
        task: TaskAt(0),
        set: true,
        seats,
        approach: Some(ApproachAt(0)),
        ..super::Slot::default()
    };
    record.excursions[ExcursionAt(0)].slots.insert(place.before_slot, slot);
    let timing =
        excursion_as_planned(&record, ExcursionAt(0), Counting::Set, &Constants::default()).timing;
    let slots = timing.unwrap().slots;
    assert!(slots[0].end <= slots[1].start || slots[1].end <= slots[0].start, "{slots:?}");
    // With two of them nobody waits.
    record.excursions[ExcursionAt(0)].slots.remove(place.before_slot);
    record.tools[ToolAt(0)].aboard = Some(2);
    assert!(cell(&record, 0, 0).cell.place.unwrap().margin > place.margin);
}

#[test]
fn a_tool_that_comes_free_too_late_is_named() {
    let mut record = one_tool();
    record.excursions[ExcursionAt(0)].limit = Some(300.0);
    let found = cell(&record, 0, 0);
    assert_eq!(found.cell.gate(GateName::Time), NotMet);
    assert_eq!(found.cell.gate(GateName::Tools), NotMet);
    assert_eq!(says(&record, 0, GateName::Tools), "L-1 is in use then: T-2 uses it.");
    record.tools[ToolAt(0)].aboard = Some(2);
    assert_eq!(cell(&record, 0, 0).cell.gate(GateName::Tools), Met);
}

#[test]
fn a_place_past_the_limit_waits_for_its_tool_all_the_same() {
    let mut record = one_tool();
    record.tasks[TaskAt(0)].site = Some(KEEL);
    record.tasks[TaskAt(0)].work = ThreePoint::new(280.0, 280.0, 280.0);
    record.excursions[ExcursionAt(0)].limit = Some(340.0);
    let judged = cell(&record, 0, 0);
    assert_eq!(judged.cell.verdict, SlotVerdict::DoesNotFit);
    let place = judged.cell.place.unwrap();
    let seats = place.lanes.each().map(|lane| [1, 2][lane]).collect();
    let slot =
        super::Slot { set: true, approach: Some(ApproachAt(0)), seats, ..super::Slot::default() };
    record.excursions[ExcursionAt(0)].slots.insert(place.before_slot, slot);
    let constants = Constants::default();
    let planned =
        excursion_as_planned(&record, ExcursionAt(0), Counting::Set, &constants).timing.unwrap();
    assert!((planned.end - place.excursion_end).abs() < 1.0, "{} {place:?}", planned.end);
}

#[test]
fn a_set_task_that_misses_its_window_is_named_and_tight() {
    let mut record = record();
    // T-2 in EV1 needs the arm, from 1:00 to 2:00 or from 3:20 to 4:30. T-1 takes both seats.
    let mut arm = task("T-2", KEEL, 50.0);
    arm.arm = true;
    let arm = add(&mut record, arm);
    record.excursions[ExcursionAt(0)].arm_windows = vec![window(60, 120), window(200, 270)];
    set(&mut record, arm, 0, &[1]);
    record.tasks[TaskAt(0)].seats = Some(2);
    let after = cell(&record, 0, 0);
    // After T-2 it moves nothing.
    assert!(fits(&after) && after.cell.place.unwrap().before_slot == SlotAt(1));
    // Asked for before T-2, it moves it from 1:00 to 3:20.
    let ask = super::Ask { before_slot: Some(SlotAt(0)), ..super::Ask::default() };
    let before = super::one_cell(&record, &Constants::default(), TaskAt(0), ExcursionAt(0), &ask);
    assert_eq!(before.cell.verdict, SlotVerdict::Tight);
    assert_eq!(before.cell.gate(GateName::Time), Tight);
    let reason = before.reason(GateName::Time);
    let words = super::Part::plain(&super::sentence(&record, TaskAt(0), &reason));
    assert_eq!(words, "Moves T-2 from 1:00 to 3:20, past its window.");
    // Past its last window, the plan does not end inside the limit.
    record.excursions[ExcursionAt(0)].arm_windows.pop();
    let never = super::one_cell(&record, &Constants::default(), TaskAt(0), ExcursionAt(0), &ask);
    assert_eq!(never.cell.verdict, SlotVerdict::DoesNotFit);
}

#[test]
fn a_place_that_ends_later_at_the_mean_may_have_the_better_chance() {
    let mut record = record();
    let window = |from, until| Window { from: Pet(from), until: Pet(until) };
    record.excursions[ExcursionAt(1)].arm_windows =
        vec![window(60, 130), window(170, 260), window(300, 9_000)];
    (record.tasks[TaskAt(0)].seats, record.tasks[TaskAt(0)].arm) = (Some(2), true);
    // T-3 takes 91 min at the mean, more than the window from 2:50 on has, and fewer in half of the
    // cases. So the plan ends past its limit at the mean wherever T-1 goes; behind T-3 it has
    // the better chance.
    for (code, site, minutes, arm) in [("T-2", KEEL, 26.0, false), ("T-3", MAST, 84.0, true)] {
        let mut other = task(code, site, minutes);
        other.work = ThreePoint::new(minutes * 0.7, minutes, minutes * 1.8);
        other.arm = arm;
        let other = add(&mut record, other);
        set(&mut record, other, 1, &[1]);
    }
    let ask = super::Ask { before_slot: Some(SlotAt(2)), ..super::Ask::default() };
    let last = super::one_cell(&record, &Constants::default(), TaskAt(0), ExcursionAt(1), &ask);
    assert_eq!(last.cell.verdict, SlotVerdict::Tight, "{last:?}");
    let found = cell(&record, 0, 1);
    assert_eq!(found.cell.verdict, SlotVerdict::Tight, "{found:?}");
}

#[test]
fn a_set_task_that_passes_its_latest_start_is_named_and_tight() {
    let mut record = record();
    // T-1 takes 20 to 340 min, 100 at the mean and 88 or fewer in half of the cases.
    record.tasks[TaskAt(0)].work = ThreePoint::new(20.0, 60.0, 340.0);
    let other = add(&mut record, task("T-2", KEEL, 60.0));
    set(&mut record, other, 0, &[1]);
    // Both at the keel in EV1: 45 + 100 + 60 + 35 = 240 min at the mean, 4 more than there are, and
    // 228 in half of the cases. T-2 may begin at 2:21 at the latest, and begins at 2:25.
    record.excursions[ExcursionAt(0)].limit = Some(236.0);
    let ask = super::Ask { seats: vec![1], before_slot: Some(SlotAt(0)), ..super::Ask::default() };
    let judged = super::one_cell(&record, &super::even(), TaskAt(0), ExcursionAt(0), &ask);
    assert_eq!(judged.cell.gate(GateName::Time), Tight, "{judged:?}");
    assert_eq!(judged.cell.verdict, SlotVerdict::Tight);
    let reason = judged.reason(GateName::Time);
    let words = super::Part::plain(&super::sentence(&record, TaskAt(0), &reason));
    assert_eq!(words, "Moves T-2 from 0:45 to 2:25, past its latest start.");
    // With five minutes more it is not past it, and nothing is said of T-2.
    record.excursions[ExcursionAt(0)].limit = Some(241.0);
    let judged = super::one_cell(&record, &super::even(), TaskAt(0), ExcursionAt(0), &ask);
    assert!(matches!(judged.reason(GateName::Time), super::super::Reason::Time(_)), "{judged:?}");
}

/// Every sentence of a check of T-1, in one.
fn all_words(record: &Snapshot, explained: &Explained, name: GateName) -> String {
    let of_gate = explained.reasons.iter().filter(|(gate, ..)| *gate == name);
    let words = |reason| super::Part::plain(&super::sentence(record, TaskAt(0), reason));
    of_gate.map(|(_, _, reason)| words(reason)).collect::<Vec<_>>().join(" ")
}

/// T-1 demands training, which EV2 alone has. EV1 is at the keel already, so it ends earliest there.
fn trained_in_the_second_seat() -> Snapshot {
    let mut record = record();
    let there = add(&mut record, task("T-2", KEEL, 100.0));
    set(&mut record, there, 0, &[1]);
    let away = add(&mut record, task("T-3", MAST, 100.0));
    set(&mut record, away, 0, &[2]);
    let way = &mut record.tasks[TaskAt(0)].approaches[ApproachAt(0)];
    way.training_demanded = true;
    way.qualifications.retain(|one| one.crew == CrewAt(1));
    record
}

#[test]
fn what_does_not_fit_names_the_checks_that_fail_everywhere() {
    let mut record = trained_in_the_second_seat();
    // A scrubber for little more than an hour: whoever does it.
    record.excursions[ExcursionAt(0)].supplies.scrubber = Some(0.1);
    let nowhere = cell(&record, 0, 0);
    assert_eq!(nowhere.cell.verdict, SlotVerdict::DoesNotFit);
    assert_eq!(nowhere.cell.place.unwrap().lanes, Lanes::one(0), "the earliest end is shown");
    assert_eq!(nowhere.cell.gate(GateName::Supplies), NotMet);
    assert_eq!(nowhere.cell.gate(GateName::Trained), Note, "EV2 is trained");
    let words = all_words(&record, &nowhere, GateName::Trained);
    assert!(words.contains("It holds in EV2 from PET"), "{words}");
    assert!(words.ends_with("where another check fails."), "{words}");
    let words = all_words(&record, &nowhere, GateName::Supplies);
    assert!(!words.contains("It holds in"), "{words}");
    let matrix = super::super::matrix(&record, &Constants::default());
    assert_eq!(
        matrix.cell(0, ExcursionAt(0)).deciding().map(|(gate, _)| gate),
        Some(GateName::Supplies)
    );
}

#[test]
fn where_no_check_fails_everywhere_the_place_says_where_it_holds() {
    let mut record = trained_in_the_second_seat();
    // EV2 breathes twice as much. 252 kcal an hour fill 0.087 kg: by the end at 4:00 in EV1 that
    // is 0.35 kg, by 4:23 in EV2 with an hour of heavy work 0.43 kg.
    record.tasks[TaskAt(0)].work_rate = Some(WorkRate::Heavy);
    let calm = Rates { overhead: 120.0, moderate: 120.0, ..Rates::PUBLISHED };
    record.rates = ti_vec![calm, Rates::PUBLISHED];
    record.excursions[ExcursionAt(0)].seat_rates = vec![Some(RatesAt(0)), Some(RatesAt(1))];
    record.excursions[ExcursionAt(0)].supplies.scrubber = Some(0.4);
    let nowhere = cell(&record, 0, 0);
    assert_eq!(nowhere.cell.verdict, SlotVerdict::DoesNotFit, "{nowhere:?}");
    assert_eq!(nowhere.cell.gate(GateName::Trained), NotMet, "{nowhere:?}");
    let words = all_words(&record, &nowhere, GateName::Trained);
    assert!(words.contains("It holds in EV2 from PET"), "{words}");
    // Trained, EV1 does it; with more scrubber, EV2.
    record.excursions[ExcursionAt(0)].supplies.scrubber = Some(2.0);
    assert_eq!(cell(&record, 0, 0).cell.place.unwrap().lanes, Lanes::one(1));
}

#[test]
fn supplies_run_until_the_last_seat_is_back() {
    let mut record = record();
    // EV1 works until 6:20 and EV2 has nothing to do; both are inside with EV1.
    let long = add(&mut record, task("T-2", KEEL, 300.0));
    set(&mut record, long, 0, &[1]);
    record.tasks[TaskAt(0)].work = crate::three_point::ThreePoint::new(10.0, 10.0, 10.0);
    record.excursions[ExcursionAt(0)].limit = Some(460.0);
    // EV1 is inside at 6:30 with T-1, in eight cases of ten by some 7:00. A scrubber for 6:40 at
    // 252 kcal an hour ends before that in EV2 too, who does 10 min of work and waits.
    record.excursions[ExcursionAt(0)].supplies.scrubber = Some(400.0 / 60.0 * 0.0865);
    let found = cell(&record, 0, 0);
    assert_eq!(found.cell.gate(GateName::Supplies), NotMet);
    let timing =
        excursion_as_planned(&record, ExcursionAt(0), Counting::Set, &Constants::default())
            .timing
            .unwrap();
    assert!((timing.seat_ends[0] - timing.seat_ends[1]).abs() < 1e-9);
    for lasting in &timing.seat_supplies {
        let scrubber = lasting[1];
        assert!((scrubber.runs_out - 400.0).abs() < 2.0, "{scrubber:?}");
        assert!(scrubber.runs_out < timing.seat_ends_p80[0]);
    }
}

#[test]
fn another_place_is_a_way_out_of_the_one_that_was_asked_for() {
    use super::super::{Change, openings};
    use crate::value::{Values, Weights};
    let mut record = record();
    arrange(&mut record, None, Some(130.0));
    let other = add(&mut record, task("T-2", KEEL, 100.0));
    set(&mut record, other, 0, &[1]);
    // Asked for after T-2 the inhibit is gone; before it, it is not.
    let ask = super::Ask { seats: vec![1], before_slot: Some(SlotAt(1)), ..super::Ask::default() };
    let constants = Constants::default();
    let values = Values::of(&record, &Weights::default());
    let all = openings(&record, &constants, &values, TaskAt(0), ExcursionAt(0), &ask);
    let place = all.iter().find(|one| matches!(one.changes[..], [Change::Place { .. }])).unwrap();
    let words =
        super::super::change_sentence(&record, TaskAt(0), ExcursionAt(0), &place.changes[0]);
    let words = super::Part::plain(&words);
    assert!(words.starts_with("work it in EV") && words.ends_with(", from PET 0:45"), "{words}");
}
