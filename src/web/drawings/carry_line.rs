//! The carry line: one task's life over the flights. The line begins where the task was opened,
//! is solid while it is carried and stops at *now* unless a slot holds it; height is the approach.

use super::columns::{Columns, Grid, Place, Spot, Where};
use super::markup::{Drawing, open, place, text};
use domain::units::Share;
use domain::words::Outcome;

mod large;
mod trace;
mod wording;

pub use large::{Approach, large};
use trace::Trace;
pub use wording::words;

/// What happened to the task, or is to happen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MarkKind {
    /// Done, by an attempt or by a closure.
    Done,
    /// With what is left of the task, where it is known.
    PartDone(Option<Share>),
    NotCompleted,
    NotReached,
    Deferral,
    Set,
    Pencilled,
    Dropped,
    Parked,
    Reopened,
}

impl MarkKind {
    pub const fn of(outcome: Outcome, left: Option<Share>) -> Self {
        match outcome {
            Outcome::Done => Self::Done,
            Outcome::PartDone => Self::PartDone(left),
            Outcome::NotCompleted => Self::NotCompleted,
            Outcome::NotReached => Self::NotReached,
        }
    }

    /// Its shape among the marks of the page; the others are drawn as part of the line.
    const fn shape(self) -> Option<&'static str> {
        match self {
            Self::Done => Some("k-done"),
            Self::NotCompleted => Some("k-not"),
            Self::NotReached => Some("k-nr"),
            Self::Set => Some("k-set"),
            Self::Pencilled => Some("k-pen"),
            Self::PartDone(None) => Some("k-part"),
            Self::PartDone(Some(_))
            | Self::Deferral
            | Self::Dropped
            | Self::Parked
            | Self::Reopened => None,
        }
    }

    /// How far the line keeps away from the middle of the mark, on either side.
    const fn half_width(self) -> f64 {
        match self {
            Self::Done => 5.25,
            Self::PartDone(_) | Self::NotCompleted => 4.75,
            Self::NotReached => 2.5,
            Self::Set | Self::Pencilled | Self::Deferral => 6.0,
            Self::Dropped | Self::Parked | Self::Reopened => 0.0,
        }
    }

    /// Whether the line ends there, unless something follows.
    const fn ends(self) -> bool {
        match self {
            Self::Done | Self::Dropped | Self::Parked | Self::Set | Self::Pencilled => true,
            Self::PartDone(_)
            | Self::NotCompleted
            | Self::NotReached
            | Self::Deferral
            | Self::Reopened => false,
        }
    }
}

/// The height of a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Height {
    /// An approach, numbered from 0 in the order in which they were first tried.
    Approach(usize),
    /// An attempt whose approach nobody recorded: a height of its own, labelled.
    Unrecorded,
    /// The height that the line has: what happened says nothing about an approach.
    Kept,
}

/// One event.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    pub at: Where,
    pub kind: MarkKind,
    pub height: Height,
    /// The code of the excursion; empty for what happens between flights.
    pub excursion: String,
    /// Said under the mark in the large drawing instead of the bare word: `not completed, 0:47`.
    pub note: String,
}

impl Mark {
    /// An event on an excursion, which stands there.
    pub fn on(at: Where, excursion: &str, kind: MarkKind, height: Height) -> Self {
        Self { at, kind, height, excursion: excursion.to_owned(), note: String::new() }
    }

    /// An event between flights.
    pub const fn between(at: Where, kind: MarkKind) -> Self {
        Self { at, kind, height: Height::Kept, excursion: String::new(), note: String::new() }
    }

    #[must_use]
    pub fn noting(mut self, note: impl Into<String>) -> Self {
        self.note = note.into();
        self
    }
}

/// By when the task has to be done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NeededBy {
    /// `G-38`, or a date.
    pub by: String,
    /// The flight whose column it closes.
    pub at: Where,
    pub at_risk: bool,
}

impl NeededBy {
    const fn shape(&self) -> &'static str {
        if self.at_risk { "k-late" } else { "k-need" }
    }
}

