//! The one desk for slots. Every form that pencils, sets, keeps, changes, orders, moves or removes
//! a slot is read here, done between two looks at its excursion, and answered with what it did and
//! the way back. A refusal comes back to the page from which it came with everything that was typed.

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use super::asked::{CellAt, MatrixOn, SlotsQuery, read_approach};
use super::form::{SlotForm, Typed};
use super::page;
use crate::addresses;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::page::{Done, Page};
use crate::pages::excursions;
use crate::pages::plan::page as plan_page;
use crate::visitor::{Viewer, is_own_address};
use app::read::Found as _;
use app::records::current;
use app::slots::effect::{self, Last};
use app::slots::{self, Spot};
use app::work::Work;
use app::{App, Failure};
use domain::codes::{ExcursionCode, SlotCode};
use domain::records::Record as _;
use domain::repeat_guard::Approach;
use domain::slots::Slot;

/// What is asked for.
enum Wanted {
    New,
    Act { slot: String, act: String },
    Undo { excursion: ExcursionCode, number: i64 },
}

/// Where a form came from, and so where a refusal is shown.
enum Origin {
    Cell,
    Excursion(ExcursionCode),
    /// The page of the fallbacks of a slot.
    IfThen,
}

/// Pencils a task on an excursion, or sets it there at once.
pub(crate) async fn plan(
    State(app): State<App>,
    viewer: Viewer,
    typed: Fields,
) -> Result<Response, PageError> {
    answer(&app, &viewer, &Origin::Cell, &Wanted::New, &typed).await
}

