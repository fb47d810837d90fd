//! The path of a carry line: where it runs, where it is cut, where it steps to another height.

use std::fmt::Write as _;

use super::{CarryLine, Grid, Height, Mark, MarkKind, Place, Spot, Where};
use crate::drawings::columns::number;
use crate::drawings::markup::{path, place as reference, short};
use domain::units::Share;

/// A mark with its place.
pub(super) struct Placed<'a> {
    pub mark: &'a Mark,
    pub x: f64,
    pub y: f64,
}

/// The finished parts of a line.
pub(super) struct Trace<'a> {
    grid: Grid,
    /// Up to now, or to where the line ended.
    solid: String,
    /// From now to what is planned.
    ahead: String,
    pub placed: Vec<Placed<'a>>,
    /// The height at which it begins.
    pub begins: f64,
    /// Where the line starts, if that is shown.
    pub opened: Option<(f64, f64)>,
}

/// The pen on its way.
struct Pen {
    d: String,
    /// Where the line may go on from: behind the last mark.
    x: f64,
    y: f64,
    /// The middle of the last mark.
    middle: f64,
    /// Off the paper: a move comes before the next stroke.
    lifted: bool,
    unit: f64,
}

impl<'a> Trace<'a> {
    pub fn of(line: &'a CarryLine<'_>, grid: Grid, y_of: impl Fn(Height) -> f64) -> Self {
        let (begins, placed) = place(line, grid, &y_of);
        let ahead_from = placed
            .iter()
            .position(|p| matches!(p.mark.at, Where::At(spot) if line.columns.is_ahead(spot)))
            .unwrap_or(placed.len());
        let (flown, coming) = placed.split_at(ahead_from);

        let (mut pen, opened) = start(line, grid, begins);
        for p in flown {
            pen.step(p.x, p.y, p.mark.kind, None);
            pen.mark(p.x, p.mark.kind);
        }
        let holds = flown.last().is_none_or(|p| !p.mark.kind.ends());
        if holds {
            pen.to(grid.now());
        }

        let (x, y) = (grid.now(), pen.y);
        let mut next = Pen { d: String::new(), x, y, middle: x, lifted: true, unit: grid.unit };
        for (index, p) in coming.iter().enumerate() {
            let gutter = (index == 0).then(|| grid.now() + 4.0 * grid.unit);
            next.step(p.x, p.y, p.mark.kind, gutter);
            next.mark(p.x, p.mark.kind);
        }
        if line.marks.iter().any(|mark| mark.at == Where::Later) {
            next.to(grid.end());
        }
        Self { grid, solid: pen.d, ahead: next.d, placed, begins, opened }
    }

    /// Draws the line and the marks upon it.
    pub fn draw(&self, out: &mut String) {
        path(out, "ln", &self.solid);
        path(out, "la", &self.ahead);
        for p in &self.placed {
            draw_mark(out, p, self.grid.unit);
        }
    }
}

/// The beginning: an upright where the task was opened, or the left edge.
fn start(line: &CarryLine<'_>, grid: Grid, y: f64) -> (Pen, Option<(f64, f64)>) {
    let (x, opened) = match line.opened {
        Where::At(spot) => (grid.x(line.columns, spot), true),
        Where::Earlier | Where::Later => (grid.left, false),
    };
    let mut pen = Pen { d: String::new(), x, y, middle: x, lifted: true, unit: grid.unit };
    if opened {
        pen.upright(x, 4.5);
    }
    (pen, opened.then_some((x, y)))
}

/// The height at which the line begins, and every mark that is shown with its place. Marks that
/// share a spot stand side by side.
fn place<'a>(
    line: &'a CarryLine<'_>,
    grid: Grid,
    y_of: &impl Fn(Height) -> f64,
) -> (f64, Vec<Placed<'a>>) {
    let shown: Vec<_> = line
        .marks
        .iter()
        .filter_map(|mark| match mark.at {
            Where::At(spot) => Some((spot, mark)),
            Where::Earlier | Where::Later => None,
        })
        .collect();
    // What came before the first shown mark may have set the height that it keeps.
    let mut height = line
        .marks
        .iter()
        .rfind(|mark| mark.at == Where::Earlier && mark.height != Height::Kept)
        .map(|mark| mark.height);
    if height.is_none() {
        height = shown
            .iter()
            .filter(|(spot, _)| !line.columns.is_ahead(*spot))
            .map(|(_, mark)| mark.height)
            .find(|height| *height != Height::Kept);
    }
    let mut height = height.unwrap_or(Height::Approach(0));
    let begins = y_of(height);

    let mut placed = Vec::with_capacity(shown.len());
    for (index, (spot, mark)) in shown.iter().enumerate() {
        if mark.height != Height::Kept {
            height = mark.height;
        }
        let same = |other: &&(Spot, &Mark)| other.0 == *spot;
        let before = number(shown.iter().take(index).filter(same).count());
        let all = number(shown.iter().filter(same).count());
        let spread = 11.0 * grid.unit;
        let shift = match spot.place {
            Place::Excursion(_) => (before - (all - 1.0) / 2.0) * spread,
            Place::After => (before + 1.0 - all) * spread,
        };
        placed.push(Placed { mark, x: grid.x(line.columns, *spot) + shift, y: y_of(height) });
    }
    (begins, placed)
}

