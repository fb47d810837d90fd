//! What is done with slots from a page: pencil, set, take off, move. A refusal comes back to the
//! opened cell with everything that was typed.

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use super::asked::{Asked, CellAt, read_approach};
use super::{Typed, page};
use crate::app::slots::{self, Reason, Waiver};
use crate::app::work::Work;
use crate::app::{App, Failure};
use crate::app::{fit, outside};
use crate::compute::fit::room_words;
use crate::domain::cells::{Cell, FieldError, Prose};
use crate::domain::codes::{ExcursionCode, Own, SlotCode};
use crate::domain::records::Record as _;
use crate::domain::repeat_guard::Approach;
use crate::domain::slots::Slot;
use crate::domain::words::{DeferralReason, GateName, SlotState};
use crate::web::addresses::{self, encoded};
use crate::web::extract::{Fields, Path};
use crate::web::failure::PageError;
use crate::web::page::{Done, Page};
use crate::web::visitor::Viewer;

/// Pencils a task on an excursion, or sets it there at once.
pub(crate) async fn plan(
    State(app): State<App>,
    viewer: Viewer,
    typed: Fields,
) -> Result<Response, PageError> {
    let outcome = planned(&app, &viewer, &typed).await;
    answer(&app, &viewer, typed, outcome).await
}

async fn planned(app: &App, viewer: &Viewer, typed: &Fields) -> Result<Done, Failure> {
    let slot = read_slot(typed)?;
    let before = Some(typed.get("before")).filter(|code| !code.is_empty()).map(SlotCode::from);
    let mut work = Work::begin(app, &viewer.actor, typed.key().as_ref()).await?;
    let set = typed.get("do") == "set";
    let slot = slots::place_before(&mut work, slot, before.as_ref()).await?;
    let slot = if set {
        slots::set_new(&mut work, slot, &waiver(typed)).await?
    } else {
        slots::pencil(&mut work, slot).await?
    };
    let warnings = outside::warnings_for(work.db(), &slot.code.0).await?;
    let to = work.finish(back(typed)).await?;
    let done = if set { "set" } else { "pencilled" };
    let room = time_left(app, &slot.excursion).await?;
    let words = format!("{} is {done} on {}.{warnings}{room}", slot.task, slot.excursion);
    let said = Done::to(to).saying(words);
    let away = format!("/slots/{}/withdraw", encoded(slot.code()));
    Ok(if set { said } else { said.undo(away, "Take it off again") })
}

/// ` Time left at P80: …`, in the words of every page that shows it.
async fn time_left(app: &App, excursion: &ExcursionCode) -> Result<String, Failure> {
    let mut db = app.db.reader().await?;
    let rooms = fit::rooms(&mut db).await?;
    let words = rooms.get(excursion).map(room_words);
    Ok(words.map_or_else(String::new, |words| format!(" Time left at P80: {words}.")))
}

fn read_slot(typed: &Fields) -> Result<Slot, Failure> {
    let cell = CellAt::read(typed.get("cell"))
        .ok_or_else(|| Failure::field("cell", "Open a cell of the matrix and plan from there."))?;
    let approach: Approach = read_approach(typed.get("approach")).unwrap_or_default();
    let mut wrong: Vec<FieldError> = Vec::new();
    let cells = typed.cells();
    let seats = cells.take("seats", &mut wrong);
    let share = cells.take("share", &mut wrong);
    let (Some(seats), Some(share)) = (seats, share) else { return Err(Failure::Invalid(wrong)) };
    Ok(Slot {
        code: Own(SlotCode::default()),
        task: cell.task,
        excursion: cell.excursion,
        technique: approach.technique,
        side: approach.side,
        seats,
        place: None,
        state: SlotState::Pencilled,
        share,
        stopping_point: None,
        if_it_fails: None,
        must_do: false,
        set_on: None,
        optimistic: None,
        likely: None,
        pessimistic: None,
        estimator: None,
        waived_gate: None,
        waiver: None,
    })
}

