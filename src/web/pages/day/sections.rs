//! The tables of the board.

use std::collections::BTreeMap;

use app::day::{Answers, Day, whole};
use compute::day::{Choice, DropSet};
use compute::fit::per_cent;
use compute::supplies::Supply;
use domain::codes::TaskCode;
use domain::day::{Act, Counts, Progress};
use domain::seats::Seats;
use domain::units::{Minutes, Pet};

/// A drop set in the table.
pub(super) struct DropView {
    pub words: String,
    pub chance: String,
    /// Of a drawing 144 wide.
    pub bar: i64,
    pub mark: i64,
    pub p50: String,
    pub p80: String,
    pub value: String,
    pub best: bool,
}

/// A task that is left.
pub(super) struct RestRow {
    pub number: usize,
    pub code: String,
    pub title: String,
    pub must: bool,
    pub running: bool,
    pub at_risk: bool,
    pub seats: String,
    pub times: String,
    pub minutes: String,
    pub latest: String,
    pub in_hand: String,
    pub in_time: String,
    pub reached: String,
    pub bar: i64,
}

pub(super) struct TurnView {
    pub seat: String,
    pub site: String,
    pub by: String,
    /// That minute has passed.
    pub passed: bool,
    pub parts: String,
}

pub(super) struct SupplyView {
    pub seats: Vec<String>,
    /// A supply with, for each seat, until when it lasts and what is left at the end.
    pub rows: Vec<(String, Vec<(String, String)>)>,
    pub end: String,
    /// What runs out first: how it stands to the reserve.
    pub reserve: Option<(domain::words::GateVerdict, String)>,
}

#[derive(Clone)]
pub(super) struct AheadView {
    pub code: String,
    pub title: String,
    pub seat: String,
    pub when: String,
    pub minutes: String,
    pub chance: String,
    /// The excursion on which it is set already.
    pub set_on: String,
    /// What the form that adds it carries.
    pub seats: String,
    pub technique: String,
    pub side: String,
    pub before: String,
}

/// A press in the log.
pub(super) struct LogRow {
    pub pet: String,
    pub utc: String,
    pub seats: String,
    pub words: String,
    pub who: String,
    pub state: &'static str,
    /// By which it can be undone.
    pub undo: Option<String>,
}

const WIDE: f64 = 144.0;

fn wide(chance: f64) -> i64 {
    whole(chance * WIDE).0
}

pub(super) fn task(there: &Day, at: usize) -> &str {
    there.tasks.get(at).map_or("", |task| task.slot.task.as_str())
}

fn listed(codes: &[&str]) -> String {
    match codes {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [all @ .., last] => format!("{} and {last}", all.join(", ")),
    }
}

/// `T-0146 is dropped`, `T-0114 and T-0146 are dropped, T-0157 is shortened`.
pub(super) fn done_with(there: &Day, set: &DropSet) -> String {
    let of = |choice: Choice| -> Vec<&str> {
        let chosen = set.choices.iter().filter(move |(_, made)| *made == choice);
        chosen.map(|(at, _)| task(there, *at)).collect()
    };
    let say = |codes: Vec<&str>, word: &str| match codes.len() {
        0 => None,
        1 => Some(format!("{} is {word}", listed(&codes))),
        _ => Some(format!("{} are {word}", listed(&codes))),
    };
    let parts = [say(of(Choice::Drop), "dropped"), say(of(Choice::Shorten), "shortened")];
    parts.into_iter().flatten().collect::<Vec<_>>().join(" and ")
}

fn named(there: &Day, set: &DropSet) -> String {
    let of = |choice: Choice| -> Vec<&str> {
        let chosen = set.choices.iter().filter(move |(_, made)| *made == choice);
        chosen.map(|(at, _)| task(there, *at)).collect()
    };
    let (dropped, short) = (of(Choice::Drop), of(Choice::Shorten));
    let mut parts = Vec::new();
    if !dropped.is_empty() {
        parts.push(format!("drop {}", listed(&dropped)));
    }
    if !short.is_empty() {
        parts.push(format!("shorten {}", listed(&short)));
    }
    if parts.is_empty() { "keep all".to_owned() } else { parts.join(", ") }
}

/// The best set in a sentence, and the tasks that it drops with the press for each.
pub(super) fn best(there: &Day, answers: &Answers) -> (String, Vec<(String, String)>) {
    let (Some(best), Some(rest)) = (&answers.best, &answers.rest) else {
        return (String::new(), Vec::new());
    };
    if best.keeps_all() {
        return (format!("Keep all: {} inside the limit.", per_cent(best.chance)), Vec::new());
    }
    // A search that was stopped has not shown that there is no better one.
    let found = if best.proven { "" } else { " (best found; not every choice was tried)" };
    let words = crate::page::capital(&named(there, best));
    let words = format!(
        "{words}{found}: {} → {} inside the limit.",
        per_cent(rest.chance),
        per_cent(best.chance)
    );
    let press = |at: usize| {
        let slot = &there.tasks[at].slot;
        (slot.task.as_str().to_owned(), format!("{} {}", Act::Dropped, slot.code.0))
    };
    (words, best.dropped().map(press).collect())
}

