//! Whether the approach was rehearsed on the ground, and whether whoever is to do it is trained in
//! it: in this revision, from this side, and not too long ago.

use crate::fit::ready::{Practised, Ready};
use crate::fit::reasons::{PracticeFigures, Reason, Unknown};
use crate::fit::verdict::Judgement;
use crate::places::{ApproachAt, ExcursionAt, TaskAt};
use crate::timeline::Lanes;
use domain::words::GateVerdict::{CannotTell, Met, NotMet, Note, Tight};
use domain::words::{GateName, GateVerdict};

pub(in crate::fit) fn rehearsal(
    ready: &Ready,
    task: TaskAt,
    approach: Option<ApproachAt>,
    excursion: ExcursionAt,
    judge: &mut impl Judgement,
) {
    let Some(at) = approach else {
        judge.say(GateName::Rehearsal, CannotTell, Reason::ApproachNotNamed);
        return;
    };
    let demanded = ready.snapshot.tasks[task].approaches[at].rehearsal_demanded;
    match judged(ready, ready.rehearsed(task, at), demanded, excursion) {
        Ok((verdict, figures)) => {
            judge.say(GateName::Rehearsal, verdict, Reason::Rehearsed(figures));
        }
        Err(unknown) => judge.say(GateName::Rehearsal, CannotTell, Reason::Unknown(unknown)),
    }
}

/// Everyone in the seats that hold the task is asked for. Without a place that is every seat, and
/// where training is demanded it cannot be told before there is one.
pub(in crate::fit) fn trained(
    ready: &Ready,
    task: TaskAt,
    approach: Option<ApproachAt>,
    excursion: ExcursionAt,
    lanes: Option<Lanes>,
    judge: &mut impl Judgement,
) {
    let Some(at) = approach else {
        judge.say(GateName::Trained, CannotTell, Reason::ApproachNotNamed);
        return;
    };
    let here = &ready.snapshot.excursions[excursion];
    let demanded = ready.snapshot.tasks[task].approaches[at].training_demanded;
    if lanes.is_none() && demanded {
        judge.say(GateName::Trained, CannotTell, Reason::NoPlace);
        return;
    }
    let lanes = lanes.unwrap_or_else(|| Lanes::up_to(here.seats.len()));
    if lanes.is_empty() {
        let unknown = Unknown::Seats { excursion };
        judge.say(GateName::Trained, CannotTell, Reason::Unknown(unknown));
        return;
    }
    for lane in lanes.each() {
        let seat = here.seats.get(lane).copied().unwrap_or_default();
        let Some(crew) = here.seat_crew.get(lane).copied().flatten() else {
            // Whoever will sit there, it can come out no worse than that.
            let verdict = if demanded { CannotTell } else { Note };
            let unknown = Unknown::Crew { excursion, seat };
            judge.say(GateName::Trained, verdict, Reason::Unknown(unknown));
            continue;
        };
        match judged(ready, ready.trained(task, at, crew), demanded, excursion) {
            Ok((verdict, figures)) => {
                let reason = Reason::Trained { crew, figures };
                judge.say(GateName::Trained, verdict, reason);
            }
            Err(unknown) => judge.say(GateName::Trained, CannotTell, Reason::Unknown(unknown)),
        }
    }
}

fn judged(
    ready: &Ready,
    practised: &Practised,
    demanded: bool,
    excursion: ExcursionAt,
) -> Result<(GateVerdict, PracticeFigures), Unknown> {
    let never = if demanded { NotMet } else { Note };
    // Practised otherwise than it is to be done counts only where practice is demanded.
    let otherwise = if demanded { Tight } else { Note };
    let said = match practised {
        Practised::Never => (never, PracticeFigures::Never { demanded }),
        Practised::OtherSide => (otherwise, PracticeFigures::OtherSide),
        Practised::OlderRevision => (otherwise, PracticeFigures::OlderRevision),
        Practised::Undated => (CannotTell, PracticeFigures::Undated),
        Practised::On(all) => {
            let day = ready.day_of(excursion).ok_or(Unknown::Day { excursion })?;
            let Some(&last) = all.iter().rev().find(|&&on| on <= day) else {
                return Ok((never, PracticeFigures::Never { demanded }));
            };
            let ago = day.since(last);
            let days = i32::try_from(ago).unwrap_or(i32::MAX);
            let verdict = if ago > ready.constants.rehearsal_days { Note } else { Met };
            (verdict, PracticeFigures::DaysBefore { days })
        }
    };
    Ok(said)
}
