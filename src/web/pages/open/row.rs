//! One row of the backlog, as the page and as the file show it.

use crate::drawings::carry_line::{Style, small};
use crate::drawings::columns::Columns;
use crate::drawings::markup::Drawing;
use crate::linked::{Piece, linked};
use crate::pages::carry;
use app::dossier::Dossier;
use app::read::open_items::OpenItem;
use domain::words::TaskState;

pub(super) struct TaskRow {
    pub code: String,
    pub title: String,
    pub state: TaskState,
    /// `1` to `5`, or nothing where no class was set.
    pub class: String,
    pub where_it_is: String,
    pub line: Option<Drawing>,
    pub carried: i64,
    pub deferred_before: i64,
    pub need: Need,
    pub in_danger: bool,
    /// Words and codes in turn.
    pub why: Vec<Piece>,
    pub marks: Vec<&'static str>,
}

pub(super) enum Need {
    None,
    Flight(String),
    Day(String),
    /// The day of a constraint or an outside item, with its code.
    Bound(String, String),
}

impl TaskRow {
    pub fn of(item: &OpenItem, dossier: &Dossier, columns: &Columns) -> Self {
        let line = carry::opening(dossier, &item.task).map(|opening| {
            let traced = carry::trace(dossier, columns, opening, item.in_danger);
            small(&traced.line, &format!("line-{}", item.task), Style::Row)
        });
        let place: Vec<String> = [
            item.family.as_ref().map(ToString::to_string),
            item.position.as_ref().map(ToString::to_string),
            item.worksite.as_ref().map(ToString::to_string),
        ]
        .into_iter()
        .flatten()
        .collect();
        let mut marks = Vec::new();
        if item.in_question {
            marks.push("approach questioned");
        }
        if item.twice_same {
            marks.push("same approach tried twice");
        }
        if item.held_tool {
            marks.push("waits for a tool");
        }
        if item.held_order {
            marks.push("waits for other work");
        }
        if item.held_remedy {
            marks.push("waits for a remedy");
        }
        if item.undated {
            marks.push(if item.lacks_opened { ENTER_OPENED } else { UNDATED });
        }
        Self {
            code: item.task.to_string(),
            title: item.title.as_str().to_owned(),
            state: item.state,
            class: item.class.map_or_else(String::new, |class| class.to_string()),
            where_it_is: place.join(" · "),
            line,
            carried: item.carry_count,
            deferred_before: item.deferred_before,
            need: need(item),
            in_danger: item.in_danger,
            why: linked(&item.why_words),
            marks,
        }
    }
}

/// What is said of a task whose history cannot be put in order.
pub(crate) const UNDATED: &str = "something in its history has no date";
pub(crate) const ENTER_OPENED: &str = "enter Opened on: its history cannot be put in order";

fn need(item: &OpenItem) -> Need {
    if let (Some(from), Some(day)) = (&item.need_from, item.need_day) {
        return Need::Bound(day.to_string(), from.clone());
    }
    match (&item.needed_by_flight, item.needed_by_day) {
        (Some(flight), _) => Need::Flight(flight.to_string()),
        (None, Some(day)) => Need::Day(day.to_string()),
        (None, None) => Need::None,
    }
}

/// The heads of the file, which the import of tasks knows where it has such a column.
pub(super) const FILE_HEADS: &[&str] = &[
    "code",
    "title",
    "state",
    "class",
    "family",
    "position",
    "worksite",
    "needed_by_flight",
    "needed_by_day",
    "at risk",
    "carried",
    "deferred before launch",
    "% left",
    "open because",
    "in words",
];

pub(super) fn file_cells(item: &OpenItem) -> Vec<String> {
    let shown = |code: Option<String>| code.unwrap_or_default();
    vec![
        item.task.to_string(),
        item.title.as_str().to_owned(),
        item.state.word().to_owned(),
        shown(item.class.map(|class| class.to_string())),
        shown(item.family.as_ref().map(ToString::to_string)),
        shown(item.position.as_ref().map(ToString::to_string)),
        shown(item.worksite.as_ref().map(ToString::to_string)),
        shown(item.needed_by_flight.as_ref().map(ToString::to_string)),
        shown(item.needed_by_day.map(|day| day.to_string())),
        if item.in_danger { "yes" } else { "no" }.to_owned(),
        item.carry_count.to_string(),
        item.deferred_before.to_string(),
        // What is unknown is not given as a number.
        if item.left_unknown.is_none() { item.share_left.0.to_string() } else { String::new() },
        item.why.clone(),
        item.why_words.clone(),
    ]
}
