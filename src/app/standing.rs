//! Derives how tasks stand and stores it for filtering, in the transaction of the change. An
//! ending found here takes off what was planned after it and makes the alternatives moot.

use std::collections::{BTreeSet, HashMap};

use crate::app::Failure;
use crate::app::calendar::Calendar;
use crate::app::dossier::Dossier;
use crate::app::records::{Base, write};
use crate::app::slots::step;
use crate::app::work::Work;
use crate::domain::cells::Prose;
use crate::domain::codes::{ClosureCode, FlightCode, Own, SlotCode, TaskCode};
use crate::domain::endings::Closure;
use crate::domain::history::{Standing, Visit, WhyOpen, slots_after_the_end, standing};
use crate::domain::order_of_work::{Known, Tie, moot_by};
use crate::domain::repeat_guard::{Approach, Guard, Judgement, Tells, tells};
use crate::domain::slots::Slot;
use crate::domain::words::{ClosureKind, SlotState, TaskState};
use crate::store::history::{Opening, PutOff, Tried};
use crate::store::standing::{Holds, StandingRow, TaskWords};
use crate::store::{Kept, reach, standing as rows, tasks};

/// So many tasks are derived together.
const TOGETHER: usize = 200;
/// Sorts after every day.
const NEVER: &str = "9999-12-31";

/// Derives every task that was touched, and those that this touches in turn.
pub(crate) async fn derive(work: &mut Work) -> Result<(), Failure> {
    if work.touched_tasks.is_empty() {
        return Ok(());
    }
    let calendar = Calendar::load(work.db()).await?;
    while !work.touched_tasks.is_empty() {
        let batch: Vec<TaskCode> = work.touched_tasks.iter().take(TOGETHER).cloned().collect();
        for task in &batch {
            work.touched_tasks.remove(task);
        }
        let dossier = Dossier::load_with(work.db(), calendar.clone(), &batch).await?;
        let held = by_task(rows::holds(work.db(), &batch).await?);
        let mut about: HashMap<TaskCode, String> = HashMap::new();
        for (task, words) in rows::words_about(work.db(), &batch).await? {
            about.entry(task).or_default().extend(["\n", &words]);
        }
        for opening in &dossier.events.openings {
            let before = rows::find(work.db(), &opening.task).await?;
            let events = dossier.events_of(opening);
            let now = standing(&events);
            let row = row(&dossier, opening, &now, held.get(&opening.task));
            rows::put(work.db(), &row).await?;
            rows::put_flights(work.db(), &opening.task, &flights_of(&dossier, opening)).await?;
            let said = about.get(&opening.task).map_or("", String::as_str);
            put_words(work, &dossier, opening, said).await?;
            for slot in slots_after_the_end(&events) {
                take_off(work, &slot, &opening.task).await?;
            }
            let moved = before.as_ref().map(|before| before.state) != Some(now.state);
            if moved {
                for other in reach::linked(work.db(), &opening.task).await? {
                    work.touch(&other);
                }
            }
            if moved && now.state == TaskState::Done {
                make_moot(work, &opening.task).await?;
            }
        }
    }
    Ok(())
}

fn by_task(holds: Vec<Holds>) -> HashMap<TaskCode, Holds> {
    holds.into_iter().map(|holds| (holds.task.clone(), holds)).collect()
}

/// Withdraws a slot that stands after the end of its task.
async fn take_off(work: &mut Work, slot: &SlotCode, task: &TaskCode) -> Result<(), Failure> {
    let Some(slot) = Slot::find(work.db(), slot.as_str()).await? else { return Ok(()) };
    if matches!(slot.state, SlotState::Set | SlotState::Pencilled) {
        let why = format!("{task} ended");
        step(work, slot, SlotState::Withdrawn, Some(&why)).await?;
        work.touched_tasks.remove(task);
    }
    Ok(())
}

/// “Instead of”: what is done makes the other moot.
async fn make_moot(work: &mut Work, done: &TaskCode) -> Result<(), Failure> {
    let links = tasks::links_among(work.db(), std::slice::from_ref(done)).await?;
    let ties: Vec<Tie> = links.iter().map(Tie::from).collect();
    let others: Vec<TaskCode> =
        links.into_iter().flat_map(|link| [link.task, link.other]).collect();
    let known: Vec<Known> = rows::these(work.db(), &others)
        .await?
        .into_iter()
        .map(|row| Known::as_it_stands(row.task, row.state))
        .collect();
    for task in moot_by(done, &ties, &known) {
        let closure = Closure {
            code: Own(ClosureCode::default()),
            task,
            kind: ClosureKind::Moot,
            duplicate_of: None,
            words: Prose(format!("{done} was done instead.")),
            evidence: Prose::default(),
            day: Some(work.today),
        };
        write(work, closure, Base::New).await?;
    }
    Ok(())
}

