//! The gates that hang on rehearsals, on who is trained, and on what is arranged.

use super::super::{
    Approach, Arranged, Ask, Constants, Practice, Qualification, Rehearsal, Snapshot, one_cell,
};
use super::{cell, day, gate, record, says};
use crate::places::{ApproachAt, CrewAt, ExcursionAt, InhibitAt, TaskAt};
use crate::timeline::Lanes;
use domain::cells::Cell;
use domain::sides::Side;
use domain::words::ArrangementState::{self, Arranged as Ready, Asked, InPlace, Released};
use domain::words::GateVerdict::{self, CannotTell, Met, NotMet, Note, Tight};
use domain::words::RehearsalKind::{self, Analysis, OneG, Tank};
use domain::words::{GateName, SlotVerdict};

fn practice(on: &str, side: Option<&str>, revision: i64) -> Practice {
    Practice {
        revision: Some(revision),
        side: side.map(|side| Side::read(side).unwrap()),
        day: Some(day(on)),
    }
}

fn run(kind: RehearsalKind, on: &str, side: Option<&str>, revision: i64) -> Rehearsal {
    Rehearsal { kind, success: true, practice: practice(on, side, revision) }
}

/// T-1 by revision 3 of its technique from nadir, with nothing practised.
fn from_nadir() -> Snapshot {
    let mut record = record();
    let way = &mut record.tasks[TaskAt(0)].approaches[ApproachAt(0)];
    let side = Some(Side::read("nadir").unwrap());
    let technique = way.technique.clone();
    *way = Approach { technique, side, revision: Some(3), ..Approach::default() };
    record
}

#[test]
fn rehearsals() {
    let mut record = from_nadir();
    let mut verdict = |runs: Vec<Rehearsal>, demanded: bool| {
        record.tasks[TaskAt(0)].approaches[ApproachAt(0)].rehearsals = runs;
        record.tasks[TaskAt(0)].approaches[ApproachAt(0)].rehearsal_demanded = demanded;
        gate(&record, 0, GateName::Rehearsal)
    };
    assert_eq!(verdict(vec![], false), Note);
    let other_side = run(OneG, "2031-01-10", Some("zenith"), 3);
    assert_eq!(verdict(vec![other_side], false), Note);
    assert_eq!(verdict(vec![run(OneG, "2031-01-10", Some("nadir"), 2)], false), Note);
    assert_eq!(verdict(vec![], true), NotMet);
    // E-1.1 is on 2031-03-10; 180 days before it is 2030-09-11.
    assert_eq!(verdict(vec![run(Tank, "2030-09-11", Some("nadir"), 3)], true), Met);
    assert_eq!(verdict(vec![run(Tank, "2030-09-10", Some("nadir"), 3)], true), Note);
    assert_eq!(verdict(vec![run(OneG, "2031-01-10", Some("zenith"), 3)], true), Tight);
    assert_eq!(verdict(vec![run(OneG, "2031-01-10", Some("nadir"), 2)], true), Tight);
    assert_eq!(verdict(vec![run(Analysis, "2031-01-10", Some("nadir"), 3)], true), NotMet);
    let failed = Rehearsal { success: false, ..run(Tank, "2031-01-10", None, 3) };
    assert_eq!(verdict(vec![failed], true), NotMet);
    // One that is planned for after the excursion is none for it; an earlier one still counts.
    let (before, after) = (run(Tank, "2031-01-10", None, 3), run(Tank, "2031-04-10", None, 3));
    assert_eq!(verdict(vec![after.clone()], true), NotMet);
    assert_eq!(verdict(vec![after, before], true), Met);
    let mut undated = run(Tank, "2031-01-10", None, 3);
    undated.practice.day = None;
    assert_eq!(verdict(vec![undated], true), CannotTell);
    record.tasks[TaskAt(0)].approaches.clear();
    assert_eq!(gate(&record, 0, GateName::Rehearsal), CannotTell);
}

