//! A flown excursion, or one that was called off: its results, its notes, and what was made of
//! their words.

use std::sync::Arc;

use app::read::Connection;
use askama::Template;

use super::facts::{self, Fact};
use super::planned::{BothLanes, both_lanes};
use crate::addresses;
use crate::extract::Fields;
use crate::forms::{ErrorLine, ErrorSummary, Pager};
use crate::frame::{Nav, PageFrame};
use crate::linked::{Piece, linked};
use crate::pages::sisters::{self, Affected};
use crate::visitor::Viewer;
use app::debrief;
use app::read::{endings, excursions, register, tasks};
use app::sisters::turned_by;
use app::{Failure, Reader};
use domain::attempts::Attempt;
use domain::codes::{AttemptCode, TaskCode};
use domain::endings::Deferral;
use domain::excursions::Excursion;
use domain::kinds::Kind;
use domain::quotes;
use domain::roles::{Action, may};
use domain::tasks::Task;
use domain::time::Day;
use domain::words::{ExcursionState, Outcome};

#[expect(clippy::struct_excessive_bools, reason = "each shows or hides a part of the page")]
#[derive(Template)]
#[template(path = "excursions/flown.html")]
pub(crate) struct FlownPage {
    page: PageFrame,
    summary: ErrorSummary,
    code: String,
    address: String,
    flight: Option<String>,
    day: Option<Day>,
    lead: String,
    facts: Vec<Fact>,
    /// A page of what was tried and put off.
    results: Vec<ResultView>,
    pager: Pager,
    /// Its lanes as planned and as flown.
    lanes: Option<Arc<BothLanes>>,
    notes: Vec<NotePiece>,
    has_notes: bool,
    quote: String,
    quote_wrong: Option<&'static str>,
    was_flown: bool,
    is_closed: bool,
    may_mark: bool,
    may_keep: bool,
    /// The open units on which its failures turned the guard's judgement.
    turned: Vec<Affected>,
    /// How many of its failures are told of, where that is not all.
    told_of: Option<(usize, usize)>,
}

/// Results on one page.
const RESULTS: usize = 40;
/// So many failures are held against the families in which they were.
const FAILURES: usize = 12;

struct ResultView {
    code: String,
    folder: &'static str,
    task: String,
    title: String,
    outcome: Option<Outcome>,
    /// Of a deferral: when, and why.
    taken_off: String,
    said: String,
    approach: Vec<Piece>,
    pet: String,
    words: String,
    as_left: String,
}

/// A stretch of the notes, with the records that were made of it.
struct NotePiece {
    text: String,
    made: Vec<(String, String)>,
}

impl FlownPage {
    /// Minutes of work; a dash where nobody recorded them.
    fn clock(minutes: Option<f64>) -> String {
        minutes.map_or_else(|| "–".to_owned(), crate::drawings::lanes::clock_words)
    }

    /// Whether this person still enters results; everybody else reads the debrief.
    fn may_continue(&self) -> bool {
        !self.is_closed && self.page.may_record()
    }
}

/// The sister units that its failures affect.
async fn turned(
    db: &mut Connection,
    viewer: &Viewer,
    debrief: &debrief::Debrief,
) -> Result<(Vec<Affected>, Option<(usize, usize)>), Failure> {
    let failed: Vec<&Attempt> = debrief
        .rows
        .iter()
        .filter_map(|row| row.attempt.as_ref())
        .filter(|attempt| matches!(attempt.outcome, Outcome::NotCompleted | Outcome::PartDone))
        .collect();
    let told_of = (failed.len() > FAILURES).then_some((FAILURES, failed.len()));
    let failed = &failed[..failed.len().min(FAILURES)];
    if failed.is_empty() {
        return Ok((Vec::new(), None));
    }
    let codes: Vec<AttemptCode> = failed.iter().map(|attempt| attempt.code.0.clone()).collect();
    let tasks: Vec<TaskCode> = failed.iter().map(|attempt| attempt.task.clone()).collect();
    let told = turned_by(db, &codes, &tasks).await?;
    Ok((sisters::questioned(&told, viewer), told_of))
}