fn flights_of(dossier: &Dossier, opening: &Opening) -> Vec<FlightCode> {
    let task = &opening.task;
    let events = &dossier.events;
    let excursions = events
        .attempts
        .iter()
        .filter(|tried| tried.task == *task)
        .map(|tried| &tried.excursion)
        .chain(events.deferrals.iter().filter(|d| d.task == *task).map(|d| &d.excursion))
        .chain(
            events
                .slots
                .iter()
                .filter(|held| held.task == *task && held.state != SlotState::Withdrawn)
                .map(|held| &held.excursion),
        );
    let flights: BTreeSet<FlightCode> =
        excursions.filter_map(|code| dossier.calendar.flight_of(code)).map(|f| f.code).collect();
    flights.into_iter().collect()
}

async fn put_words(
    work: &mut Work,
    dossier: &Dossier,
    opening: &Opening,
    about: &str,
) -> Result<(), Failure> {
    let mut record = String::new();
    for tried in dossier.events.attempts.iter().filter(|tried| tried.task == opening.task) {
        record.extend([&*tried.words, "\n", &*tried.as_left, "\n"]);
    }
    for put_off in dossier.events.deferrals.iter().filter(|d| d.task == opening.task) {
        record.extend([&*put_off.words, "\n"]);
    }
    record.push_str(about);
    let words = TaskWords {
        entry: opening.entry,
        task: &opening.task,
        title: &opening.title,
        notes: &opening.notes,
        record: &record,
    };
    Ok(rows::put_words(work.db(), &words).await?)
}

/// The stored copy of how one task stands.
pub(crate) fn row(
    dossier: &Dossier,
    opening: &Opening,
    now: &Standing,
    holds: Option<&Holds>,
) -> StandingRow {
    let open_item = now.state.is_open_item();
    let kept_out = holds.is_some_and(|holds| holds.is_contingency) && !opening.triggered;
    let (in_question, twice_same) =
        if open_item { guard(dossier, opening) } else { (false, false) };
    StandingRow {
        task: opening.task.clone(),
        state: now.state,
        is_open: open_item && !kept_out,
        share_left: now.share_left,
        carry_count: now.carry_count,
        deferred_before: now.deferred_before_launch,
        why: now.why_open.as_ref().map_or(now.state.word(), WhyOpen::kind).to_owned(),
        why_words: why_words(dossier, opening, now),
        why_event: now.last_event.clone(),
        class: opening.class.clone().unwrap_or_else(|| "9".to_owned()),
        need_day: need_day(&dossier.calendar, opening),
        in_danger: open_item && !kept_out && in_danger(dossier, opening),
        in_question,
        twice_same,
        held_tool: open_item
            && holds.is_some_and(|h| h.techniques > 0 && h.lacking == h.techniques),
        held_order: open_item && holds.is_some_and(|holds| holds.needs_open > 0),
        held_remedy: open_item && holds.is_some_and(|holds| holds.remedies_open > 0),
        worksite: opening.worksite.as_deref().map(Into::into),
        family: opening.family.clone(),
        title: opening.title.clone(),
        undated: now.undated,
    }
}

/// The day by which it is needed: the date, else the landing or launch of the flight.
fn need_day(calendar: &Calendar, opening: &Opening) -> String {
    if let Some(day) = opening.needed_by_day {
        return day.to_string();
    }
    let flight = opening.needed_by_flight.as_ref().and_then(|code| calendar.rank(code));
    flight
        .map(|rank| &calendar.flights[rank])
        .and_then(|flight| flight.landing.or(flight.launch))
        .map_or_else(|| NEVER.to_owned(), |day| day.to_string())
}

/// No set slot that fits or is tight on a flight that lands by the needed-by date.
fn in_danger(dossier: &Dossier, opening: &Opening) -> bool {
    let calendar = &dossier.calendar;
    let by_flight = opening.needed_by_flight.as_ref().and_then(|code| calendar.rank(code));
    if by_flight.is_none() && opening.needed_by_day.is_none() {
        return false;
    }
    let in_time = |flight: usize| {
        let landing = calendar.flights[flight].landing.or(calendar.flights[flight].launch);
        by_flight.is_none_or(|by| flight <= by)
            && opening.needed_by_day.is_none_or(|by| landing.is_some_and(|day| day <= by))
    };
    !dossier.events.slots.iter().any(|held| {
        held.task == opening.task
            && held.state == SlotState::Set
            && calendar.visit(&held.excursion) == Visit::Ahead
            && !matches!(held.worst_gate.as_deref(), Some("not met" | "cannot tell"))
            && calendar
                .excursions
                .get(&held.excursion)
                .and_then(|on| on.flight)
                .is_some_and(in_time)
    })
}