pub(super) fn drops(there: &Day, answers: &Answers) -> Vec<DropView> {
    let mark = wide(answers.bound);
    let view = |row: &app::day::DropRow| DropView {
        words: crate::page::capital(&named(there, &row.set)),
        chance: per_cent(row.set.chance),
        bar: wide(row.set.chance),
        mark,
        p50: whole(row.set.end_p50).to_string(),
        p80: whole(row.set.end_p80).to_string(),
        value: format!("{:.0} of {:.0}", row.set.value, row.set.of_value),
        best: row.best,
    };
    answers.compared.iter().map(view).collect()
}

pub(super) fn rest(there: &Day, answers: &Answers) -> Vec<RestRow> {
    let Some(rest) = &answers.rest else { return Vec::new() };
    let clock = |minutes: f64| Minutes(whole(minutes).0).clock();
    let view = |left: &compute::day::RestOfTask| {
        let on_board = &there.tasks[left.task];
        let running = matches!(on_board.now.progress, Progress::Running { .. });
        let latest = answers.latest.get(left.task).copied().flatten();
        let in_hand = latest.map(|latest| latest.floor() - left.start_p50.ceil());
        RestRow {
            number: answers.numbers.get(left.task).copied().unwrap_or(left.task + 1),
            code: on_board.slot.task.as_str().to_owned(),
            title: on_board.title.clone(),
            must: on_board.slot.must_do,
            running,
            at_risk: !running && left.reached < answers.bound,
            seats: on_board.slot.seats.names(),
            times: format!("{}–{}", whole(left.start_p50), whole(left.end_p50)),
            minutes: format!("{} · {}", clock(left.minutes_p50), clock(left.minutes_p80)),
            latest: match latest {
                Some(latest) => Pet(whole(latest.floor()).0).to_string(),
                None if running => "–".to_owned(),
                None => "none left".to_owned(),
            },
            in_hand: match in_hand {
                Some(minutes) if minutes >= 0.0 => clock(minutes),
                Some(minutes) => format!("−{}", clock(-minutes)),
                None => "–".to_owned(),
            },
            in_time: if running { "–".to_owned() } else { per_cent(left.in_time) },
            reached: if running { "under way".to_owned() } else { per_cent(left.reached) },
            bar: if running { 0 } else { wide(left.reached) },
        }
    };
    rest.tasks.iter().map(view).collect()
}

/// How the expected number came about.
pub(super) fn expected(there: &Day, answers: &Answers) -> String {
    let Some(rest) = &answers.rest else { return String::new() };
    let count = |is: &dyn Fn(Progress) -> bool| {
        there.tasks.iter().filter(|task| is(task.now.progress)).count()
    };
    let ended = count(&|progress| matches!(progress, Progress::Ended { .. }));
    let running = count(&|progress| matches!(progress, Progress::Running { .. }));
    let to_come: Vec<String> = rest
        .tasks
        .iter()
        .filter(|left| there.tasks[left.task].now.progress == Progress::Planned)
        .map(|left| format!("{:.2}", left.reached))
        .collect();
    let mut parts = Vec::new();
    if ended > 0 {
        parts.push(format!("{ended} ended"));
    }
    if running > 0 {
        parts.push(format!("{running} under way"));
    }
    if !to_come.is_empty() {
        parts.push(to_come.join(" + "));
    }
    format!("Reached: {} = {:.1} of {}.", parts.join(", then "), rest.expected, there.tasks.len())
}

pub(super) fn crew_day(answers: &Answers) -> String {
    let [low, middle, high] = answers.crew_day;
    if middle <= 0.0 {
        return String::new();
    }
    let slower = |factor: f64| {
        let part = (factor - 1.0) * 100.0;
        if part >= 0.0 { format!("{part:.0} % longer") } else { format!("{:.0} % shorter", -part) }
    };
    format!(
        "Work of this crew on this day takes {} than estimated ({} to {}, eight chances in ten), by \
         the tasks that ended and those under way.",
        slower(middle),
        slower(low),
        slower(high)
    )
}

pub(super) fn turn_back(there: &Day, answers: &Answers) -> Vec<TurnView> {
    let view = |row: &app::day::TurnBack| turn_view(there, row);
    answers.turn_back.iter().map(view).collect()
}

pub(super) fn turn_view(there: &Day, row: &app::day::TurnBack) -> TurnView {
    let clock = |minutes: f64| Minutes(whole(minutes).0).clock();
    TurnView {
        seat: there.seat(row.lane),
        site: row.site.clone(),
        by: if row.by < 0.0 { "too late".to_owned() } else { whole(row.by).to_string() },
        passed: row.by >= 0.0 && there.pet.is_some_and(|pet| pet > whole(row.by)),
        parts: format!("{} + {} + {}", clock(row.cleanup), clock(row.travel), clock(row.ingress)),
    }
}

