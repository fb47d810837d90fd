//! The fields of slots on the page of an excursion.

use app::read::Connection;

use crate::forms::{Choice, FieldView, Width};
use crate::pages::slots::form::PLANNED;
use app::Failure;
use app::fit::Board;
use app::read::open_items;
use domain::cells::{Cells, FieldError};
use domain::records::Record as _;
use domain::slots::Slot;

const OFFERED: i64 = 100;

/// The fields of a slot that is not there yet, beside its task.
const OF_NEW: [&str; 6] = ["technique", "side", "seats", "share", "not_before", "must_do"];

/// The fields of a slot that is there.
pub(super) fn fields_of(slot: &Slot) -> Vec<FieldView> {
    let cells = slot.cells();
    Slot::COLUMNS
        .iter()
        // The fallbacks have a page of their own.
        .filter(|column| PLANNED.contains(&column.name) && column.name != "fallbacks")
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
    db: &mut Connection,
    board: &Board,
    typed: &Cells,
    errors: &[FieldError],
) -> Result<Vec<FieldView>, Failure> {
    let filter = open_items::Filter::default();
    let open = open_items::page(db, &filter, open_items::Sort::Rank, 0, OFFERED).await?;
    let tasks = open.iter().map(|item| Choice::new(item.task.as_str(), item.title.as_str()));
    let task = FieldView::new("task", "Open task")
        .must()
        .hinting("Its code; the list offers the open tasks, most pressing first.")
        .offering(tasks.collect())
        .holding(typed.get("task"))
        .judged(errors);
    let known = board.task_at(&typed.get("task").into());
    let approaches = known.map_or(&[][..], |at| &board.snapshot.tasks[at].approaches.raw);
    let rest = Slot::COLUMNS.iter().filter(|column| OF_NEW.contains(&column.name)).map(|column| {
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
    approaches: &[compute::fit::Approach],
    part: impl Fn(&compute::fit::Approach) -> Option<String>,
) -> Vec<Choice> {
    let mut values: Vec<String> = approaches.iter().filter_map(part).collect();
    values.sort();
    values.dedup();
    values.into_iter().map(|value| Choice::new(value, "")).collect()
}