pub(super) async fn page(
    db: &mut Reader,
    viewer: &Viewer,
    excursion: Excursion,
    wrong: Option<(String, &'static str)>,
) -> Result<FlownPage, Failure> {
    let code = excursion.code.0.clone();
    let debrief = debrief::read(db, code.as_str()).await?;
    let deferrals = endings::deferrals_of_excursion(db, &code).await?;
    let codes: Vec<TaskCode> = debrief
        .rows
        .iter()
        .map(|row| row.task.clone())
        .chain(deferrals.iter().map(|deferral| deferral.task.clone()))
        .collect();
    let found = tasks::these(db, &codes).await?;
    let title = |task: &TaskCode| {
        let found = found.iter().find(|known| known.code.0 == *task);
        found.map(|task| task.title.as_str().to_owned()).unwrap_or_default()
    };
    let was_flown = excursion.state == Some(ExcursionState::Flown);
    let lanes = if was_flown { Some(lanes(db, &excursion, &debrief, &found).await?) } else { None };
    let mut results: Vec<ResultView> = debrief
        .rows
        .iter()
        .filter_map(|row| row.attempt.as_ref())
        .map(|attempt| tried(attempt, title(&attempt.task)))
        .collect();
    results.extend(deferrals.iter().map(|deferral| put_off(deferral, title(&deferral.task))));
    let made = excursions::quoting(db, &code).await?;
    let quoted: Vec<&str> = made.iter().map(|record| record.text.as_str()).collect();
    let notes = quotes::marked(excursion.notes.as_str(), &quoted)
        .into_iter()
        .map(|stretch| NotePiece {
            text: stretch.text.to_owned(),
            made: stretch
                .quoted_by
                .iter()
                .map(|&n| (addresses::of(made[n].kind, &made[n].code), made[n].code.clone()))
                .collect(),
        })
        .collect();
    let (quote, quote_wrong) = wrong.map_or_else(Default::default, |(q, why)| (q, Some(why)));
    let summary = quote_wrong.map_or_else(ErrorSummary::default, |why| ErrorSummary {
        heading: "Nothing is recorded from these words yet".to_owned(),
        lines: vec![ErrorLine { target: "f-quote".to_owned(), words: why.to_owned() }],
    });
    let (turned, told_of) = turned(db, viewer, &debrief).await?;
    let at = super::address(&code);
    let query = viewer.address().split_once('?').map_or("", |(_, query)| query);
    let page = Fields::read(query.as_bytes()).get("page").parse().unwrap_or(1);
    let whole = |count: usize| i64::try_from(count).unwrap_or(i64::MAX);
    let pager =
        Pager::new(page, whole(RESULTS), whole(results.len()), |page| format!("{at}?page={page}"));
    let skip = usize::try_from(pager.page - 1).unwrap_or(0) * RESULTS;
    let results = results.into_iter().skip(skip).take(RESULTS).collect();
    let row = register::find(db, Kind::Excursion, code.as_str()).await?;
    let role = viewer.actor.role;
    Ok(FlownPage {
        page: viewer
            .frame(format!("Excursion {code}"), Nav::Flights)
            .of_version(row.map_or(0, |row| row.version))
            .refusing(quote_wrong.is_some()),
        summary,
        lead: lead(&debrief, deferrals.len(), was_flown),
        facts: facts::of(&excursion, false),
        has_notes: !excursion.notes.is_empty(),
        results,
        pager,
        lanes,
        notes,
        quote,
        quote_wrong,
        was_flown,
        is_closed: debrief.closed_at.is_some(),
        may_mark: was_flown && may(role, Action::RecordAttempt),
        may_keep: may(role, Action::KeepExcursions),
        turned,
        told_of,
        address: super::address(&code),
        flight: excursion.flight.map(|flight| flight.as_str().to_owned()),
        day: excursion.day,
        code: code.as_str().to_owned(),
    })
}

/// Its lanes as they were planned beside what was flown, drawn once for all who read the same state of
/// the record.
async fn lanes(
    db: &mut Reader,
    excursion: &Excursion,
    debrief: &debrief::Debrief,
    found: &[Task],
) -> Result<Arc<BothLanes>, Failure> {
    let place = db.place(excursion.code.0.as_str());
    let drawn = place.get_or_try_init(|| async {
        let attempts: Vec<Attempt> =
            debrief.rows.iter().filter_map(|row| row.attempt.clone()).collect();
        let titles =
            found.iter().map(|task| (task.code.0.clone(), task.title.to_string())).collect();
        both_lanes(db, excursion, &attempts, &titles).await.map(Arc::new)
    });
    drawn.await.cloned()
}

fn lead(debrief: &debrief::Debrief, deferrals: usize, was_flown: bool) -> String {
    if !was_flown {
        return "It was called off; what was set on it is back in the backlog.".to_owned();
    }
    let tries: Vec<Outcome> =
        debrief.rows.iter().filter_map(|row| Some(row.attempt.as_ref()?.outcome)).collect();
    let done = tries.iter().filter(|outcome| **outcome == Outcome::Done).count();
    let tries = match tries.len() {
        0 => "Nothing is recorded of what was tried".to_owned(),
        1 => format!("{done} of 1 attempt ended done"),
        all => format!("{done} of {all} attempts ended done"),
    };
    let results = match deferrals {
        0 => format!("{tries}."),
        1 => format!("{tries}; 1 deferral."),
        more => format!("{tries}; {more} deferrals."),
    };
    match debrief.closed_at {
        Some(_) => format!("{results} The debrief is closed."),
        None => format!("{results} The debrief is open."),
    }
}

fn tried(attempt: &Attempt, title: String) -> ResultView {
    use domain::repeat_guard::Approach;
    let approach = Approach { technique: attempt.technique.clone(), side: attempt.side.clone() };
    let pet = match (attempt.pet_start, attempt.pet_end, attempt.minutes) {
        (Some(start), Some(end), _) => format!("{start}–{end}"),
        (_, _, Some(minutes)) => minutes.clock(),
        (Some(start), None, None) => format!("from {start}"),
        _ => "unknown".to_owned(),
    };
    ResultView {
        code: attempt.code.0.as_str().to_owned(),
        folder: "attempts",
        task: attempt.task.as_str().to_owned(),
        title,
        outcome: Some(attempt.outcome),
        taken_off: String::new(),
        said: attempt.said().map_or_else(String::new, |said| said.to_string()),
        approach: linked(&approach.to_string()),
        pet,
        words: attempt.words.as_str().to_owned(),
        as_left: attempt.as_left.as_str().to_owned(),
    }
}

fn put_off(deferral: &Deferral, title: String) -> ResultView {
    ResultView {
        code: deferral.code.0.as_str().to_owned(),
        folder: "deferrals",
        task: deferral.task.as_str().to_owned(),
        title,
        outcome: None,
        taken_off: format!("deferred {}: {}", deferral.phase, deferral.reason),
        said: String::new(),
        approach: Vec::new(),
        pet: String::new(),
        words: deferral.words.as_str().to_owned(),
        as_left: String::new(),
    }
}
