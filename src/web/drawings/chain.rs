//! Task dependencies: a box for each task, what comes first on the left, an arrow for each link.

use super::columns::number;
use super::markup::{Drawing, cut, cut_to, linked, open_group, path, place, short, text};
use crate::addresses;

/// One task.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    pub code: String,
    pub title: String,
    /// Its state: the mark and the word.
    pub mark: &'static str,
    pub state: &'static str,
    /// Where it is planned, in words.
    pub note: String,
}

/// The links between two steps, by their places in the list; `from` comes first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Arrow {
    pub from: usize,
    pub to: usize,
    pub words: Vec<&'static str>,
    /// The later one waits for the earlier one.
    pub holds: bool,
    /// Neither comes first: they stand one above the other.
    pub beside: bool,
}

const WIDE: f64 = 196.0;
const HIGH: f64 = 62.0;
const GAP: f64 = 112.0;
const ROW: f64 = 86.0;
const TOP: f64 = 8.0;
/// What a line takes in its box, and its size; letters of a code. The list below has the whole.
const ROOM: f64 = 178.0;
const SIZE: f64 = 11.0;
const CODE: usize = 11;
/// The width of a letter of a code and of a word at a line, at the most; the height of a word.
const CODE_LETTER: f64 = 7.9;
const LETTER: f64 = 6.2;
const LINE: f64 = 13.0;

/// The drawing around `steps[0]`. `words` tells the same as a text.
pub fn draw(steps: &[Step], arrows: &[Arrow], id: &str, words: &str) -> Drawing {
    let columns = columns(steps.len(), arrows);
    let first = columns.iter().copied().min().unwrap_or(0);
    let last = columns.iter().copied().max().unwrap_or(0);
    let mut filled = vec![0_usize; usize::try_from(last - first + 1).unwrap_or(1)];
    let mut corners = Vec::with_capacity(steps.len());
    for column in &columns {
        let at = usize::try_from(column - first).unwrap_or(0);
        corners.push((number(at) * (WIDE + GAP) + 2.0, TOP + number(filled[at]) * ROW));
        filled[at] += 1;
    }
    let rows = filled.iter().copied().max().unwrap_or(1);
    let width = number(filled.len()) * (WIDE + GAP) - GAP + 4.0;
    let height = TOP + number(rows) * ROW;
    let view_box = format!("0 0 {} {}", short(width), short(height));
    // Its own size: few tasks are not blown up, many are scrolled.
    let sized = format!("<svg width=\"{}\" height=\"{}\"", short(width), short(height));
    let mut out =
        open_group("chain", &view_box, id, "Task dependencies", words).replacen("<svg", &sized, 1);
    let ends = |arrow: &Arrow| Some((*corners.get(arrow.from)?, *corners.get(arrow.to)?));
    for (arrow, (from, to)) in arrows.iter().filter_map(|arrow| Some((arrow, ends(arrow)?))) {
        line(&mut out, arrow, from, to);
    }
    // Words stand over all lines, and none over another.
    let mut taken = Vec::new();
    for (arrow, (from, to)) in arrows.iter().filter_map(|arrow| Some((arrow, ends(arrow)?))) {
        named(&mut out, arrow, (from, to), &mut taken);
    }
    for (at, (step, (x, y))) in steps.iter().zip(&corners).enumerate() {
        linked(&mut out, &addresses::within("tasks", &step.code), "", |out| {
            boxed(out, step, at == 0, (*x, *y));
        });
    }
    out.push_str("</svg>");
    Drawing::new(out)
}

