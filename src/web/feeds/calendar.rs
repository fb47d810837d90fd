//! Flights, excursions and due dates as a calendar. Everything is UTC; what has a day and no hour is
//! an event of that day.

use std::fmt::Write as _;

use app::read::Connection;

use crate::papers::ARRANGED_BEFORE;
use app::read::open_items::{self, Filter, Sort};
use app::read::{Found, changes, flights, outside, register, remedies};
use app::{Failure, Reader, constraints, waits};
use domain::codes::FlightCode;
use domain::excursions::Excursion;
use domain::inhibits::Arrangement;
use domain::kinds::Kind;
use domain::time::{Day, Moment};
use domain::waits::Step;
use domain::words::{ArrangementState, ExcursionState, FlightState};

/// No list of a record is longer.
const MAX_READ: i64 = 20_000;

const CAUTION: &str = domain::caution::IN_SHORT;

/// Octets of one line without its break.
// Source: RFC 5545, section 3.1 (lines should not be longer than 75 octets), 2009.
const LINE: usize = 75;

struct Event {
    /// Stays the same whatever is changed in the record.
    uid: String,
    /// Grows with every change.
    sequence: i64,
    summary: String,
    description: String,
    when: When,
    is_cancelled: bool,
}

enum When {
    /// From a day to the day after the last.
    Days(Day, Day),
    Hours(Moment, Moment),
}

pub(super) async fn written(
    db: &mut Reader,
    now: Moment,
    outpost: &str,
) -> Result<String, Failure> {
    let mut out = String::from("BEGIN:VCALENDAR\r\nVERSION:2.0\r\n");
    line(&mut out, "PRODID", "-//Holdover//Excursions and due dates//EN");
    line(&mut out, "CALSCALE", "GREGORIAN");
    line(&mut out, "METHOD", "PUBLISH");
    let name =
        if outpost.is_empty() { "Holdover".to_owned() } else { format!("{outpost}, Holdover") };
    line(&mut out, "NAME", &escaped(&name));
    for event in events(db, now.day()).await? {
        write_event(&mut out, &event, now);
    }
    out.push_str("END:VCALENDAR\r\n");
    Ok(out)
}

async fn events(db: &mut Reader, today: Day) -> Result<Vec<Event>, Failure> {
    let mut all = Vec::new();
    for flight in flights::in_order(db).await? {
        let Some(launch) = flight.launch else { continue };
        let last = flight.landing.unwrap_or(launch);
        all.push(Event {
            uid: uid(db, "flight", (Kind::Flight, flight.code.as_str())).await?,
            sequence: sequence(db, &[(Kind::Flight, flight.code.as_str())]).await?,
            summary: format!("Flight {}, {}", flight.code, flight.state),
            description: format!("Launch {launch}, landing {last}. {CAUTION}"),
            when: When::Days(launch, last.plus(1)),
            is_cancelled: flight.state == FlightState::Cancelled,
        });
    }
    // Also those of a flight without a launch date, and those of no flight.
    for excursion in Excursion::after(db, "", MAX_READ).await? {
        all.extend(of_excursion(db, &excursion).await?);
    }
    for one in constraints::read_all(db, today).await?.in_force() {
        let Some(until) = one.until else { continue };
        let code = one.constraint.code.0.to_string();
        let words =
            format!("Constraint {code} is safe until {until}: {}", one.constraint.forbidden);
        let flight = one.constraint.safe_until_flight.as_ref();
        all.push(due(db, (Kind::Constraint, &code), flight, until, words).await?);
    }
    for item in outside::in_place(db).await? {
        let Some(until) = item.runs_out() else { continue };
        let code = item.code.0.to_string();
        let words = format!("Exposure limit of {code} ends: {}", item.what);
        all.push(due(db, (Kind::OutsideItem, &code), None, until, words).await?);
    }
    let launches: Vec<_> =
        flights::in_order(db).await?.into_iter().map(|row| (row.code, row.launch)).collect();
    for remedy in remedies::due(db).await? {
        let launch = launches.iter().find(|(code, _)| *code == remedy.needed_by);
        let Some(day) = launch.and_then(|(_, launch)| *launch) else { continue };
        let code = remedy.code.to_string();
        let words = format!("Remedy {code} due before {}: {}", remedy.needed_by, remedy.what);
        all.push(due(db, (Kind::Remedy, &code), Some(&remedy.needed_by), day, words).await?);
    }
    all.extend(of_tasks(db).await?);
    all.extend(of_reviews(db, today).await?);
    all.extend(of_arrangements(db, &launches).await?);
    Ok(all)
}