impl Pen {
    /// Puts the pen on the paper.
    fn down(&mut self) {
        if std::mem::take(&mut self.lifted) {
            let _ = write!(self.d, "M{} {}", short(self.x), short(self.y));
        }
    }

    fn to(&mut self, x: f64) {
        if x > self.x {
            self.down();
            let _ = write!(self.d, "H{}", short(x));
            self.x = x;
        }
    }

    /// An upright across the line, that far to either side.
    fn upright(&mut self, x: f64, reach: f64) {
        let (top, high) = (self.y - reach * self.unit, 2.0 * reach * self.unit);
        let _ = write!(self.d, "M{} {}v{}", short(x), short(top), short(high));
        self.lifted = true;
    }

    /// Runs up to a mark; where the height changes, by a slant half way between the two marks, or
    /// in the gutter where the change is still to come.
    fn step(&mut self, x: f64, y: f64, kind: MarkKind, gutter: Option<f64>) {
        let edge = x - kind.half_width() * self.unit;
        if (y - self.y).abs() > 0.01 {
            let half = 2.0;
            let middle = match gutter {
                Some(gutter) => gutter.min(f64::midpoint(self.x, edge)),
                None => f64::midpoint(self.middle, x),
            };
            // Between crowded marks the slant keeps clear of the one behind it.
            let middle = middle.min(edge - half).max(self.x + half);
            self.to(middle - half);
            self.down();
            let _ = write!(self.d, "L{} {}", short(middle + half), short(y));
            (self.x, self.y) = (middle + half, y);
        }
        self.to(edge);
    }

    /// Cuts the line at a mark and goes on behind it.
    fn mark(&mut self, x: f64, kind: MarkKind) {
        let reach = kind.half_width() * self.unit;
        match kind {
            MarkKind::Deferral => {
                self.x = x - reach;
                self.down();
                let (r, wide) = (short(reach), short(2.0 * reach));
                let _ = write!(self.d, "a{r} {r} 0 0 1 {wide} 0");
                self.x = x + reach;
            }
            MarkKind::Dropped => {
                self.upright(x, 6.0);
                self.x = x;
            }
            MarkKind::Reopened => {
                self.upright(x, 4.5);
                self.x = x;
            }
            MarkKind::Parked => self.x = x,
            // The angle is open to the right; a line that goes on begins behind its middle.
            MarkKind::Pencilled => (self.x, self.lifted) = (x + 2.0 * self.unit, true),
            MarkKind::Done
            | MarkKind::PartDone(_)
            | MarkKind::NotCompleted
            | MarkKind::NotReached
            | MarkKind::Set => (self.x, self.lifted) = (x + reach, true),
        }
        self.middle = x;
    }
}

fn draw_mark(out: &mut String, p: &Placed<'_>, unit: f64) {
    match (p.mark.kind, p.mark.kind.shape()) {
        (MarkKind::PartDone(Some(left)), _) => out.push_str(&part(p.x, p.y, unit, left)),
        (MarkKind::Parked, _) => {
            let (x, y) = (short(p.x - 6.0 * unit), short(p.y + 4.5 * unit));
            let (wide, high) = (short(12.0 * unit), short(2.75 * unit));
            path(out, "kf", &format!("M{x} {y}h{wide}v{high}h-{wide}z"));
        }
        (_, Some(shape)) => reference(out, shape, p.x, p.y, unit),
        (_, None) => {}
    }
}

/// The outlined square, filled from the bottom to what is done.
fn part(x: f64, y: f64, unit: f64, left: Share) -> String {
    let done = (Share::WHOLE.0 - left.0).clamp(0, 100);
    let high = 9.5 * f64::from(i32::try_from(done).unwrap_or(0)) / 100.0;
    let scale = if unit > 1.0 { format!(" scale({})", short(unit)) } else { String::new() };
    format!(
        "<g transform=\"translate({} {}){scale}\"><path class=\"k\" d=\"M-4.75-4.75h9.5v9.5h-9.5z\"/>\
         <path class=\"kf\" d=\"M-4.75 {}h9.5v{}h-9.5z\"/></g>",
        short(x),
        short(y),
        short(4.75 - high),
        short(high)
    )
}