/// Sets a pencilled slot.
pub(crate) async fn set(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Response, PageError> {
    let outcome = async {
        let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
        let slot = slots::set(&mut work, &code, &waiver(&typed)).await?;
        let warnings = outside::warnings_for(work.db(), &slot.code.0).await?;
        let to = work.finish(back(&typed)).await?;
        let room = time_left(&app, &slot.excursion).await?;
        let words = format!("{} is set on {}.{warnings}{room}", slot.task, slot.excursion);
        Ok(Done::to(to).saying(words))
    };
    let outcome = outcome.await;
    answer(&app, &viewer, typed, outcome).await
}

/// Keeps a set slot by a waiver.
pub(crate) async fn keep(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Response, PageError> {
    let outcome = async {
        let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
        let slot = slots::keep_set(&mut work, &code, &waiver(&typed)).await?;
        let to = work.finish(back(&typed)).await?;
        Ok(Done::to(to).saying(format!("{} stays on {}, waived.", slot.task, slot.excursion)))
    };
    let outcome = outcome.await;
    answer(&app, &viewer, typed, outcome).await
}

/// Takes a slot off its excursion.
pub(crate) async fn take_off(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Response, PageError> {
    let outcome = async {
        let reason = reason(&typed)?;
        let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
        slots::withdraw(&mut work, &code, reason, None).await?;
        let to = work.finish(back(&typed)).await?;
        Ok(Done::to(to).saying("It is taken off."))
    };
    let outcome = outcome.await;
    answer(&app, &viewer, typed, outcome).await
}

/// Moves a slot to another coming excursion.
pub(crate) async fn move_to(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Response, PageError> {
    let outcome = async {
        let reason = reason(&typed)?;
        let to: ExcursionCode =
            Cell::read(typed.get("to")).map_err(|message: String| Failure::field("to", message))?;
        if to.is_blank() {
            return Err(Failure::field("to", "Choose the excursion to which it moves."));
        }
        let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
        let slot = slots::move_to(&mut work, &code, &to, reason, &waiver(&typed)).await?;
        let there = CellAt { task: slot.task.clone(), excursion: slot.excursion.clone() };
        let address = match typed.get("back") {
            back if back.starts_with("/slots") => Asked::read(back).opening(&there),
            _ => back(&typed),
        };
        let warnings = outside::warnings_for(work.db(), &slot.code.0).await?;
        let address = work.finish(address).await?;
        let room = time_left(&app, &slot.excursion).await?;
        let (task, to, state) = (&slot.task, &slot.excursion, slot.state);
        Ok(Done::to(address).saying(format!("{task} is {state} on {to} now.{warnings}{room}")))
    };
    let outcome = outcome.await;
    answer(&app, &viewer, typed, outcome).await
}

/// The reason of a deferral; none where the form asked for none.
fn reason(typed: &Fields) -> Result<Option<Reason>, Failure> {
    let word = typed.get("reason").trim();
    if word.is_empty() {
        return Ok(None);
    }
    let kind: DeferralReason =
        Cell::read(word).map_err(|message: String| Failure::field("reason", message))?;
    let words: Prose = Cell::read(typed.get("words"))
        .map_err(|message: String| Failure::field("words", message))?;
    Ok(Some(Reason { kind, words }))
}

fn waiver(typed: &Fields) -> Waiver {
    Waiver {
        gates: typed.all("waive").filter_map(GateName::read).collect(),
        reason: typed.get("waiver").to_owned(),
    }
}

/// The page from which the form came, where it is one of those that plan slots.
fn back(typed: &Fields) -> String {
    let pages = ["/slots", "/excursions/", "/tasks/", "/families/", "/findings/"];
    addresses::back(typed.get("back"), &pages, "/slots")
}

/// Goes on after a form that was taken; shows the cell again where a rule or a field said no.
async fn answer(
    app: &App,
    viewer: &Viewer,
    fields: Fields,
    outcome: Result<Done, Failure>,
) -> Result<Response, PageError> {
    let (status, errors, refused) = match outcome {
        Ok(done) => return Ok(done.into_response()),
        Err(Failure::Invalid(errors)) => (StatusCode::UNPROCESSABLE_ENTITY, errors, String::new()),
        Err(Failure::Refused(why)) => (StatusCode::CONFLICT, Vec::new(), why),
        Err(other) => return Err(other.into()),
    };
    let mut asked = Asked::read(fields.get("back"));
    if let Some(cell) = CellAt::read(fields.get("cell")) {
        asked.cell = Some(cell);
    }
    asked.by = read_approach(fields.get("approach")).or(asked.by);
    let typed = Typed { fields, errors, refused };
    Ok((status, Page(page(app, viewer, &asked, &typed).await?)).into_response())
}
