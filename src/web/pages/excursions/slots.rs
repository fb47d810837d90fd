//! What a person does with the slots of one excursion: add, order, change, set, move, withdraw.

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use sqlx::SqliteConnection;

use super::{address, planned};
use crate::app::fit::Board;
use crate::app::records::current;
use crate::app::slots::{self, Reason, Waiver};
use crate::app::work::Work;
use crate::app::{App, Failure};
use crate::domain::cells::{Cells, FieldError, Prose};
use crate::domain::codes::ExcursionCode;
use crate::domain::records::Record as _;
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

fn reason(typed: &Fields) -> Option<Reason> {
    let kind = DeferralReason::read(typed.get("reason"))?;
    Some(Reason { kind, words: Prose(typed.get("words").trim().to_owned()) })
}

/// Adds a task, pencilled or set. What is refused comes back with all that was typed.
pub(crate) async fn add(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Response, PageError> {
    let excursion = ExcursionCode::from(code.as_str());
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    match add_slot(&mut work, &excursion, &typed).await {
        Ok(slot) => {
            let there = work.finish(address(&excursion)).await?;
            let words = format!("{} is {} on {code}.", slot.task, slot.state);
            Ok(Done::to(there).saying(words).into_response())
        }
        Err(failure @ (Failure::Invalid(_) | Failure::Refused(_))) => {
            drop(work);
            let (status, errors, refused) = match failure {
                Failure::Invalid(errors) => (StatusCode::UNPROCESSABLE_ENTITY, errors, None),
                other => (StatusCode::CONFLICT, Vec::new(), Some(other.to_string())),
            };
            let typed = planned::Typed { cells: typed.cells(), errors, refused };
            let mut db = app.db.reader().await?;
            let excursion = planned::planned(&mut db, &excursion).await?;
            let page = planned::page(&mut db, &viewer, excursion, &typed).await?;
            Ok((status, Page(page)).into_response())
        }
        Err(failure) => Err(failure.into()),
    }
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
) -> Result<Done, PageError> {
    let excursion = ExcursionCode::from(code.as_str());
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    let there = current::<Slot>(&mut work, &slot).await?;
    if there.excursion != excursion {
        let words = format!("{slot} stands on {}, not on {code}.", there.excursion);
        return Err(Failure::Refused(words).into());
    }
    let words = match act.as_str() {
        "earlier" | "later" => {
            slots::reorder(&mut work, &slot, act == "earlier").await?;
            format!("{} is worked {act} now.", there.task)
        }
        "set" => {
            slots::set(&mut work, &slot, &waiver(&typed)).await?;
            format!("{} is set on {code}.", there.task)
        }
        "withdraw" => {
            slots::withdraw(&mut work, &slot, reason(&typed), None).await?;
            format!("{} is taken off {code}.", there.task)
        }
        "move" => {
            let to = ExcursionCode::from(typed.get("to"));
            if to.is_blank() {
                return Err(Failure::field("to", "Choose the excursion it moves to.").into());
            }
            let moved =
                slots::move_to(&mut work, &slot, &to, reason(&typed), &waiver(&typed)).await?;
            format!("{} is {} on {to} now.", there.task, moved.state)
        }
        "change" => {
            let mut cells = there.cells();
            for name in CHANGED.iter().filter(|name| typed.has(name)) {
                cells.set(*name, typed.get(name));
            }
            let changed = Slot::parse(&cells).map_err(Failure::Invalid)?;
            let version = typed.version().unwrap_or(0);
            slots::change(&mut work, changed, version, &waiver(&typed)).await?;
            format!("The slot of {} is changed.", there.task)
        }
        _ => return Err(Failure::Refused(format!("Nobody can {act} a slot.")).into()),
    };
    let there = work.finish(address(&excursion)).await?;
    Ok(Done::to(there).saying(words))
}
