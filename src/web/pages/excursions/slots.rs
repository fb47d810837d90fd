//! What a person does with the slots of one excursion: add, order, change, set, move, withdraw.

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use sqlx::SqliteConnection;

use super::{address, planned};
use crate::app::fit::Board;
use crate::app::records::current;
use crate::app::slots::effect::{self, Last};
use crate::app::slots::{self, Reason, Spot, Waiver};
use crate::app::work::Work;
use crate::app::{App, Failure};
use crate::domain::cells::{Cells, FieldError};
use crate::domain::codes::{ExcursionCode, SlotCode};
use crate::domain::records::Record as _;
use crate::domain::seats::Seats;
use crate::domain::slots::Slot;
use crate::domain::words::{DeferralReason, GateName, SlotState};
use crate::store::open_items;
use crate::web::extract::{Fields, Path};
use crate::web::failure::PageError;
use crate::web::forms::{Choice, FieldView, Width};
use crate::web::page::{Done, Page};
use crate::web::visitor::Viewer;

/// What the form of a slot offers; the rest belongs to its operations.
const CHANGED: [&str; 7] =
    ["technique", "side", "seats", "share", "stopping_point", "if_it_fails", "must_do"];
const OFFERED: i64 = 300;

/// The fields of a slot that is there.
pub(super) fn fields_of(slot: &Slot) -> Vec<FieldView> {
    let cells = slot.cells();
    Slot::COLUMNS
        .iter()
        .filter(|column| CHANGED.contains(&column.name))
        .map(|column| {
            let mut field = FieldView::of(column).holding(cells.get(column.name));
            // Several slots stand on one page.
            field.id = format!("f-{}-{}", slot.code.0, column.name);
            field
        })
        .collect()
}

/// The fields of a slot that is not there yet. Once a task is chosen, its approaches are offered
/// by name.
pub(super) async fn fields_of_new(
    db: &mut SqliteConnection,
    board: &Board,
    typed: &Cells,
    errors: &[FieldError],
) -> Result<Vec<FieldView>, Failure> {
    let filter = open_items::Filter::default();
    let open = open_items::page(db, &filter, open_items::Sort::Rank, 0, OFFERED).await?;
    let tasks = open.iter().map(|item| Choice::new(item.task.as_str(), item.title.as_str()));
    let task = FieldView::new("task", "Open task")
        .must()
        .hinting("Its code; the list offers the open items, most pressing first.")
        .offering(tasks.collect())
        .holding(typed.get("task"))
        .judged(errors);
    let known = board.task_at(&typed.get("task").into());
    let approaches = known.map_or(&[][..], |at| &board.snapshot.tasks[at].approaches);
    let rest = Slot::COLUMNS
        .iter()
        .filter(|column| ["technique", "side", "seats", "share", "must_do"].contains(&column.name))
        .map(|column| {
            let field = FieldView::of(column)
                .holding(typed.get(column.name))
                .wide(Width::Medium)
                .judged(errors);
            match column.name {
                "seats" => field.hinting("EV1, or EV1, EV2. Left empty: where it fits best."),
                "technique" => field.offering(offers(approaches, |approach| {
                    approach.technique.as_ref().map(|technique| technique.as_str().to_owned())
                })),
                "side" => field.offering(offers(approaches, |approach| {
                    approach.side.as_ref().map(|side| side.as_str().to_owned())
                })),
                _ => field,
            }
        });
    Ok(std::iter::once(task).chain(rest).collect())
}

fn offers(
    approaches: &[crate::compute::fit::Approach],
    part: impl Fn(&crate::compute::fit::Approach) -> Option<String>,
) -> Vec<Choice> {
    let mut values: Vec<String> = approaches.iter().filter_map(part).collect();
    values.sort();
    values.dedup();
    values.into_iter().map(|value| Choice::new(value, "")).collect()
}

fn waiver(typed: &Fields) -> Waiver {
    Waiver {
        gates: typed.all("waived_gate").filter_map(GateName::read).collect(),
        reason: typed.get("waiver").to_owned(),
    }
}

fn reason(typed: &Fields) -> Result<Option<Reason>, Failure> {
    let Some(kind) = DeferralReason::read(typed.get("reason")) else { return Ok(None) };
    Ok(Some(Reason { kind, words: typed.value("words")? }))
}