fn boxed(out: &mut String, step: &Step, here: bool, (x, y): (f64, f64)) {
    let class = if here { "work here" } else { "work" };
    let (left, top, wide, high) = (short(x), short(y), short(WIDE), short(HIGH));
    path(out, class, &format!("M{left} {top}h{wide}v{high}h-{wide}z"));
    let code = cut(&step.code, CODE);
    let mark = (CODE_LETTER * number(code.chars().count()) + 24.0).max(92.0);
    text(out, "tc tb", x + 10.0, y + 19.0, &code);
    place(out, step.mark, x + mark, y + 15.0, 0.8);
    text(out, "t11", x + mark + 12.0, y + 19.0, step.state);
    text(out, "t11", x + 10.0, y + 36.0, &cut_to(&step.title, ROOM, SIZE));
    text(out, "t11 t2", x + 10.0, y + 52.0, &cut_to(&step.note, ROOM, SIZE));
}

/// Where each step stands, from the first one at 0: what comes before it lies left, the longest way
/// deciding. Rings are refused when a link is made; should one be there, the walk still ends.
fn columns(count: usize, arrows: &[Arrow]) -> Vec<i64> {
    let mut at: Vec<Option<i64>> = vec![None; count];
    if let Some(first) = at.first_mut() {
        *first = Some(0);
    }
    for _ in 0..count {
        for arrow in arrows.iter().filter(|arrow| arrow.from < count && arrow.to < count) {
            let (from, to) = (at[arrow.from], at[arrow.to]);
            if arrow.beside {
                let column = from.or(to);
                at[arrow.from] = from.or(column);
                at[arrow.to] = to.or(column);
                continue;
            }
            if let Some(to) = to.filter(|to| *to <= 0)
                && from.is_none_or(|from| from >= to && from < 0)
            {
                at[arrow.from] = Some(to - 1);
            }
            if let Some(from) = from.filter(|from| *from >= 0)
                && to.is_none_or(|to| to <= from && to > 0)
            {
                at[arrow.to] = Some(from + 1);
            }
        }
    }
    at.into_iter().map(|column| column.unwrap_or(0)).collect()
}

fn line(out: &mut String, arrow: &Arrow, from: (f64, f64), to: (f64, f64)) {
    let class = if arrow.holds { "go" } else { "go loose" };
    if arrow.beside {
        let x = from.0 + 24.0;
        let (upper, lower) = (from.1.min(to.1) + HIGH, from.1.max(to.1));
        path(out, class, &format!("M{} {}V{}", short(x), short(upper), short(lower)));
        return;
    }
    let (x, y) = (from.0 + WIDE, from.1 + HIGH / 2.0);
    let (end, down) = (to.0, to.1 + HIGH / 2.0);
    let middle = f64::midpoint(x, end);
    path(
        out,
        class,
        &format!(
            "M{} {}C{} {} {} {} {} {}",
            short(x),
            short(y),
            short(middle),
            short(y),
            short(middle),
            short(down),
            short(end - 6.0),
            short(down)
        ),
    );
    path(out, "kf", &format!("M{} {}l-8-4.5v9z", short(end), short(down)));
}

/// What a link is called, on its line: several words one above the other, as two boxes are near.
fn named(
    out: &mut String,
    arrow: &Arrow,
    (from, to): ((f64, f64), (f64, f64)),
    taken: &mut Vec<(f64, f64, f64, f64)>,
) {
    let longest = arrow.words.iter().map(|word| word.chars().count()).max().unwrap_or(0);
    let (wide, high) = (LETTER * number(longest), LINE * number(arrow.words.len()));
    if arrow.beside {
        let (x, lower) = (from.0 + 32.0, from.1.max(to.1));
        text(out, "t11 t2 halo", x, lower - 8.0, &arrow.words.join(", "));
        taken.push((x, lower - 8.0 - LINE, x + wide, lower - 8.0));
        return;
    }
    // In the gap before the later box, as a line over several columns passes behind boxes.
    let middle = to.0 - GAP / 2.0;
    let on_line =
        height_at(middle, (from.0 + WIDE, from.1 + HIGH / 2.0), (to.0, to.1 + HIGH / 2.0));
    let free = |(left, top, right, foot): (f64, f64, f64, f64)| {
        taken.iter().all(|(l, t, r, f)| right < *l || *r < left || foot < *t || *f < top)
    };
    // Down the line from its middle, a word's height at a time to either side.
    let places = (0..12).flat_map(|step| [-1.0, 1.0].map(|side| side * LINE * number(step)));
    let boxed = |aside: f64| {
        let foot = on_line - 6.0 + aside;
        (middle - wide / 2.0, foot - high, middle + wide / 2.0, foot)
    };
    let at = places.map(boxed).find(|place| free(*place)).unwrap_or_else(|| boxed(0.0));
    taken.push(at);
    for (line, word) in arrow.words.iter().rev().enumerate() {
        text(out, "t11 t2 mid halo", middle, at.3 - LINE * number(line), word);
    }
}