/// What a seat is told where the time to turn back from where it is has passed.
pub(super) fn turn_at_once(there: &Day, answers: &Answers, lane: usize) -> Option<String> {
    let row = answers.turn_back.iter().find(|row| row.lane == lane && row.here)?;
    let pet = there.pet.filter(|pet| *pet > whole(row.by))?;
    let why = if row.by < 0.0 {
        format!("at PET {pet} no time is left")
    } else {
        format!("{} has passed", whole(row.by))
    };
    Some(format!("{}: turn back at once, {why}; flight control decides.", there.seat(row.lane)))
}

pub(super) fn supplies(there: &Day, answers: &Answers) -> Option<SupplyView> {
    let rest = answers.rest.as_ref().filter(|_| !answers.supplies.is_empty())?;
    let rows = Supply::ALL.iter().enumerate().map(|(at, supply)| {
        let seats = answers.supplies.iter().map(|lasting| {
            let lasts = &lasting[at];
            let left = (lasts.left * 100.0).floor();
            (whole(lasts.runs_out.floor()).to_string(), format!("{left:.0} %"))
        });
        (supply.word().to_owned(), seats.collect())
    });
    Some(SupplyView {
        rows: rows.collect(),
        seats: (0..answers.supplies.len()).map(|lane| there.seat(lane)).collect(),
        end: whole(rest.end_p80).to_string(),
        reserve: answers.first_out.as_ref().map(|first| (first.verdict, first_out(there, first))),
    })
}

/// `EV2 scrubber runs out first, at 7:38: 0:32 after the P80 end; 0:30 is kept back.`
fn first_out(there: &Day, first: &app::day::FirstOut) -> String {
    let clock = |minutes: f64| Minutes(whole(minutes.abs().floor()).0).clock();
    let when = if first.left >= 0.0 { "after" } else { "before" };
    format!(
        "{} {} runs out first, at {}: {} {when} the P80 end; {} is kept back.",
        there.seat(first.lane),
        first.lasts.supply.word(),
        whole(first.lasts.runs_out.floor()),
        clock(first.left),
        clock(first.reserve)
    )
}

pub(super) fn aheads(
    there: &Day,
    answers: &Answers,
    titles: &BTreeMap<TaskCode, String>,
) -> Vec<AheadView> {
    let view = |ahead: &app::day::Ahead| AheadView {
        code: ahead.task.as_str().to_owned(),
        title: titles.get(&ahead.task).cloned().unwrap_or_default(),
        seat: seats_of(there, ahead).names(),
        when: match ahead.before {
            Some(before) => format!("{}, before {}", whole(ahead.start), task(there, before)),
            None => format!("{}, after all others", whole(ahead.start)),
        },
        minutes: Minutes(whole(ahead.minutes).0).clock(),
        chance: per_cent(ahead.chance),
        set_on: ahead.set_on.as_ref().map_or_else(String::new, ToString::to_string),
        seats: domain::cells::Cell::show(&seats_of(there, ahead)),
        technique: ahead.technique.as_ref().map_or_else(String::new, ToString::to_string),
        side: ahead.side.as_ref().map_or_else(String::new, domain::cells::Cell::show),
        before: ahead
            .before
            .and_then(|at| there.tasks.get(at))
            .map_or_else(String::new, |on| on.slot.code.0.to_string()),
    };
    answers.aheads.iter().map(view).collect()
}

fn seats_of(there: &Day, ahead: &app::day::Ahead) -> Seats {
    let own = ahead.lanes.each().filter_map(|lane| there.excursion.seats.0.get(lane));
    Seats::of(own.map(|seat| seat.number))
}

/// Every press, the newest first.
pub(super) fn log(there: &Day) -> Vec<LogRow> {
    let view = |(press, fate): &(domain::day::Press, Counts)| {
        let at = press.slot.as_ref().and_then(|slot| there.place(slot));
        let words = match press.act {
            // The column of PET has the time of every other press.
            Act::Egress => there.whole_words_of(press),
            _ => there.words_of(press),
        };
        LogRow {
            pet: press.pet.map_or_else(|| "–".to_owned(), |pet| pet.to_string()),
            utc: press.pressed_at.clock(),
            seats: at.map_or_else(String::new, |at| there.tasks[at].slot.seats.names()),
            words: crate::page::capital(&words),
            who: press.who.clone(),
            state: match fate {
                Counts::Yes => "saved",
                Counts::Undone => "undone",
                Counts::Replaced => "replaced by a later press",
                Counts::AfterTheEnd => "does not count: the task had ended. Undo its end first",
                Counts::BeforeTheStart => "its time is before the start: when it ended is unknown",
                Counts::SetSince => "set on the excursion since",
                Counts::NotAdded => "does not count: the task is not added any more",
            },
            undo: (fate.can_be_undone() && press.act != Act::Undo).then(|| press.key.clone()),
        }
    };
    there.state.log.iter().rev().map(view).collect()
}