#[test]
fn whoever_holds_the_seat_is_to_be_trained() {
    let mut record = from_nadir();
    let by = |crew: u32, practice: Practice| Qualification { crew: CrewAt(crew), practice };
    let judged = |record: &Snapshot, seat: u8| -> (GateVerdict, String) {
        let ask = Ask { seats: vec![seat], ..Ask::default() };
        let explained = one_cell(record, &Constants::default(), TaskAt(0), ExcursionAt(0), &ask);
        let reason = explained.reason(GateName::Trained);
        let parts = super::super::sentence(record, TaskAt(0), &reason);
        (explained.cell.gate(GateName::Trained), super::Part::plain(&parts))
    };
    let never = "C-4: never trained, and the technique does not demand it.";
    assert_eq!(judged(&record, 1), (Note, never.to_owned()));
    record.tasks[TaskAt(0)].approaches[ApproachAt(0)].training_demanded = true;
    let never = "C-4: never trained, and the technique demands it.";
    assert_eq!(judged(&record, 1), (NotMet, never.to_owned()));
    record.tasks[TaskAt(0)].approaches[ApproachAt(0)].qualifications =
        vec![by(1, practice("2031-02-10", Some("nadir"), 3))];
    assert_eq!(judged(&record, 1).0, NotMet);
    assert_eq!(judged(&record, 2), (Met, "C-7: last trained 28 days before.".to_owned()));
    let older = practice("2031-02-10", Some("nadir"), 2);
    let other_side = practice("2031-02-10", Some("zenith"), 3);
    for (older, verdict, words) in [
        (older, Tight, "C-7: trained in an older revision alone."),
        (other_side, Tight, "C-7: trained from another side alone."),
        (practice("2030-09-10", None, 3), Note, "C-7: last trained 181 days before."),
    ] {
        record.tasks[TaskAt(0)].approaches[ApproachAt(0)].qualifications = vec![by(1, older)];
        assert_eq!(judged(&record, 2), (verdict, words.to_owned()));
    }
    record.excursions[ExcursionAt(0)].seat_crew = vec![None, Some(CrewAt(1))];
    let words = "Nobody is named for EV1 of E-1.1 yet; enter the crew codes of the seats.";
    assert_eq!(judged(&record, 1), (CannotTell, words.to_owned()));
    record.tasks[TaskAt(0)].approaches[ApproachAt(0)].training_demanded = false;
    assert_eq!(judged(&record, 1).0, Note);
}

#[test]
fn the_seat_of_the_one_who_is_trained_is_looked_at_first() {
    let mut record = record();
    let way = &mut record.tasks[TaskAt(0)].approaches[ApproachAt(0)];
    way.training_demanded = true;
    way.qualifications.retain(|one| one.crew == CrewAt(1));
    let lanes = |record: &Snapshot| cell(record, 0, 0).cell.place.unwrap().lanes;
    assert_eq!(lanes(&record), Lanes::one(1));
    assert_eq!(cell(&record, 0, 0).cell.verdict, SlotVerdict::Fits);
    // Work for two seats needs both of them trained.
    record.tasks[TaskAt(0)].seats = Some(2);
    assert_eq!(gate(&record, 0, GateName::Trained), NotMet);
    assert!(says(&record, 0, GateName::Trained).starts_with("C-4: never trained"));
}

#[test]
fn inhibits_are_arranged_and_hold_while_the_work_goes_on() {
    let mut record = record();
    assert_eq!(gate(&record, 0, GateName::Inhibits), Met);
    record.tasks[TaskAt(0)].inhibits_in_words = true;
    assert_eq!(gate(&record, 0, GateName::Inhibits), CannotTell);
    let words = "The inhibits of T-1 stand in words alone; enter them as inhibits by code.";
    assert_eq!(says(&record, 0, GateName::Inhibits), words);
    record.tasks[TaskAt(0)].inhibits = vec![InhibitAt(0)];
    assert_eq!(gate(&record, 0, GateName::Inhibits), NotMet);
    let words = "I-1 is not asked for; power, 90 min ahead.";
    assert_eq!(says(&record, 0, GateName::Inhibits), words);
    let mut arrange = |state: ArrangementState, from: Option<f64>, until: Option<f64>| {
        record.excursions[ExcursionAt(0)].arranged =
            vec![Arranged { inhibit: InhibitAt(0), state, from, until }];
        let verdict = gate(&record, 0, GateName::Inhibits);
        (verdict, says(&record, 0, GateName::Inhibits))
    };
    let words = "I-1 is asked for, not arranged yet; power, 90 min ahead.";
    assert_eq!(arrange(Asked, None, None), (NotMet, words.to_owned()));
    assert_eq!(arrange(Ready, None, None), (Met, "Its inhibit is arranged.".to_owned()));
    assert_eq!(arrange(InPlace, None, None).0, Met);
    // Egress 30, travel 10, setup 5: the work is from 0:45 to 1:45.
    assert_eq!(arrange(Ready, Some(45.0), Some(130.0)).0, Met);
    // Later than that, the work waits for it; until 1:44 it fits nowhere.
    assert_eq!(arrange(Ready, Some(46.0), None).0, Met);
    let words = "I-1 is in place from 0:00 to 1:44; the work does not fit into that.";
    assert_eq!(arrange(Released, None, Some(104.0)), (NotMet, words.to_owned()));
    record.excursions[ExcursionAt(0)].limit = None;
    assert_eq!(gate(&record, 0, GateName::Inhibits), CannotTell);
}
