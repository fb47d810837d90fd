//! The board as a page.

use std::collections::BTreeMap;

use app::read::Connection;
use askama::Template;

use super::seats::{self, SeatView};
use super::sections::{self, AheadView, DropView, LogRow, RestRow, SupplyView, TurnView};
use super::windows::{self, WindowView};
use super::{address, drawn};
use crate::drawings::lanes::{LegendEntry, legend_of_the_day};
use crate::drawings::markup::Drawing;
use crate::failure::PageError;
use crate::frame::{Nav, PageFrame};
use crate::linked::{Piece, of_parts};
use crate::visitor::Viewer;
use app::day::{Answers, Called, Day};
use app::read::day::runs_of;
use app::read::tasks;
use compute::fit::per_cent;
use domain::codes::TaskCode;
use domain::day::Act;
use domain::roles::{Action, may};
use domain::words::ExcursionState;

#[derive(Template)]
#[template(path = "day/board.html")]
pub(crate) struct BoardPage {
    page: PageFrame,
    code: String,
    flight: Option<String>,
    day: Option<domain::time::Day>,
    /// Where presses go.
    address: String,
    /// Who is signed in: presses that wait are those of one account.
    account: String,
    practice: Option<PracticeView>,
    /// Practice runs that others can join.
    runs: Vec<(String, String)>,
    may_press: bool,
    may_practise: bool,
    /// Once the crew is inside: where the debrief is, with the words of the link.
    debrief: Option<(String, &'static str)>,
    /// Why the clock cannot be started now.
    clock_refused: Option<String>,
    clock: Clock,
    lead: Vec<String>,
    unknown: Vec<Vec<Piece>>,
    seats: Vec<SeatView>,
    calls: Vec<CallView>,
    drawing: Option<Drawing>,
    legend: Vec<LegendEntry>,
    bound: String,
    best: String,
    best_drops: Vec<(String, String)>,
    drops: Vec<DropView>,
    rest: Vec<RestRow>,
    expected: String,
    turn_back: Vec<TurnView>,
    supplies: Option<SupplyView>,
    supplies_unknown: Vec<Vec<Piece>>,
    aheads: Vec<AheadView>,
    windows: Vec<WindowView>,
    log: Vec<LogRow>,
    crew_day: String,
    number: i64,
}

struct PracticeView {
    pace: i64,
    /// The number of its day: the same number is the same day again.
    number: i64,
    who: String,
}

/// The clock of the excursion.
struct Clock {
    pet: String,
    /// For the script: when egress began, in milliseconds, and how fast minutes pass.
    egress_ms: i64,
    now_ms: i64,
    /// The latest minute of a press: PET is never shown before it.
    last: i64,
    pace: i64,
    egress: String,
    utc: String,
    limit: String,
    /// The elapsed time at which the crew was inside, and in minutes for the script.
    inside: String,
    inside_minute: String,
}

/// What the crew of a practice run calls down, with the press that answers.
pub(super) struct CallView {
    pub seats: String,
    pub words: String,
    pub press: String,
    pub pet: String,
    pub button: String,
}

pub(super) async fn page(
    db: &mut Connection,
    viewer: &Viewer,
    there: Day,
    answers: Answers,
) -> Result<BoardPage, PageError> {
    let run = there.run.as_ref().map(|run| run.code.as_str());
    let code = there.code().as_str().to_owned();
    let may_press = may(viewer.actor.role, Action::PressOnTheDay) && there.is_open();
    let ahead: Vec<TaskCode> = answers.aheads.iter().map(|one| one.task.clone()).collect();
    let titles: BTreeMap<TaskCode, String> = tasks::these(db, &ahead)
        .await?
        .into_iter()
        .map(|task| (task.code.0, task.title.into_string()))
        .collect();
    let runs = match run {
        Some(_) => Vec::new(),
        None => runs_of(db, there.code()).await?,
    };
    let title =
        if run.is_some() { format!("Practice of {code}") } else { format!("{code} the day") };
    let (best, best_drops) = sections::best(&there, &answers);
    let aheads = sections::aheads(&there, &answers, &titles);
    let windows = windows::of(db, viewer, &there, &answers).await?;
    Ok(BoardPage {
        address: address(&code, run),
        account: viewer.actor.name.clone(),
        flight: there.excursion.flight.as_ref().map(|flight| flight.as_str().to_owned()),
        day: there.excursion.day,
        practice: there.run.as_ref().map(|run| PracticeView {
            pace: run.pace,
            number: run.seed,
            who: run.who.clone(),
        }),
        runs: runs
            .into_iter()
            .map(|run| {
                let words = format!("{} since {} UTC", run.who, run.started_at.clock());
                (address(&code, Some(&run.code)), words)
            })
            .collect(),
        may_press,
        debrief: debrief(&there, run, viewer),
        may_practise: may_press
            && run.is_none()
            && there.pet.is_none()
            && there.excursion.state == Some(ExcursionState::Planned),
        clock_refused: there
            .excursion
            .clock_refused(viewer.now().day(), may_press)
            .filter(|_| run.is_none() && there.state.egress_at.is_none()),
        clock: clock(viewer, &there, answers.limit),
        lead: lead(&there, &answers),
        unknown: answers.unknown.iter().map(|sentence| of_parts(sentence)).collect(),
        seats: seats::with(&there, &answers, &aheads),
        calls: calls(&there, &answers),
        drawing: drawn::lanes(&there, &answers),
        legend: legend_of_the_day(drawn::ID, &per_cent(answers.bound)),
        bound: per_cent(answers.bound),
        best,
        best_drops,
        drops: sections::drops(&there, &answers),
        rest: sections::rest(&there, &answers),
        expected: sections::expected(&there, &answers),
        turn_back: sections::turn_back(&there, &answers),
        supplies: sections::supplies(&there, &answers),
        supplies_unknown: answers
            .supplies_unknown
            .iter()
            .map(|sentence| of_parts(sentence))
            .collect(),
        aheads,
        windows,
        log: sections::log(&there),
        crew_day: sections::crew_day(&answers),
        number: there.number,
        page: viewer.frame(title, Nav::Flights),
        code,
    })
}

/// Where a day leads once its crew is inside. The debrief of an excursion begins when it is marked as
/// flown, on its own page.
fn debrief(there: &Day, run: Option<&str>, viewer: &Viewer) -> Option<(String, &'static str)> {
    there.state.inside?;
    let code = there.code().as_str();
    let of_excursion = crate::addresses::within("excursions", code);
    Some(match (run, there.excursion.state) {
        (Some(_), _) => (format!("{}/debrief", address(code, run)), "Read the practice debrief"),
        (None, Some(ExcursionState::Flown)) => (format!("{of_excursion}/debrief"), "Debrief"),
        (None, _) if may(viewer.actor.role, Action::KeepExcursions) => {
            (format!("{of_excursion}#flown"), "Mark as flown and begin its debrief")
        }
        (None, _) => (of_excursion, "Excursion"),
    })
}

fn clock(viewer: &Viewer, there: &Day, limit: f64) -> Clock {
    let pet = there.pet;
    let egress = there.state.egress_at;
    let left = pet.map(|pet| app::day::whole(limit).0 - pet.0);
    let h_mm = |minutes: i64| domain::units::Minutes(minutes.abs()).clock();
    Clock {
        pet: pet.map_or_else(|| "–:––".to_owned(), |pet| pet.to_string()),
        egress_ms: egress.map_or(0, |at| at.0),
        now_ms: viewer.now().0,
        last: there.state.last_pet.map_or(0, |pet| pet.0),
        pace: there.run.as_ref().map_or(1, |run| run.pace),
        egress: egress.map_or_else(String::new, domain::time::Moment::to_the_minute),
        inside_minute: there.state.inside.map_or_else(String::new, |pet| pet.0.to_string()),
        inside: there.state.inside.map_or_else(String::new, |pet| pet.to_string()),
        utc: match (&there.run, pet.and_then(|pet| there.utc_of(pet))) {
            (None, Some(at)) => format!("{} UTC", at.clock()),
            _ => String::new(),
        },
        limit: match left {
            _ if there.state.inside.is_some() => String::new(),
            Some(left) if limit > 0.0 && left >= 0 => format!("limit in {}", h_mm(left)),
            Some(left) if limit > 0.0 => format!("limit passed {} ago", h_mm(left)),
            _ => String::new(),
        },
    }
}

/// How late who is, how many tasks are expected to be reached, and what dropping some would do.
fn lead(there: &Day, answers: &Answers) -> Vec<String> {
    if let Some(inside) = there.state.inside {
        return vec![format!("The crew is inside: the excursion has ended at PET {inside}.")];
    }
    let Some(rest) = &answers.rest else {
        return vec!["The rest of the day cannot be calculated.".to_owned()];
    };
    let late = seats::all(there, answers);
    let latest = late
        .iter()
        .filter(|seat| seat.is_late)
        .map(|seat| format!("{} is {}.", seat.name, seat.late));
    let turns = late.iter().filter_map(|seat| seat.turn.clone());
    let mut words: Vec<String> = turns.chain(latest).collect();
    words.push(format!(
        "{:.1} of {} tasks are expected to be reached; the chance to end inside the limit is {}{}.",
        rest.expected,
        there.tasks.len(),
        per_cent(rest.chance),
        match &answers.best {
            Some(best) if !best.keeps_all() => {
                format!(", or {} if {}", per_cent(best.chance), sections::done_with(there, best))
            }
            _ => String::new(),
        }
    ));
    if answers.best.is_none() {
        words.push(format!(
            "No choice keeps {} inside the limit, not even with everything dropped that may be: the \
             must-do tasks do not fit any more.",
            per_cent(answers.bound)
        ));
    }
    words
}

fn calls(there: &Day, answers: &Answers) -> Vec<CallView> {
    let view = |call: &app::day::Call| {
        let pet = call.pet.to_string();
        let (at, said, act, done) = match call.what {
            Called::Ended(at) => (at, "is done", Act::Done, "Done"),
            Called::Ready(at) => (at, "ready to start", Act::Started, "Started"),
            Called::Inside => {
                return CallView {
                    seats: domain::cells::Cell::show(&there.excursion.seats),
                    words: format!("we are inside, PET {pet}"),
                    press: Act::Inside.word().to_owned(),
                    button: "Crew is inside".to_owned(),
                    pet,
                };
            }
        };
        let task = &there.tasks[at];
        let code = task.slot.task.as_str();
        let words =
            if act == Act::Done { format!("{code} {said}") } else { format!("{said} {code}") };
        CallView {
            seats: task.slot.seats.names(),
            words: format!("{words}, PET {pet}"),
            press: format!("{act} {}", task.slot.code.0),
            button: format!("{done} {code}"),
            pet,
        }
    };
    answers.calls.iter().map(view).collect()
}

impl BoardPage {
    fn excursion(&self) -> String {
        crate::addresses::within("excursions", &self.code)
    }

    fn has_begun(&self) -> bool {
        self.clock.egress_ms != 0
    }

    fn is_over(&self) -> bool {
        !self.clock.inside.is_empty()
    }
}