/// What was typed, for a form that comes back.
fn typed_back(fields: &Fields, failure: Failure, on: Option<(String, String)>) -> Option<Back> {
    let (status, errors, refused) = match failure {
        Failure::Invalid(errors) => (StatusCode::UNPROCESSABLE_ENTITY, errors, None),
        Failure::Refused(why) => (StatusCode::CONFLICT, Vec::new(), Some(why)),
        _ => return None,
    };
    let waived = fields.all("waived_gate").map(str::to_owned).collect();
    Some((status, planned::Typed { cells: fields.cells(), waived, errors, refused, on }))
}

type Back = (StatusCode, planned::Typed);

/// Goes on after a form that was taken; shows the excursion again where a rule or a field said no.
async fn answer(
    app: &App,
    viewer: &Viewer,
    excursion: &ExcursionCode,
    typed: &Fields,
    on: Option<(String, String)>,
    outcome: Result<Done, Failure>,
) -> Result<Response, PageError> {
    let failure = match outcome {
        Ok(done) => return Ok(done.into_response()),
        Err(failure @ (Failure::Invalid(_) | Failure::Refused(_))) => failure,
        Err(other) => return Err(other.into()),
    };
    let words = failure.to_string();
    let Some((status, typed)) = typed_back(typed, failure, on) else {
        return Err(Failure::Refused(words).into());
    };
    let mut db = app.db.reader().await?;
    let excursion = planned::planned(&mut db, excursion).await?;
    let page = planned::page(&mut db, viewer, excursion, &typed).await?;
    Ok((status, Page(page)).into_response())
}

/// Says what was done and what it did, and offers the way back where that asks for nothing.
fn told(there: &str, to: String, last: &Last) -> Done {
    let done = Done::to(to).saying(format!("{} {}", last.words, planned::in_short(&last.effect)));
    if last.asks_reason {
        return done;
    }
    done.undo(format!("{there}/undo/{}", last.number), "Take it back")
}

