//! The backlog per flight: tasks opened and ended as two lines that rise, the gap between them is
//! what is open. The figures stand in columns underneath.

use std::fmt::Write as _;

use super::columns::number;
use super::markup::{Drawing, cut, open, path, short, text};

/// The backlog after one flight, counted from the beginning.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    pub label: String,
    pub opened: i64,
    pub ended: i64,
    pub open: i64,
    pub is_ahead: bool,
}

const LEFT: f64 = 74.0;
const RIGHT: f64 = 426.0;
const GUTTER: f64 = 14.0;
const TOP: f64 = 16.0;
const GROUND: f64 = 200.0;
/// A gap that is lower has no room for a figure.
const ROOM: f64 = 18.0;
/// The width of a letter of a figure, at the most; letters of a flight's code under its column.
const LETTER: f64 = 7.5;
const CODE: usize = 6;

/// The drawing, 446 × 286.
pub fn draw(steps: &[Step], id: &str) -> Drawing {
    let title = "Tasks opened and ended per flight";
    let mut out = open("burn", "0 0 446 286", id, title, &words(steps));
    let places = Places::of(steps);
    places.ground(&mut out);
    places.lines(&mut out);
    places.figures(&mut out);
    out.push_str("</svg>");
    Drawing::new(out)
}

struct Places<'s> {
    steps: &'s [Step],
    /// Opened and ended so far.
    sums: Vec<(i64, i64)>,
    top: i64,
    /// How many steps lie behind.
    past: usize,
}

impl<'s> Places<'s> {
    fn of(steps: &'s [Step]) -> Self {
        let sums: Vec<(i64, i64)> = steps
            .iter()
            .scan((0, 0), |(opened, ended), step| {
                *opened += step.opened;
                *ended += step.ended;
                Some((*opened, *ended))
            })
            .collect();
        let most = sums.iter().map(|(opened, ended)| *opened.max(ended)).max().unwrap_or(0);
        let past = steps.iter().filter(|step| !step.is_ahead).count();
        Self { steps, sums, top: round_up(most), past }
    }

    /// Columns stand evenly, with a gutter where now is.
    fn x(&self, at: usize) -> f64 {
        let gaps = number(self.steps.len().saturating_sub(1).max(1));
        let gutter = |at: usize| if at >= self.past { GUTTER } else { 0.0 };
        let span = RIGHT - LEFT - gutter(self.steps.len().saturating_sub(1));
        LEFT + span * number(at) / gaps + gutter(at)
    }

    fn y(&self, count: i64) -> f64 {
        let share = whole(count.max(0)) / whole(self.top.max(1));
        GROUND - (GROUND - TOP) * share
    }

    fn now(&self) -> Option<f64> {
        let ahead = (self.past > 0 && self.past < self.steps.len()).then_some(self.past)?;
        Some(f64::midpoint(self.x(ahead - 1), self.x(ahead)))
    }

    fn ground(&self, out: &mut String) {
        if let Some(now) = self.now() {
            path(out, "future", &format!("M{0} 0H446V286H{0}z", short(now)));
        }
        for quarter in 0..=4 {
            let count = self.top * quarter / 4;
            let y = self.y(count);
            path(out, "hour", &format!("M66 {}H446", short(y)));
            text(out, "t11 t2 end", 58.0, y + 4.0, &count.to_string());
        }
        if let Some(now) = self.now() {
            path(out, "now", &format!("M{} 0V286", short(now)));
        }
    }

    fn line(&self, from: usize, to: usize, of: impl Fn((i64, i64)) -> i64) -> String {
        (from..to).fold(String::new(), |mut d, at| {
            let lead = if d.is_empty() { 'M' } else { ' ' };
            let (x, y) = (short(self.x(at)), short(self.y(of(self.sums[at]))));
            // Writing to a String cannot fail.
            let _ = write!(d, "{lead}{x} {y}");
            d
        })
    }

    fn lines(&self, out: &mut String) {
        let (past, all) = (self.past, self.steps.len());
        let Some(last) = past.checked_sub(1) else { return };
        let back = (0..past).rev().fold(String::new(), |mut d, at| {
            let _ = write!(d, " L{} {}", short(self.x(at)), short(self.y(self.sums[at].1)));
            d
        });
        path(out, "b-gap", &format!("{}{back}z", self.line(0, past, |sums| sums.0)));
        path(out, "ln", &self.line(0, past, |sums| sums.0));
        path(out, "ln b-thin", &self.line(0, past, |sums| sums.1));
        if past < all {
            path(out, "b-if", &self.line(last, all, |sums| sums.0));
            path(out, "b-if", &self.line(last, all, |sums| sums.1));
        }
        self.gap(out, last, "open");
        if past < all {
            self.gap(out, all - 1, "");
        }
        // Both lines only rise: left of a point is free above the one, right of it below the other.
        if past > 3 {
            let (opened, ended) = (past - 3, past / 2);
            let (x, y) = (self.x(opened), self.y(self.sums[opened].0) - 6.0);
            text(out, "t2 end halo", x, y.max(10.0), "opened");
            let (x, y) = (self.x(ended), self.y(self.sums[ended].1) + 14.0);
            text(out, "t2 halo", x, y.min(GROUND + 10.0), "ended");
        }
    }

