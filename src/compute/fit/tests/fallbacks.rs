//! A slot with fallbacks: every approach of the list is checked, and the minutes are the mixture.

use super::super::{
    Approach, Ask, Constants, Counting, Fallback, Guard, Snapshot, Tool, excursion_as_planned,
    one_cell, work_minutes,
};
use super::{gate, practised, record, says, set};
use crate::places::{ApproachAt, ExcursionAt, SlotAt, TaskAt, ToolAt};
use crate::three_point::ThreePoint;
use domain::words::GateName;
use domain::words::GateVerdict::{Met, NotMet, Tight};

/// T-1 is set on E-1.1 by K-1; a second approach, K-2, takes 30 min and stands in its list.
fn with_fallback() -> Snapshot {
    let mut record = record();
    record.tasks[TaskAt(0)].approaches.push(practised(Approach {
        technique: Some("K-2".into()),
        work: ThreePoint::new(30.0, 30.0, 30.0),
        ..Approach::default()
    }));
    set(&mut record, 0, 0, &[1]);
    let slot = &mut record.excursions[ExcursionAt(0)].slots[SlotAt(0)];
    slot.approach = Some(ApproachAt(0));
    slot.fallbacks =
        vec![Fallback { approach: Some(ApproachAt(1)), after: Some(40.0), chance: Some(0.25) }];
    record
}

#[test]
fn tools_training_rehearsal_and_guard_of_a_fallback_are_checked() {
    let mut record = with_fallback();
    for name in [GateName::Tools, GateName::Trained, GateName::Rehearsal, GateName::Approach] {
        assert_eq!(gate(&record, 0, name), Met, "{name:?}");
    }
    record.tools.push(Tool { code: "L-9".into(), aboard: Some(0), ..Tool::default() });
    record.tasks[TaskAt(0)].approaches[ApproachAt(1)].tools = vec![ToolAt(1)];
    assert_eq!(gate(&record, 0, GateName::Tools), NotMet);
    assert!(
        says(&record, 0, GateName::Tools).contains("Fallback K-2: L-9 is not aboard"),
        "{}",
        says(&record, 0, GateName::Tools)
    );

    let way = &mut record.tasks[TaskAt(0)].approaches[ApproachAt(1)];
    (way.training_demanded, way.rehearsal_demanded) = (true, true);
    assert_eq!(gate(&record, 0, GateName::Trained), Met);
    way_of(&mut record).qualifications.clear();
    way_of(&mut record).rehearsals.clear();
    assert_eq!(gate(&record, 0, GateName::Trained), NotMet);
    assert_eq!(gate(&record, 0, GateName::Rehearsal), NotMet);

    way_of(&mut record).guard = Guard::Questioned;
    assert_eq!(gate(&record, 0, GateName::Approach), Tight);
    way_of(&mut record).guard = Guard::Blocked;
    assert_eq!(gate(&record, 0, GateName::Approach), NotMet);
    assert!(says(&record, 0, GateName::Approach).contains("Fallback: K-2"));
    way_of(&mut record).seats = Some(2);
    assert_eq!(gate(&record, 0, GateName::Seats), NotMet, "one seat is chosen");

    // What stands against it stands against no other place of the task.
    let afresh = Ask { afresh: true, ..Ask::default() };
    let cell = one_cell(&record, &Constants::default(), TaskAt(0), ExcursionAt(0), &afresh).cell;
    assert_eq!(cell.gate(GateName::Tools), Met);
}

fn way_of(record: &mut Snapshot) -> &mut Approach {
    &mut record.tasks[TaskAt(0)].approaches[ApproachAt(1)]
}

#[test]
fn the_plan_takes_the_minutes_of_the_mixture() {
    let mut record = with_fallback();
    let end = |record: &Snapshot| {
        let plan =
            excursion_as_planned(record, ExcursionAt(0), Counting::Set, &Constants::default());
        let slot = plan.timing.unwrap().slots[0];
        (slot.work.mean, slot.work.variance.sqrt())
    };
    // Source: law of total expectation and of total variance, by hand: 0.75 · 60 + 0.25 · (40 + 30)
    // = 62.5; 60 and 70 with those chances lie √(0.75 · 0.25) · 10 = 4.33 apart.
    let (mean, sd) = end(&record);
    assert!((mean - 62.5).abs() < 1e-3 && (sd - 4.330).abs() < 1e-2, "{mean} {sd}");
    // Leaving it as it is after that takes no more: 0.75 · 60 + 0.25 (0.5 · 70 + 0.5 · 50) = 60.
    record.excursions[ExcursionAt(0)].slots[SlotAt(0)].fallbacks.push(Fallback {
        approach: None,
        after: Some(10.0),
        chance: Some(0.5),
    });
    let (mean, _) = end(&record);
    assert!((mean - 60.0).abs() < 1e-3, "{mean}");
    let [alone, with] =
        work_minutes(&record, &Constants::default(), ExcursionAt(0), SlotAt(0)).unwrap();
    assert!((alone.mean() - 60.0).abs() < 1e-6 && (with.mean() - 60.0).abs() < 1e-3);
    // One that names no chance ends what is known of the list.
    record.excursions[ExcursionAt(0)].slots[SlotAt(0)].fallbacks[0].chance = None;
    assert!((end(&record).0 - 60.0).abs() < 1e-6);
}
