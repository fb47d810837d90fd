//! The carry line of a task's own page, 1168 wide: a row an approach, named on the left, what
//! happened said under each mark.

use super::wording::said;
use super::{CarryLine, Drawing, Grid, Height, Trace, Where, open, words};
use crate::drawings::columns::number;
use crate::drawings::markup::{path, place, short, text};

/// One approach, from the first tried upwards; the ones that were never tried come last.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Approach {
    /// `from nadir`.
    pub name: String,
    /// `lever grip, K-LEVER rev 2`.
    pub way: String,
}

/// Between two approaches, and from the lowest to the foot.
const ROW: f64 = 44.0;
const TOP: f64 = 62.0;
const FOOT: f64 = 28.0;

/// The large drawing.
pub fn large(line: &CarryLine<'_>, approaches: &[Approach], id: &str) -> Drawing {
    let grid = Grid::LARGE;
    let rows = rows(line, approaches);
    let lowest = TOP + ROW * number(rows.len() - 1);
    let y_of = |height: Height| match height {
        Height::Approach(index) => lowest - ROW * number(index.min(rows.len() - 1)),
        Height::Unrecorded | Height::Kept => TOP,
    };
    let base = lowest + FOOT;
    let trace = Trace::of(line, grid, y_of);
    let (labels, tiers) = labels(&trace, base);

    let told = format!(
        "{} Heights, from the lowest: {}.",
        words(line),
        rows.iter().map(|row| row.name.as_str()).collect::<Vec<_>>().join(", ")
    );
    let view_box = format!("0 0 1168 {}", short(base + 4.0 + 30.0 * number(tiers)));
    let title = format!("Carry line of {}, large", line.task);
    let mut out = open("wide-drawing large", &view_box, id, &title, &told);
    ground(&mut out, line, base);
    for (index, row) in rows.iter().enumerate() {
        let y = lowest - ROW * number(index);
        path(&mut out, "staff", &format!("M176 {0}H1164", short(y)));
        text(&mut out, "t13 tb", 0.0, y - 1.0, &row.name);
        text(&mut out, "t2", 0.0, y + 15.0, &row.way);
    }
    trace.draw(&mut out);
    if line.folded() > 0 {
        text(&mut out, "t11 t2", 180.0, 36.0, &format!("{} earlier", line.folded()));
    }
    if let Some((x, y)) = trace.opened {
        text(&mut out, "t11 t2 end", x - 8.0, y - 12.0, "opened");
    }
    out.push_str(&labels);
    needed(&mut out, line, f64::midpoint(TOP, lowest), base);
    out.push_str("</svg>");
    Drawing::new(out)
}

/// A row for every approach named by the marks, whether or not the caller knows it.
fn rows(line: &CarryLine<'_>, approaches: &[Approach]) -> Vec<Approach> {
    let mut rows = approaches.to_vec();
    while rows.len() < line.approaches() {
        let name = format!("approach {}", rows.len() + 1);
        rows.push(Approach { name, way: String::new() });
    }
    if rows.is_empty() || line.marks.iter().any(|mark| mark.height == Height::Unrecorded) {
        rows.push(Approach { name: "not recorded".to_owned(), way: "approach unknown".to_owned() });
    }
    rows
}

/// Columns, codes, ticks, axis and foot.
fn ground(out: &mut String, line: &CarryLine<'_>, base: f64) {
    let grid = Grid::LARGE;
    let foot = short(base);
    path(out, "future", &format!("M846 0H1164V{foot}H846z"));
    for (column, flight) in line.columns.flights().iter().enumerate() {
        text(out, "tc t13 tb mid", grid.middle(line.columns, column), 16.0, &flight.code);
        path(out, "exc", &grid.ticks(line.columns, column, &[22.0, base - 4.0]));
    }
    let rules =
        grid.edges().map(|x| format!("M{} 22V{foot}", short(x))).collect::<Vec<_>>().concat();
    path(out, "col", &rules);
    path(out, "now", &format!("M829 0V{foot}"));
    path(out, "axis", "M176 22H1164");
    path(out, "exc", &format!("M176 {foot}H1164"));
}

/// Under each mark its excursion and what happened, on a lower line where two would meet.
fn labels(trace: &Trace<'_>, base: f64) -> (String, usize) {
    let mut out = String::new();
    let mut free: Vec<f64> = Vec::new();
    for placed in &trace.placed {
        let mark = placed.mark;
        let said = if mark.note.is_empty() { said(mark.kind) } else { mark.note.clone() };
        let letters = |text: &str, each: f64| number(text.chars().count()) * each;
        let half = letters(&said, 5.6).max(letters(&mark.excursion, 6.8)) / 2.0 + 4.0;
        let tier = free.iter().position(|end| *end <= placed.x - half).unwrap_or(free.len());
        if tier == free.len() {
            free.push(0.0);
        }
        free[tier] = placed.x + half;
        let y = base + 14.0 + 30.0 * number(tier);
        text(&mut out, "mid tc t11 t2", placed.x, y, &mark.excursion);
        text(&mut out, "mid t11 t2", placed.x, y + 14.0, &said);
    }
    (out, free.len().max(1))
}

fn needed(out: &mut String, line: &CarryLine<'_>, y: f64, base: f64) {
    let Some(needed) = &line.needed_by else { return };
    let Where::At(spot) = needed.at else { return };
    let x = Grid::LARGE.right(line.columns, spot.column) - 6.0;
    place(out, needed.shape(), x, y, Grid::LARGE.unit);
    let said = if needed.at_risk { "needed by, at risk" } else { "needed by" };
    let class = if needed.at_risk { "t11 tno end" } else { "t11 t2 end" };
    // Under the bracket; above it, where the foot of the drawing leaves no room there.
    let under = y + 34.0;
    let at = if under <= base - 8.0 { under } else { y - 20.0 };
    text(out, class, x - 10.0, at, said);
}
