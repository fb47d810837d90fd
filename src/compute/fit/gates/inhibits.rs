//! Whether everything that must be off, locked or vented is arranged for, and stays so while the
//! work goes on.

use super::small;
use crate::fit::place::{Found, down, up};
use crate::fit::ready::Ready;
use crate::fit::reasons::{Reason, Unknown};
use crate::fit::snapshot::Arranged;
use crate::fit::verdict::Judgement;
use crate::places::{ExcursionAt, TaskAt};
use domain::words::GateVerdict::{CannotTell, Met, NotMet};
use domain::words::{ArrangementState, GateName};

/// Less than this is rounding.
const ROUNDING: f64 = 1e-6;

pub(in crate::fit) fn inhibits(
    ready: &Ready,
    task: TaskAt,
    excursion: ExcursionAt,
    found: Option<&Found>,
    judge: &mut impl Judgement,
) {
    let mut say = |verdict, reason| judge.say(GateName::Inhibits, verdict, reason);
    let here = &ready.snapshot.tasks[task];
    if here.inhibits.is_empty() {
        if here.inhibits_in_words {
            say(CannotTell, Reason::Unknown(Unknown::Inhibits { task }));
        } else {
            say(Met, Reason::NoInhibits);
        }
        return;
    }
    say(Met, Reason::InhibitsArranged { count: small(here.inhibits.len()) });
    for &needed in &here.inhibits {
        let arranged = &ready.snapshot.excursions[excursion].arranged;
        let inhibit = needed;
        let Some(state) = arranged.iter().find(|one| one.inhibit == needed) else {
            say(NotMet, Reason::InhibitNotAsked { inhibit });
            continue;
        };
        if state.state == ArrangementState::Asked {
            say(NotMet, Reason::InhibitAsked { inhibit });
        }
        if state.from.is_none() && state.until.is_none() {
            continue;
        }
        let Some(found) = found else {
            say(CannotTell, Reason::NoPlace);
            continue;
        };
        let early = state.from.is_some_and(|from| found.own.start + ROUNDING < from);
        let long = state.until.is_some_and(|until| found.own.end > until + ROUNDING);
        if early || long {
            say(NotMet, off(state));
        }
    }
}

/// The inhibits for which work waits that ends too late then.
pub(in crate::fit) fn late_inhibits(
    ready: &Ready,
    task: TaskAt,
    excursion: ExcursionAt,
    found: &Found,
    judge: &mut impl Judgement,
) {
    let needed = &ready.snapshot.tasks[task].inhibits;
    let arranged = ready.snapshot.excursions[excursion].arranged.iter();
    let waited = |from: f64| found.own.start <= from + ROUNDING;
    for one in arranged.filter(|one| needed.contains(&one.inhibit) && one.from.is_some_and(waited))
    {
        judge.say(GateName::Inhibits, NotMet, off(one));
    }
}

fn off(state: &Arranged) -> Reason {
    let (from, until) = (state.from.map_or(0, up), state.until.map(down));
    Reason::InhibitOff { inhibit: state.inhibit, from, until }
}