/// The same from the page of an excursion.
pub(crate) async fn plan_on(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Response, PageError> {
    answer(&app, &viewer, &Origin::Excursion(code.as_str().into()), &Wanted::New, &typed).await
}

/// One act on one slot.
pub(crate) async fn act(
    State(app): State<App>,
    viewer: Viewer,
    Path((slot, act)): Path<(String, String)>,
    typed: Fields,
) -> Result<Response, PageError> {
    answer(&app, &viewer, &Origin::Cell, &Wanted::Act { slot, act }, &typed).await
}

/// What the slot plans, changed under the address of its record.
pub(crate) async fn edit(
    State(app): State<App>,
    viewer: Viewer,
    Path(slot): Path<String>,
    typed: Fields,
) -> Result<Response, PageError> {
    let wanted = Wanted::Act { slot, act: "change".to_owned() };
    answer(&app, &viewer, &Origin::Cell, &wanted, &typed).await
}

/// The same from the page of its excursion.
pub(crate) async fn act_on(
    State(app): State<App>,
    viewer: Viewer,
    Path((code, slot, act)): Path<(String, String, String)>,
    typed: Fields,
) -> Result<Response, PageError> {
    let from = Origin::Excursion(code.as_str().into());
    answer(&app, &viewer, &from, &Wanted::Act { slot, act }, &typed).await
}

/// The fallbacks of a slot, from the page of their own.
pub(crate) async fn if_then(
    State(app): State<App>,
    viewer: Viewer,
    Path(slot): Path<String>,
    typed: Fields,
) -> Result<Response, PageError> {
    let wanted = Wanted::Act { slot, act: "if-then".to_owned() };
    answer(&app, &viewer, &Origin::IfThen, &wanted, &typed).await
}

/// Undoes the last change of the slots of an excursion.
pub(crate) async fn undo(
    State(app): State<App>,
    viewer: Viewer,
    Path((code, number)): Path<(String, i64)>,
    typed: Fields,
) -> Result<Response, PageError> {
    let excursion = ExcursionCode::from(code.as_str());
    let from = Origin::Excursion(excursion.clone());
    answer(&app, &viewer, &from, &Wanted::Undo { excursion, number }, &typed).await
}

/// Goes on after a form that was taken; shows its page again where a rule or a field says no.
async fn answer(
    app: &App,
    viewer: &Viewer,
    from: &Origin,
    wanted: &Wanted,
    fields: &Fields,
) -> Result<Response, PageError> {
    let failure = match done(app, viewer, from, wanted, fields).await {
        Ok(done) => return Ok(done.into_response()),
        Err(failure) => failure,
    };
    let on = match wanted {
        Wanted::New => None,
        Wanted::Act { slot, act } => Some((slot.clone(), act.clone())),
        Wanted::Undo { .. } => Some((String::new(), "undo".to_owned())),
    };
    let typed = Typed::of(fields, on);
    let (status, typed) = match failure {
        Failure::Invalid(errors) => (StatusCode::UNPROCESSABLE_ENTITY, Typed { errors, ..typed }),
        Failure::Refused(why) => (StatusCode::CONFLICT, Typed { refused: Some(why), ..typed }),
        other => return Err(other.into()),
    };
    let mut db = app.reader().await?;
    if let Origin::Excursion(excursion) = from {
        let page = excursions::planned_again(&mut db, viewer, excursion, &typed).await?;
        return Ok((status, Page(page)).into_response());
    }
    if let (Origin::IfThen, Wanted::Act { slot, .. }) = (from, wanted) {
        let rows = super::if_then::rows(fields).unwrap_or_default();
        let page = super::if_then::page(&mut db, viewer, slot, Some((rows, &typed))).await?;
        return Ok((status, Page(page)).into_response());
    }
    let back = Some(fields.get("back")).filter(|back| is_own_address(back));
    let mut asked = SlotsQuery::read(back.unwrap_or_default());
    if let Some(cell) = CellAt::read(fields.get("cell")) {
        asked.cell = Some(cell);
    } else if let Wanted::Act { slot, .. } = wanted
        && let Some(slot) = Slot::find(&mut db, slot).await?
    {
        asked.cell = Some(CellAt { task: slot.task, excursion: slot.excursion });
    }
    asked.by = read_approach(fields.get("approach")).or(asked.by);
    drop(db);
    Ok(match asked.matrix_on {
        MatrixOn::Itself => {
            (status, Page(page(app, viewer, &asked, &typed).await?)).into_response()
        }
        MatrixOn::Plan => {
            (status, Page(plan_page(app, viewer, &asked, &typed).await?)).into_response()
        }
    })
}

async fn done(
    app: &App,
    viewer: &Viewer,
    from: &Origin,
    wanted: &Wanted,
    fields: &Fields,
) -> Result<Done, Failure> {
    let form = SlotForm::read(fields)?;
    let mut work = Work::begin(app, &viewer.actor, fields.key().as_ref()).await?;
    let there = match wanted {
        Wanted::Act { slot, .. } => Some(current::<Slot>(&mut work, slot).await?),
        Wanted::New | Wanted::Undo { .. } => None,
    };
    let excursion = match (&there, from, wanted) {
        (_, _, Wanted::Undo { excursion, .. }) => excursion.clone(),
        (Some(slot), Origin::Excursion(code), _) if slot.excursion != *code => {
            let words = format!("{} is on {}, not on {code}.", slot.code(), slot.excursion);
            return Err(Failure::Refused(words));
        }
        (Some(slot), ..) => slot.excursion.clone(),
        (None, Origin::Excursion(code), _) => code.clone(),
        (None, Origin::Cell | Origin::IfThen, _) => form.excursion(),
    };
    if excursion.is_blank() {
        let message = "Choose the excursion: open a cell of the matrix and plan there.";
        return Err(Failure::field("excursion", message));
    }
    let moves_to = match wanted {
        Wanted::Act { act, .. } if *act == "move" => form.to().ok(),
        Wanted::New | Wanted::Act { .. } | Wanted::Undo { .. } => None,
    };
    let before = effect::look(&mut work, &excursion, moves_to.as_ref()).await?;
    let made = match (wanted, &there) {
        (Wanted::Act { act, .. }, Some(slot)) => acted(&mut work, slot, act, &form).await?,
        (Wanted::Undo { number, .. }, _) => {
            let words = slots::undo(&mut work, &excursion, *number, form.reason.clone()).await?;
            Made { subject: None, cell: None, words }
        }
        (Wanted::New | Wanted::Act { .. }, _) => planned(&mut work, &excursion, &form).await?,
    };
    let last = effect::keep(&mut work, before, made.subject.as_ref(), &made.words).await?;
    let to = work.finish(back(fields, from, made.cell.as_ref(), &excursion)).await?;
    Ok(told(&excursion, to, &last))
}

/// What was done: the slot that was meant, the cell where it is now, and what is said of it.
struct Made {
    subject: Option<SlotCode>,
    cell: Option<CellAt>,
    words: String,
}

async fn planned(
    work: &mut Work,
    excursion: &ExcursionCode,
    form: &SlotForm,
) -> Result<Made, Failure> {
    let slot = form.new_slot(excursion)?;
    let slot = if slot.seats.is_empty() {
        slots::place_best(work, slot, form.sets).await?
    } else {
        slots::place_before(work, slot, form.before().as_ref()).await?
    };
    let slot = if form.sets {
        slots::set_new(work, slot, &form.waiver).await?
    } else {
        slots::pencil(work, slot).await?
    };
    let words = format!("{} is {} on {excursion}.", slot.task, slot.state);
    let cell = Some(CellAt { task: slot.task, excursion: slot.excursion });
    Ok(Made { subject: Some(slot.code.0), cell, words })
}

async fn acted(work: &mut Work, slot: &Slot, act: &str, form: &SlotForm) -> Result<Made, Failure> {
    let (code, task, excursion) = (slot.code(), &slot.task, &slot.excursion);
    let mut now_on = excursion.clone();
    let words = match act {
        "earlier" | "later" => {
            slots::reorder(work, code, act == "earlier").await?;
            format!("{task} is worked {act} now.")
        }
        "place" => place(work, slot, form).await?,
        "set" => {
            slots::set(work, code, &form.waiver).await?;
            format!("{task} is set on {excursion}.")
        }
        "keep" => {
            slots::keep_set(work, code, &form.waiver).await?;
            format!("{task} stays set on {excursion} by a waiver.")
        }
        "withdraw" => {
            slots::withdraw(work, code, form.reason.clone(), None).await?;
            format!("{task} is removed from {excursion}.")
        }
        "move" => {
            let to = form.to()?;
            let (reason, with) = (form.reason.clone(), form.approach());
            let moved = slots::move_to(work, code, &to, with, reason, &form.waiver).await?;
            let by = Approach { technique: moved.technique, side: moved.side };
            let before = Approach { technique: slot.technique.clone(), side: slot.side.clone() };
            let with = if by == before { String::new() } else { format!(", with {by}") };
            now_on = moved.excursion;
            format!("{task} is {} on {now_on} now{with}.", moved.state)
        }
        "if-then" => {
            slots::change(work, form.changed(slot)?, form.version(), &form.waiver).await?;
            format!("The if–then of {task} is changed.")
        }
        "change" => {
            slots::change(work, form.changed(slot)?, form.version(), &form.waiver).await?;
            format!("The slot of {task} is changed.")
        }
        _ => return Err(Failure::Refused(format!("“{act}” is not a change of a slot."))),
    };
    let cell = Some(CellAt { task: task.clone(), excursion: now_on });
    Ok(Made { subject: Some(slot.code.0.clone()), cell, words })
}

/// Along the lanes and between them.
async fn place(work: &mut Work, slot: &Slot, form: &SlotForm) -> Result<String, Failure> {
    // Crew codes belong to the excursion; a slot keeps those that it names.
    let same = |numbers: &domain::seats::Seats| numbers.numbers().eq(slot.seats.numbers());
    let seats = form.seats()?.filter(|seats| !same(seats));
    let place = form.spot(slot);
    let moved =
        slots::place(work, slot.code(), form.version(), seats, &place, &form.waiver).await?;
    let (task, seats) = (&moved.task, moved.seats.names());
    Ok(match place {
        Spot::AsItIs => format!("{task} is worked by {seats} now."),
        Spot::Before(other) => {
            let other = current::<Slot>(work, other.as_str()).await?.task;
            format!("{task} is worked by {seats}, right before {other}, now.")
        }
        Spot::Last => format!("{task} is worked by {seats}, after all others, now."),
    })
}

/// The page from which the form came, where it is one that plans slots; the matrix follows a slot to
/// its cell.
fn back(
    fields: &Fields,
    from: &Origin,
    cell: Option<&CellAt>,
    excursion: &ExcursionCode,
) -> String {
    let back = Some(fields.get("back")).filter(|back| is_own_address(back)).unwrap_or_default();
    let pages = ["/excursions/", "/tasks/", "/families/", "/findings/", "/slots/"];
    if pages.iter().any(|start| back.starts_with(start)) {
        return back.to_owned();
    }
    let shows_matrix = MatrixOn::of(back).is_some();
    match (from, cell) {
        (Origin::Excursion(_), _) if !shows_matrix => addresses::within("excursions", excursion),
        (_, Some(cell)) if shows_matrix && back.contains("cell=") => {
            SlotsQuery::read(back).told_above(cell)
        }
        _ if shows_matrix => back.to_owned(),
        _ => MatrixOn::Itself.path().to_owned(),
    }
}

/// Says what was done and what it did, with the way back.
fn told(excursion: &ExcursionCode, to: String, last: &Last) -> Done {
    let done =
        Done::to(to).saying(format!("{} {}", last.words, excursions::in_short(&last.effect)));
    let there = addresses::within("excursions", excursion);
    if last.asks_reason {
        // Removing a set slot again is a deferral, whose reason is asked for there.
        done.link(format!("{there}#change"), "Undo, with the reason")
    } else {
        done.undo(format!("{there}/undo/{}", last.number), "Undo")
    }
}

/// Slots are planned in the matrix.
pub(crate) async fn to_matrix() -> Response {
    crate::page::see_other("/slots")
}

/// A slot is changed on the page of its excursion.
pub(crate) async fn to_excursion(
    State(app): State<App>,
    Path(code): Path<String>,
) -> Result<Response, PageError> {
    let mut db = app.reader().await?;
    let kind = domain::kinds::Kind::Slot;
    let slot = Slot::find(&mut db, &code).await?;
    let slot = slot.ok_or_else(|| Failure::NotFound(kind, code.clone()))?;
    let there = addresses::within("excursions", &slot.excursion);
    Ok(crate::page::see_other(&format!("{there}#slot-{code}")))
}