/// Whether some approach that failed in the family is in question here, and whether the task was
/// tried twice the same way.
fn guard(dossier: &Dossier, opening: &Opening) -> (bool, bool) {
    let Some(family) = dossier.family_of(opening) else { return (false, false) };
    let unit = dossier.unit_of(&opening.task);
    let mut failed: Vec<&Approach> = family
        .tries
        .iter()
        .filter(|tried| tells(&tried.account) == Tells::Failure && tried.approach.is_whole())
        .map(|tried| &tried.approach)
        .collect();
    failed.sort_unstable();
    failed.dedup();
    let record = Guard::new(family.record());
    let in_question = failed
        .iter()
        .any(|approach| matches!(record.judge(&unit, approach), Judgement::InQuestion { .. }));
    let mut own: Vec<&Approach> = family
        .tries
        .iter()
        .filter(|tried| tried.unit.task == opening.task && tried.approach.is_whole())
        .filter(|tried| tells(&tried.account) == Tells::Failure)
        .map(|tried| &tried.approach)
        .collect();
    own.sort_unstable();
    let twice_same = own.windows(2).any(|pair| pair[0] == pair[1]);
    (in_question, twice_same)
}

/// Why it is open, as the backlog says it: what happened last, where, and what was written.
fn why_words(dossier: &Dossier, opening: &Opening, now: &Standing) -> String {
    let events = &dossier.events;
    let tried = |code: &str| events.attempts.iter().find(|tried| tried.code.as_str() == code);
    let put_off = |code: &str| events.deferrals.iter().find(|put_off| put_off.code == code);
    let words = match &now.why_open {
        None => ended_words(dossier, opening, now),
        Some(WhyOpen::NeverTried) => match &opening.from_excursion {
            Some(excursion) => format!("found on {excursion}; never tried"),
            None => "never tried".to_owned(),
        },
        Some(
            WhyOpen::Failed { attempt, excursion, .. }
            | WhyOpen::Stopped { attempt, excursion, .. }
            | WhyOpen::PartDone { attempt, excursion, .. },
        ) => stopped_words(tried(attempt), excursion.as_str(), now),
        Some(WhyOpen::NotReached { attempt, excursion }) => {
            said(tried(attempt).map(|t| t.words.as_str()), &format!("not reached at {excursion}"))
        }
        Some(WhyOpen::Deferred { deferral, excursion, reason, .. }) => said(
            put_off(deferral).map(|p: &PutOff| p.words.as_str()),
            &format!("deferred from {excursion}, {reason}"),
        ),
        Some(WhyOpen::Parked { parking }) => said(
            events.parkings.iter().find(|turned| turned.code == *parking).map(|t| t.words.as_str()),
            "parked",
        ),
        Some(WhyOpen::Reopened { reopening, share_left }) => said(
            events
                .reopenings
                .iter()
                .find(|turned| turned.code == *reopening)
                .map(|t| t.words.as_str()),
            &format!("reopened, {share_left} left"),
        ),
    };
    words.chars().take(240).collect()
}

fn stopped_words(tried: Option<&Tried>, excursion: &str, now: &Standing) -> String {
    let left =
        if now.share_left.0 < 100 { format!(", {} left", now.share_left) } else { String::new() };
    said(tried.map(|tried| tried.words.as_str()), &format!("stopped at {excursion}{left}"))
}

fn ended_words(dossier: &Dossier, opening: &Opening, now: &Standing) -> String {
    let Some(code) = &now.ended else { return String::new() };
    if let Some(ended) = dossier.events.closures.iter().find(|closure| closure.code == *code) {
        return said(Some(&ended.words), ended.kind.word());
    }
    let tried = dossier.events.attempts.iter().find(|tried| tried.code.as_str() == code);
    match tried {
        Some(tried) => format!("{} at {}", now.state, tried.excursion),
        None => format!("{} {}", opening.task, now.state),
    }
}

/// `not reached at E-33.2: the pump work took 0:41 longer`; the first sentence says enough.
fn said(words: Option<&str>, what: &str) -> String {
    let first = words.unwrap_or("").split_inclusive(['.', ';']).next().unwrap_or("").trim();
    let first = first.trim_end_matches(['.', ';']);
    if first.is_empty() { what.to_owned() } else { format!("{what}: {first}") }
}