/// Open tasks with the earliest date that binds them.
async fn of_tasks(db: &mut Connection) -> Result<Vec<Event>, Failure> {
    let mut all = Vec::new();
    for item in open_items::page(db, &Filter::default(), Sort::Need, 0, MAX_READ).await? {
        let Some(day) = item.need_day else { continue };
        let code = item.task.to_string();
        let because = item.need_from.as_ref().map_or_else(String::new, |from| format!(" ({from})"));
        let words = format!("Task {code} needed by {day}{because}: {}", item.title);
        let flight = item.needed_by_flight.as_ref();
        all.push(due(db, (Kind::Task, &code), flight, day, words).await?);
    }
    Ok(all)
}

/// Findings that wait for their review.
async fn of_reviews(db: &mut Reader, today: Day) -> Result<Vec<Event>, Failure> {
    let mut all = Vec::new();
    for one in &waits::seen(db, today).await?.all {
        let (Step::Review, Some(day)) = (one.wait.step, one.wait.due) else { continue };
        let words = format!("Review of {} due: {}", one.code, one.words);
        all.push(due(db, (one.kind, &one.code), None, day, words).await?);
    }
    Ok(all)
}

/// Arrangements that were asked for and are not agreed.
async fn of_arrangements(
    db: &mut Connection,
    launches: &[(FlightCode, Option<Day>)],
) -> Result<Vec<Event>, Failure> {
    let mut all = Vec::new();
    for one in Arrangement::after(db, "", MAX_READ).await? {
        let excursion = Excursion::find(db, one.excursion.as_str()).await?;
        let Some(excursion) = excursion.filter(|excursion| {
            one.state == ArrangementState::Asked && excursion.state == Some(ExcursionState::Planned)
        }) else {
            continue;
        };
        let launch = launches.iter().find(|(code, _)| Some(code) == excursion.flight.as_ref());
        let launch = launch.and_then(|(_, launch)| *launch).or(excursion.day);
        let Some(day) = launch.map(|day| day.plus(-ARRANGED_BEFORE)) else { continue };
        let code = one.code.0.to_string();
        let words = format!("Agree {} on {} ({code})", one.inhibit, one.excursion);
        let flight = excursion.flight.as_ref();
        all.push(due(db, (Kind::Arrangement, &code), flight, day, words).await?);
    }
    Ok(all)
}

/// The same whatever is changed in the record, its code too: its number among all records.
async fn uid(db: &mut Connection, of: &str, (kind, code): (Kind, &str)) -> Result<String, Failure> {
    let entry = register::find(db, kind, code).await?.map_or(0, |row| row.entry);
    Ok(format!("{of}-{entry}"))
}

async fn of_excursion(
    db: &mut Connection,
    excursion: &Excursion,
) -> Result<Option<Event>, Failure> {
    let Some(day) = excursion.day else { return Ok(None) };
    let code = excursion.code.0.to_string();
    let length = excursion.actual.or(excursion.planned).map(|minutes| minutes.0);
    let when = match (excursion.egress_at, length) {
        (Some(egress), Some(minutes)) if minutes > 0 => {
            When::Hours(egress, egress.plus_minutes(minutes))
        }
        _ => When::Days(day, day.plus(1)),
    };
    let state = excursion.state.unwrap_or(ExcursionState::Planned);
    Ok(Some(Event {
        sequence: sequence(db, &[(Kind::Excursion, &code)]).await?,
        uid: uid(db, "excursion", (Kind::Excursion, &code)).await?,
        summary: format!("Excursion {code}, {state}"),
        description: CAUTION.to_owned(),
        when,
        is_cancelled: state == ExcursionState::CalledOff,
    }))
}