    /// What is open at a column, measured between the lines where there is room.
    fn gap(&self, out: &mut String, at: usize, word: &str) {
        let (x, top, foot) = (self.x(at), self.y(self.sums[at].0), self.y(self.sums[at].1));
        if foot - top < ROOM {
            return;
        }
        path(out, "b-dim", &format!("M{} {}V{}", short(x), short(top + 3.0), short(foot - 3.0)));
        let words = format!("{} {word}", self.steps[at].open);
        let words = words.trim();
        // Both lines rise, so the upper one is lowest at the left end of the words.
        let wide = LETTER * number(words.chars().count());
        let (top, foot) =
            (self.height(x - 6.0 - wide, |sums| sums.0), self.height(x - 6.0, |sums| sums.1));
        if foot - top >= ROOM {
            text(out, "tb t13 end halo", x - 6.0, f64::midpoint(top, foot) + 4.0, words);
        }
    }

    /// How high a line runs at a place between two columns.
    fn height(&self, x: f64, of: impl Fn((i64, i64)) -> i64) -> f64 {
        let after = (0..self.steps.len()).find(|at| self.x(*at) >= x).unwrap_or(0);
        let Some(before) = after.checked_sub(1) else { return self.y(of(self.sums[after])) };
        let share = (x - self.x(before)) / (self.x(after) - self.x(before));
        let (from, to) = (self.y(of(self.sums[before])), self.y(of(self.sums[after])));
        from + (to - from) * share
    }

    /// The figures in columns under the drawing.
    fn figures(&self, out: &mut String) {
        let small = if self.top >= 10_000 { "t11 mid" } else { "t13 mid" };
        for (at, step) in self.steps.iter().enumerate() {
            let x = self.x(at);
            let label = if step.label == "before" { "t11 mid t2" } else { "tc t11 mid t2" };
            text(out, label, x, 222.0, &cut(&step.label, CODE));
            text(out, "t11 mid t2", x, 241.0, &signed(step.opened, '+'));
            text(out, "t11 mid t2", x, 259.0, &signed(step.ended, '−'));
            text(out, &format!("{small} tb"), x, 279.0, &step.open.to_string());
        }
        path(out, "exc", "M0 227.5H446M0 264.5H446");
        for (y, words) in [(241.0, "opened"), (259.0, "ended")] {
            text(out, "t2", 0.0, y, words);
        }
        text(out, "tb", 0.0, 279.0, "open");
    }
}

/// A count with what it does to the backlog.
fn signed(count: i64, sign: char) -> String {
    if count == 0 { "·".to_owned() } else { format!("{sign}{count}") }
}

/// The end of the axis: a multiple of four that reads well.
fn round_up(most: i64) -> i64 {
    let mut step = 1;
    loop {
        for quarter in [step, 2 * step, 5 * step] {
            if 4 * quarter >= most {
                return 4 * quarter;
            }
        }
        step *= 10;
    }
}

fn whole(count: i64) -> f64 {
    i32::try_from(count).map_or(f64::from(i32::MAX), f64::from)
}

fn words(steps: &[Step]) -> String {
    let past: Vec<&Step> = steps.iter().filter(|step| !step.is_ahead).collect();
    let sum = |of: fn(&Step) -> i64| past.iter().map(|step| of(step)).sum::<i64>();
    let open = past.last().map_or(0, |step| step.open);
    let mut words = format!(
        "{} tasks opened, {} ended, {open} open today; the figures per flight stand under the drawing.",
        sum(|step| step.opened),
        sum(|step| step.ended)
    );
    let ahead: Vec<String> = steps
        .iter()
        .filter(|step| step.is_ahead)
        .map(|step| format!("{} after {}", step.open, step.label))
        .collect();
    if !ahead.is_empty() {
        let _ = write!(
            words,
            " If every set task is done and nothing new is opened: {} open.",
            ahead.join(", ")
        );
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steps() -> Vec<Step> {
        let mut open = 0;
        [
            ("before", 18, 0),
            ("G-31", 5, 7),
            ("G-32", 13, 6),
            ("G-33", 8, 5),
            ("G-34", 20, 7),
            ("G-35", 9, 7),
            ("G-36", 1, 2),
            ("G-37", 0, 6),
            ("G-38", 0, 5),
            ("G-39", 0, 1),
        ]
        .into_iter()
        .enumerate()
        .map(|(at, (label, opened, ended))| {
            open += opened - ended;
            Step { label: label.into(), opened, ended, open, is_ahead: at > 6 }
        })
        .collect()
    }

    #[test]
    fn the_figures_of_the_design_are_drawn_and_said() {
        let drawn = draw(&steps(), "burn");
        let drawn = drawn.as_str();
        assert!(drawn.contains("74 tasks opened, 34 ended, 40 open today"));
        assert!(drawn.contains("34 after G-37, 29 after G-38, 28 after G-39"));
        for figure in [">+20<", ">−7<", ">40 open<", ">80<"] {
            assert!(drawn.contains(figure), "{figure}");
        }
    }

    #[test]
    fn an_axis_ends_where_it_reads_well() {
        assert_eq!([0, 3, 5, 74, 81, 9_000].map(round_up), [4, 4, 8, 80, 200, 20_000]);
    }

    #[test]
    fn few_flights_or_none_draw_no_nonsense() {
        for count in 0..3 {
            let drawn = draw(&steps()[..count], "burn");
            assert!(!drawn.as_str().contains("NaN"), "{count}");
        }
    }
}