/// One task's life. The marks come in the order of events.
#[derive(Debug, Clone)]
pub struct CarryLine<'a> {
    pub columns: &'a Columns,
    pub task: String,
    pub opened: Where,
    pub marks: Vec<Mark>,
    pub needed_by: Option<NeededBy>,
}

impl CarryLine<'_> {
    /// How many approaches the marks name.
    fn approaches(&self) -> usize {
        self.marks
            .iter()
            .filter_map(|mark| match mark.height {
                Height::Approach(index) => Some(index + 1),
                Height::Unrecorded | Height::Kept => None,
            })
            .max()
            .unwrap_or(0)
    }

    /// Events that are folded away: on flights before the first column, or before the last attempts.
    fn folded(&self) -> usize {
        self.marks.iter().filter(|mark| mark.at == Where::Earlier).count()
    }
}

/// So many attempts are drawn.
const ATTEMPTS: usize = 12;

/// Folds away what came before the last attempts, so that a line can be read however often the task was
/// tried. The marks come in the order of events.
pub fn fold_earlier(marks: &mut [Mark]) {
    let is_attempt = |mark: &&Mark| {
        matches!(
            mark.kind,
            MarkKind::Done | MarkKind::PartDone(_) | MarkKind::NotCompleted | MarkKind::NotReached
        )
    };
    let mut too_many = marks.iter().filter(is_attempt).count().saturating_sub(ATTEMPTS);
    for mark in marks {
        if too_many == 0 {
            break;
        }
        too_many -= usize::from(is_attempt(&&*mark));
        mark.at = Where::Earlier;
    }
}

/// Whether a row stands in a table under its head, or alone and carries the flight codes itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Style {
    /// In a narrow window the codes appear under the line.
    Row,
    /// The codes stand above the line.
    Headed,
}

/// Heights of a row: the third and every later approach share the top one.
const LEVELS: usize = 3;

/// The drawing of a row, 408 × 36. The page holds `columns.defs()` once; `id` is unique on it.
pub fn small(line: &CarryLine<'_>, id: &str, style: Style) -> Drawing {
    let level = |height: Height| match height {
        Height::Approach(index) => index.min(LEVELS - 1),
        Height::Unrecorded | Height::Kept => line.approaches().min(LEVELS - 1),
    };
    let trace = Trace::of(line, Grid::SMALL, |height| y_of(level(height)));

    let (class, view_box) = match style {
        Style::Row => ("", "0 0 408 36"),
        Style::Headed => ("headed", "0 -16 408 52"),
    };
    let title = format!("Carry line of {}", line.task);
    let mut out = open(class, view_box, id, &title, &words(line));
    out.push_str("<use href=\"#cols\"/>");
    trace.draw(&mut out);
    for placed in &trace.placed {
        if let Some(number) = numbered(placed.mark.height) {
            let y = if placed.y > 20.0 { placed.y - 10.0 } else { placed.y + 17.0 };
            text(&mut out, "t11 t2 mid", placed.x, y, &number);
        }
    }
    if line.folded() > 0 {
        // Above the line, where it does not begin on top.
        let y = if trace.begins < 15.0 { 25.0 } else { 12.0 };
        text(&mut out, "t11 t2", 0.0, y, &format!("+{}", line.folded()));
    }
    if let Some(needed) = &line.needed_by
        && let Where::At(spot) = needed.at
    {
        let x = Grid::SMALL.right(line.columns, spot.column) - 3.0;
        place(&mut out, needed.shape(), x, 18.0, Grid::SMALL.unit);
    }
    if style == Style::Headed {
        out.push_str("<use href=\"#flab\" y=\"-3\"/>");
    }
    out.push_str("<use class=\"flab\" href=\"#flab\" y=\"50\"/></svg>");
    Drawing::new(out)
}

fn y_of(level: usize) -> f64 {
    27.0 - 9.0 * super::columns::number(level)
}

/// What stands beside a mark whose height alone does not tell the approach.
fn numbered(height: Height) -> Option<String> {
    match height {
        Height::Approach(index) if index >= LEVELS => Some((index + 1).to_string()),
        Height::Unrecorded => Some("?".to_owned()),
        Height::Approach(_) | Height::Kept => None,
    }
}

#[cfg(test)]
mod tests;