/// Adds a task, pencilled or set. What is refused comes back with all that was typed.
pub(crate) async fn add(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Response, PageError> {
    let excursion = ExcursionCode::from(code.as_str());
    let outcome = added(&app, &viewer, &excursion, &typed).await;
    answer(&app, &viewer, &excursion, &typed, None, outcome).await
}

async fn added(
    app: &App,
    viewer: &Viewer,
    excursion: &ExcursionCode,
    typed: &Fields,
) -> Result<Done, Failure> {
    let mut work = Work::begin(app, &viewer.actor, typed.key().as_ref()).await?;
    let before = effect::look(&mut work, excursion).await?;
    let slot = add_slot(&mut work, excursion, typed).await?;
    let words = format!("{} is {} on {excursion}.", slot.task, slot.state);
    let last = effect::keep(&mut work, before, Some(&slot.code.0), &words).await?;
    let there = address(excursion);
    let to = work.finish(there.clone()).await?;
    Ok(told(&there, to, &last))
}

async fn add_slot(
    work: &mut Work,
    excursion: &ExcursionCode,
    typed: &Fields,
) -> Result<Slot, Failure> {
    let mut cells = Cells::default();
    for name in ["task", "technique", "side", "seats", "share", "must_do"] {
        cells.set(name, typed.get(name));
    }
    cells.set("excursion", excursion.as_str());
    cells.set("state", SlotState::Pencilled.word());
    let slot = Slot::parse(&cells).map_err(Failure::Invalid)?;
    let slot = if slot.seats.is_empty() {
        slots::place_best(work, slot).await?
    } else {
        let before = Some(typed.get("before")).filter(|code| !code.is_empty()).map(SlotCode::from);
        slots::place_before(work, slot, before.as_ref()).await?
    };
    if typed.get("do") == "set" {
        slots::set_new(work, slot, &waiver(typed)).await
    } else {
        slots::pencil(work, slot).await
    }
}

/// One act on one slot of this excursion.
pub(crate) async fn act(
    State(app): State<App>,
    viewer: Viewer,
    Path((code, slot, act)): Path<(String, String, String)>,
    typed: Fields,
) -> Result<Response, PageError> {
    let excursion = ExcursionCode::from(code.as_str());
    let outcome = acted(&app, &viewer, &excursion, (&slot, &act), &typed).await;
    answer(&app, &viewer, &excursion, &typed, Some((slot, act)), outcome).await
}

async fn acted(
    app: &App,
    viewer: &Viewer,
    excursion: &ExcursionCode,
    (slot, act): (&str, &str),
    typed: &Fields,
) -> Result<Done, Failure> {
    let mut work = Work::begin(app, &viewer.actor, typed.key().as_ref()).await?;
    let there = current::<Slot>(&mut work, slot).await?;
    if there.excursion != *excursion {
        let words = format!("{slot} stands on {}, not on {excursion}.", there.excursion);
        return Err(Failure::Refused(words));
    }
    let before = effect::look(&mut work, excursion).await?;
    let task = there.task.clone();
    let words = match act {
        "earlier" | "later" => {
            slots::reorder(&mut work, slot, act == "earlier").await?;
            format!("{task} is worked {act} now.")
        }
        "place" => place(&mut work, &there, typed).await?,
        "set" => {
            slots::set(&mut work, slot, &waiver(typed)).await?;
            format!("{task} is set on {excursion}.")
        }
        "withdraw" => {
            slots::withdraw(&mut work, slot, reason(typed)?, None).await?;
            format!("{task} is taken off {excursion}.")
        }
        "move" => {
            let to = ExcursionCode::from(typed.get("to"));
            if to.is_blank() {
                return Err(Failure::field("to", "Choose the excursion it moves to."));
            }
            let moved =
                slots::move_to(&mut work, slot, &to, reason(typed)?, &waiver(typed)).await?;
            format!("{task} is {} on {to} now.", moved.state)
        }
        "change" => {
            let mut cells = there.cells();
            for name in CHANGED.iter().filter(|name| typed.has(name)) {
                cells.set(*name, typed.get(name));
            }
            let changed = Slot::parse(&cells).map_err(Failure::Invalid)?;
            let version = typed.version().unwrap_or(0);
            slots::change(&mut work, changed, version, &waiver(typed)).await?;
            format!("The slot of {task} is changed.")
        }
        _ => return Err(Failure::Refused(format!("Nobody can {act} a slot."))),
    };
    let last = effect::keep(&mut work, before, Some(&there.code.0), &words).await?;
    let there = address(excursion);
    let to = work.finish(there.clone()).await?;
    Ok(told(&there, to, &last))
}

/// Along the lanes and between them. `before` names the slot ahead of which it goes; its own code
/// leaves the order as it is, nothing puts it behind all others.
async fn place(work: &mut Work, slot: &Slot, typed: &Fields) -> Result<String, Failure> {
    let code = slot.code();
    let mut wrong = Vec::new();
    let seats: Option<Seats> = typed.cells().take("seats", &mut wrong);
    if !wrong.is_empty() {
        return Err(Failure::Invalid(wrong));
    }
    let to = match typed.get("before") {
        "" if typed.has("before") => Spot::Last,
        before if before.is_empty() || before == code => Spot::AsItIs,
        before => Spot::Before(before.into()),
    };
    // Crew codes stand with the excursion; a slot keeps those that it names.
    let same = |seats: &Seats| seats.numbers().eq(slot.seats.numbers());
    let seats = seats.filter(|seats| !seats.is_empty() && !same(seats));
    let version = typed.version().unwrap_or(0);
    let moved = slots::place(work, code, version, seats, &to, &waiver(typed)).await?;
    Ok(match to {
        Spot::AsItIs => format!("{} is worked by {} now.", moved.task, moved.seats.names()),
        Spot::Before(other) => {
            let other = current::<Slot>(work, other.as_str()).await?;
            let seats = moved.seats.names();
            format!("{} is worked by {seats}, right before {}, now.", moved.task, other.task)
        }
        Spot::Last => {
            format!("{} is worked by {}, after all others, now.", moved.task, moved.seats.names())
        }
    })
}

/// Takes the last change back.
pub(crate) async fn undo(
    State(app): State<App>,
    viewer: Viewer,
    Path((code, number)): Path<(String, i64)>,
    typed: Fields,
) -> Result<Response, PageError> {
    let excursion = ExcursionCode::from(code.as_str());
    let outcome = undone(&app, &viewer, &excursion, number, &typed).await;
    let on = Some((String::new(), "undo".to_owned()));
    answer(&app, &viewer, &excursion, &typed, on, outcome).await
}

async fn undone(
    app: &App,
    viewer: &Viewer,
    excursion: &ExcursionCode,
    number: i64,
    typed: &Fields,
) -> Result<Done, Failure> {
    let mut work = Work::begin(app, &viewer.actor, typed.key().as_ref()).await?;
    let before = effect::look(&mut work, excursion).await?;
    let words = slots::undo(&mut work, excursion, number, reason(typed)?).await?;
    let last = effect::keep(&mut work, before, None, &words).await?;
    let there = address(excursion);
    let to = work.finish(there.clone()).await?;
    Ok(told(&there, to, &last))
}
