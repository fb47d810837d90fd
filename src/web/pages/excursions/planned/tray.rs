//! Open tasks that could be worked on this excursion too, each with its best place.

use std::collections::BTreeSet;

use crate::addresses;
use app::fit::Board;
use app::read::open_items::OpenItem;
use compute::fit::{Added, Ask, ExcursionAt, Matrix, left_with, margin, minutes_added, pet};
use domain::cells::Cell as _;
use domain::codes::TaskCode;
use domain::words::{SlotState, SlotVerdict};

/// Open items that are held against the excursion, the most pressing first, and how many of those
/// that fit are offered.
pub(super) const LOOKED_AT: i64 = 60;
const OFFERED: usize = 8;

pub(crate) struct Offer {
    pub task: String,
    pub title: String,
    pub verdict: SlotVerdict,
    pub technique: String,
    pub side: String,
    pub approach: String,
    /// `EV1, EV2`, as a form sends it.
    pub seats: String,
    pub seat_words: String,
    pub count: usize,
    /// The slot before which it goes; empty: after all of them.
    pub before: String,
    pub pet: String,
    pub added: String,
    pub left: String,
    /// The excursion on which it is set now, and where its slot is moved from there.
    pub set_on: Option<(String, String)>,
}

/// On paper stand those alone that are set nowhere else.
pub(super) fn offers(
    board: &Board,
    at: ExcursionAt,
    matrix: &Matrix,
    items: &[OpenItem],
    on_paper: bool,
) -> Vec<Offer> {
    let here = board.slots[at].iter();
    let set = board.slots.iter().flatten().filter(|slot| slot.state == SlotState::Set);
    let set = set.take_while(|_| on_paper);
    let held: BTreeSet<&TaskCode> = here.chain(set).map(|slot| &slot.task).collect();
    items
        .iter()
        .filter(|item| !held.contains(&item.task))
        .filter_map(|item| offer(board, at, matrix, item))
        .take(OFFERED)
        .collect()
}

fn offer(board: &Board, at: ExcursionAt, matrix: &Matrix, item: &OpenItem) -> Option<Offer> {
    let task = board.task_at(&item.task)?;
    let row = matrix.tasks.iter().position(|other| *other == task)?;
    let cell = matrix.cell(row, at);
    let alone =
        cell.place.filter(|_| matches!(cell.verdict, SlotVerdict::Fits | SlotVerdict::Tight))?;
    let ask = Ask { approach: cell.approach, ..Ask::default() };
    let place = board.place_beside_pencilled(task, at, &ask).unwrap_or(alone);
    let added = Added { excursion: at, task, approach: cell.approach, share: None, place: alone };
    let left = left_with(&board.snapshot, &board.constants, &[added]).first().copied().flatten();
    let approach = cell.approach.and_then(|way| board.snapshot.tasks[task].approaches.get(way));
    let technique = approach.and_then(|way| way.technique.clone());
    let side = approach.and_then(|way| way.side.clone());
    let named = domain::repeat_guard::Approach { technique, side };
    let seats: Vec<String> = board.snapshot.excursions[at]
        .seats
        .iter()
        .enumerate()
        .filter(|(lane, _)| place.lanes.has(*lane))
        .map(|(_, seat)| format!("EV{seat}"))
        .collect();
    let before = board.slots[at].get(place.before_slot);
    let set_on = board
        .slots
        .iter()
        .flatten()
        .find(|slot| slot.task == item.task && slot.state == SlotState::Set);
    Some(Offer {
        task: item.task.as_str().to_owned(),
        title: item.title.as_str().to_owned(),
        verdict: cell.verdict,
        approach: if named.technique.is_none() && named.side.is_none() {
            "no approach chosen".to_owned()
        } else {
            named.to_string()
        },
        technique: named.technique.map_or_else(String::new, |technique| technique.show()),
        side: named.side.map_or_else(String::new, |side| side.show()),
        count: seats.len(),
        seat_words: seats.join(" and "),
        seats: seats.join(", "),
        before: before.map_or_else(String::new, |slot| slot.code.0.as_str().to_owned()),
        pet: format!("{}–{}", pet(place.start), pet(place.end)),
        added: minutes_added(place.added),
        left: left.map_or_else(|| "unknown".to_owned(), margin),
        set_on: set_on.map(|slot| {
            let excursion = addresses::within("excursions", &slot.excursion);
            (slot.excursion.as_str().to_owned(), format!("{excursion}#slot-{}", slot.code.0))
        }),
    })
}