/// The day on which something is due, and the flight whose date it follows.
async fn due(
    db: &mut Connection,
    (kind, code): (Kind, &str),
    flight: Option<&FlightCode>,
    day: Day,
    summary: String,
) -> Result<Event, Failure> {
    let flight = flight.map(|flight| (Kind::Flight, flight.as_str()));
    let rests_on: Vec<(Kind, &str)> = flight.into_iter().chain([(kind, code)]).collect();
    Ok(Event {
        uid: uid(db, "due", (kind, code)).await?,
        sequence: sequence(db, &rests_on).await?,
        summary,
        description: CAUTION.to_owned(),
        when: When::Days(day, day.plus(1)),
        is_cancelled: false,
    })
}

/// The number of the newest change of any of the records that an event rests on: it grows with
/// every change of one, and when another takes the place of one.
async fn sequence(db: &mut Connection, rests_on: &[(Kind, &str)]) -> Result<i64, Failure> {
    let mut newest = 0;
    for (kind, code) in rests_on {
        newest = newest.max(changes::last_of(db, *kind, code).await?);
    }
    Ok(newest)
}

// Source: RFC 5545, sections 3.6.1 (event), 3.3.4 and 3.3.5 (date, UTC date-time), 3.8.7.4
// (sequence), 2009.
fn write_event(out: &mut String, event: &Event, now: Moment) {
    out.push_str("BEGIN:VEVENT\r\n");
    line(out, "UID", &format!("{}@holdover", escaped(&event.uid)));
    line(out, "DTSTAMP", &stamp(now));
    line(out, "SEQUENCE", &event.sequence.to_string());
    match event.when {
        When::Days(from, until) => {
            line(out, "DTSTART;VALUE=DATE", &date(from));
            line(out, "DTEND;VALUE=DATE", &date(until));
            line(out, "TRANSP", "TRANSPARENT");
        }
        When::Hours(from, until) => {
            line(out, "DTSTART", &stamp(from));
            line(out, "DTEND", &stamp(until));
        }
    }
    line(out, "SUMMARY", &escaped(&event.summary));
    if !event.description.is_empty() {
        line(out, "DESCRIPTION", &escaped(&event.description));
    }
    line(out, "STATUS", if event.is_cancelled { "CANCELLED" } else { "CONFIRMED" });
    out.push_str("END:VEVENT\r\n");
}

fn date(day: Day) -> String {
    day.to_string().replace('-', "")
}

fn stamp(at: Moment) -> String {
    let clock = at.clock().replace(':', "");
    format!("{}T{clock}00Z", date(at.day()))
}

// Source: RFC 5545, section 3.3.11 (text; control characters but the tab have no place in it), 2009.
fn escaped(text: &str) -> String {
    text.replace('\\', "\\\\")
        .replace(';', "\\;")
        .replace(',', "\\,")
        .replace("\r\n", "\\n")
        .replace(['\n', '\r'], "\\n")
        .replace(|letter: char| letter.is_control() && letter != '\t', "")
}

/// One content line, folded at 75 octets and never inside a letter.
fn line(out: &mut String, name: &str, value: &str) {
    let whole = format!("{name}:{value}");
    let mut room = LINE;
    for letter in whole.chars() {
        if letter.len_utf8() > room {
            out.push_str("\r\n ");
            room = LINE - 1;
        }
        let _ = write!(out, "{letter}");
        room -= letter.len_utf8();
    }
    out.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lines_are_folded_at_75_octets_and_unfold_to_what_they_were() {
        let mut out = String::new();
        let value = "Sägezahn über dem Träger ".repeat(12);
        line(&mut out, "SUMMARY", &value);
        assert!(out.split("\r\n").all(|line| line.len() <= 75), "{out}");
        // Source: RFC 5545, section 3.1: unfolding removes CRLF and the blank behind it.
        assert_eq!(out.replace("\r\n ", ""), format!("SUMMARY:{value}\r\n"));
    }

    #[test]
    fn text_is_escaped_as_the_standard_says() {
        // Source: RFC 5545, section 3.3.11, the example of a property value.
        let plain = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared.";
        let written = "Project XYZ Final Review\\nConference Room - 3B\\nCome Prepared.";
        assert_eq!(escaped(plain), written);
        assert_eq!(escaped("a,b;c\\d"), "a\\,b\\;c\\\\d");
    }
}