/// How high the line between two points runs at a place: the curve that `line` draws.
fn height_at(x: f64, from: (f64, f64), to: (f64, f64)) -> f64 {
    let middle = f64::midpoint(from.0, to.0);
    let at = |t: f64, a: f64, b: f64, c: f64, d: f64| {
        let u = 1.0 - t;
        u * u * u * a + 3.0 * u * u * t * b + 3.0 * u * t * t * c + t * t * t * d
    };
    // It only runs to the right, so halving the stretch finds the place.
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..24 {
        let t = f64::midpoint(low, high);
        if at(t, from.0, middle, middle, to.0) < x { low = t } else { high = t }
    }
    at(low, from.1, from.1, to.1, to.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn arrow(from: usize, to: usize) -> Arrow {
        Arrow { from, to, words: vec!["needs"], holds: true, beside: false }
    }

    fn step(code: &str) -> Step {
        Step {
            code: code.into(),
            title: "Swap it".into(),
            mark: "k-open",
            state: "open",
            note: "on no excursion".into(),
        }
    }

    #[test]
    fn what_comes_first_lies_left_and_the_longest_way_decides() {
        // 3 → 1 → 0, 3 → 2 → 0, 3 → 0, and 0 → 4.
        let arrows = [arrow(1, 0), arrow(2, 0), arrow(3, 0), arrow(3, 1), arrow(3, 2), arrow(0, 4)];
        assert_eq!(columns(5, &arrows), [0, -1, -1, -2, 1]);
        let mut turned = arrows.to_vec();
        turned.reverse();
        assert_eq!(columns(5, &turned), [0, -1, -1, -2, 1]);
    }

    #[test]
    fn what_stands_beside_shares_the_column() {
        let beside =
            Arrow { beside: true, holds: false, words: vec!["same visit as"], ..arrow(0, 1) };
        assert_eq!(columns(2, &[beside]), [0, 0]);
    }

    #[test]
    fn words_stand_on_their_line_in_the_gap_before_the_later_task() {
        // By hand: half way along a curve that is the same from both ends it is half way down.
        let half = height_at(50.0, (0.0, 0.0), (100.0, 80.0));
        assert!((half - 40.0).abs() < 0.001, "{half}");
        assert!(height_at(90.0, (0.0, 0.0), (100.0, 80.0)) > 70.0);
    }

    #[test]
    fn a_ring_that_should_not_be_there_is_drawn_and_ends() {
        let columns = columns(3, &[arrow(0, 1), arrow(1, 2), arrow(2, 0)]);
        assert_eq!(columns[0], 0);
    }

    #[test]
    fn each_box_has_code_state_and_place_and_the_words_stand_beside() {
        let long = Step { title: "x".repeat(60), ..step("T-2") };
        let drawing =
            draw(&[step("T-1"), long], &[arrow(1, 0)], "c", "T-1 waits until T-2 is done.");
        let markup = drawing.as_str();
        assert!(markup.contains("<a href=\"/tasks/T-1\"><path"));
        assert!(markup.contains(">T-1</text>") && markup.contains("#k-open"), "{markup}");
        // By hand: of 178 units the ellipsis takes 11, and an x takes 6.6.
        assert!(markup.contains(&format!(">{}…</text>", "x".repeat(25))));
        assert!(markup.contains("T-1 waits until T-2 is done.</desc>"));
        assert!(!markup.contains("NaN") && !markup.contains("style="));
    }
}
