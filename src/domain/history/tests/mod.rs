//! The rules on a task's standing, one life of a task at a time. Each event is named by its code.

mod carried;
mod order;
mod properties;
mod state;

use super::*;
use crate::units::Pet;

/// Flight `n` is `G-n`, landed up to `LANDED`; excursion `n.m` is `E-n.m`.
const LANDED: i64 = 35;

fn on_flight(rank: i64) -> OnFlight {
    OnFlight { code: format!("G-{rank}").as_str().into(), rank, landed: rank <= LANDED }
}

fn excursion((flight, number): (i64, i64)) -> ExcursionCode {
    format!("E-{flight}.{number}").as_str().into()
}

fn event(code: &str, when: When, what: EventKind) -> Event {
    Event { code: code.to_owned(), when, what }
}

fn opened() -> Event {
    event("T-1", When::undated(0), EventKind::Opened)
}

/// An attempt whose slot is not known, and what it added as older records say it.
fn tried(code: &str, at: (i64, i64), entry: i64, outcome: Outcome, share: Option<i64>) -> Event {
    saying(code, at, entry, outcome, share.map(|share| StatedAmount::Added(Share(share))))
}

/// An attempt that says how much is left after it.
fn leaving(code: &str, at: (i64, i64), entry: i64, outcome: Outcome, left: i64) -> Event {
    saying(code, at, entry, outcome, Some(StatedAmount::Left(Share(left))))
}

fn saying(
    code: &str,
    at: (i64, i64),
    entry: i64,
    outcome: Outcome,
    said: Option<StatedAmount>,
) -> Event {
    let tells = match outcome {
        Outcome::Done => Tells::Success,
        Outcome::PartDone | Outcome::NotCompleted => Tells::Failure,
        Outcome::NotReached => Tells::Nothing,
    };
    let made = AttemptEvent {
        outcome,
        said,
        tells,
        cause: None,
        slot: None,
        excursion: excursion(at),
        flight: Some(on_flight(at.0)),
        imported: false,
    };
    event(code, When::on(at.0, Some(at.1), Phase::During, entry), EventKind::Attempt(made))
}

fn deferred(code: &str, at: (i64, i64), entry: i64, phase: DeferralPhase) -> Event {
    let stage = match phase {
        DeferralPhase::BeforeLaunch => Phase::BeforeLaunch,
        DeferralPhase::BeforeEgress => Phase::BeforeEgress,
        DeferralPhase::During => Phase::During,
    };
    let put_off = DeferralEvent {
        phase,
        reason: DeferralReason::Time,
        slot: None,
        excursion: excursion(at),
        flight: Some(on_flight(at.0)),
    };
    event(code, When::on(at.0, Some(at.1), stage, entry), EventKind::Deferral(put_off))
}

/// What happened on the ground after a flight.
fn after(code: &str, flight: i64, entry: i64, what: EventKind) -> Event {
    event(code, When::on(flight, None, Phase::After, entry), what)
}

fn closed(code: &str, flight: i64, entry: i64, kind: ClosureKind) -> Event {
    after(code, flight, entry, EventKind::Closure { kind })
}

fn reopened(code: &str, flight: i64, entry: i64, share_left: i64) -> Event {
    after(code, flight, entry, EventKind::Reopening { share_left: Share(share_left) })
}

/// A slot on an excursion still ahead, placed after the flight on which it was set.
fn slot(code: &str, set_after: i64, entry: i64, on: (i64, i64), state: SlotState) -> Event {
    let was_set = matches!(state, SlotState::Set | SlotState::Flown);
    let flown = on.0 <= LANDED;
    let held = SlotEvent {
        slot: code.into(),
        state,
        excursion: excursion(on),
        flight: Some(on_flight(on.0)),
        visit: if flown { Visit::Over } else { Visit::Ahead },
        was_set,
        set_at_launch: was_set && flown,
    };
    after(code, set_after, entry, EventKind::Slot(held))
}

fn with_slot(mut event: Event, slot: &str) -> Event {
    match &mut event.what {
        EventKind::Attempt(tried) => tried.slot = Some(slot.into()),
        EventKind::Deferral(put_off) => put_off.slot = Some(slot.into()),
        _ => unreachable!("only results have a slot"),
    }
    event
}

fn in_debrief(mut event: Event) -> Event {
    match &mut event.what {
        EventKind::Slot(held) => held.visit = Visit::InDebrief,
        _ => unreachable!("only slots are debriefed"),
    }
    event
}
