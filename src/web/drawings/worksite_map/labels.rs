//! Where names and figures stand on a map: each takes the place, of some dozens, that covers least of
//! what is there already, no route if that can be.

use crate::drawings::columns::number;
use crate::drawings::markup::text;

/// One line of a label.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Line {
    pub class: &'static str,
    pub words: String,
}

/// A label with its place.
pub(super) struct Label<'a> {
    lines: &'a [Line],
    side: &'static str,
    x: f64,
    /// The foot of the first line.
    first: f64,
}

#[derive(Debug, Clone, Copy)]
struct Area {
    left: f64,
    top: f64,
    right: f64,
    bottom: f64,
}

/// What is on the map so far.
#[derive(Default)]
pub(super) struct Sheet {
    /// Spots and labels: nothing may cover them.
    taken: Vec<Area>,
    /// The routes: no label may lie on one where there is a place beside it.
    lines: Vec<(Point, Point)>,
}

type Point = (f64, f64);

const LEADING: f64 = 13.0;
/// Width of a letter, and of one of a code.
const LETTER: f64 = 6.0;
const CODE_LETTER: f64 = 8.2;
/// What a pixel of a route under a label costs, and a square pixel of another label.
const ON_LINE: f64 = 40.0;
const ON_LABEL: f64 = 100.0;
/// A label lies on another where it covers more square pixels than this.
const TOUCHES: f64 = 0.5;
/// Directions in which a name may stand from its spot, the first ones first: up, down, right, left, and
/// between them.
const DIRECTIONS: [Point; 12] = [
    (0.0, -1.0),
    (0.0, 1.0),
    (1.0, 0.0),
    (-1.0, 0.0),
    (0.7, -0.7),
    (-0.7, -0.7),
    (0.7, 0.7),
    (-0.7, 0.7),
    (0.4, -0.9),
    (-0.4, -0.9),
    (0.4, 0.9),
    (-0.4, 0.9),
];
/// How far from its spot, and what the distance costs.
const DISTANCES: [f64; 6] = [6.0, 20.0, 36.0, 56.0, 80.0, 110.0];
/// Where along its route a figure may stand, half way first.
const SHARES: [f64; 9] = [0.5, 0.4, 0.6, 0.3, 0.7, 0.45, 0.55, 0.22, 0.78];

impl Sheet {
    pub fn keep_line(&mut self, from: Point, to: Point) {
        self.lines.push((from, to));
    }

    pub fn keep_spot(&mut self, (x, y): Point, radius: f64) {
        let edge = radius + 3.0;
        self.taken.push(Area {
            left: x - edge,
            top: y - edge,
            right: x + edge + 8.0,
            bottom: y + edge,
        });
    }

    /// Keeps a strip at the foot of the sheet free.
    pub fn keep_foot(&mut self, words: &str) {
        let right = 8.0 + LETTER * number(words.chars().count());
        let (top, bottom) = (super::HIGH - LEADING, super::HIGH);
        self.taken.push(Area { left: 0.0, top, right, bottom });
    }

    /// A label beside a route, half way or as near to it as there is room; none where it would lie on
    /// another label.
    pub fn along<'a>(&mut self, from: Point, to: Point, lines: &'a [Line]) -> Option<Label<'a>> {
        let (wide, high) = size(lines);
        let long = (to.0 - from.0).hypot(to.1 - from.1).max(1.0);
        let across = (-(to.1 - from.1) / long, (to.0 - from.0) / long);
        let places = SHARES.iter().flat_map(|share| {
            let on = (from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share);
            let reach = clear_of(across, wide, high) + 2.0;
            [-1.0, 1.0].map(|side: f64| {
                let by = side * reach;
                let middle = (on.0 + across.0 * by, on.1 + across.1 * by);
                (Label::around(lines, "mid", middle, wide, high), 20.0 * (share - 0.5).abs())
            })
        });
        let free = places.filter(|(label, _)| self.covered(label.area()) < TOUCHES).collect();
        self.best(free)
    }

    /// A label round a spot, as near to it as there is room.
    pub fn beside<'a>(&mut self, (x, y): Point, radius: f64, lines: &'a [Line]) -> Label<'a> {
        let (wide, high) = size(lines);
        let places = DISTANCES.iter().flat_map(|distance| {
            DIRECTIONS.iter().enumerate().map(move |(rank, toward)| {
                // To the right a tag may hang on the spot.
                let tag = if toward.0 > 0.5 { 8.0 } else { 0.0 };
                let reach = clear_of(*toward, wide, high) + radius + distance + tag;
                let middle = (x + toward.0 * reach, y + toward.1 * reach);
                let side = match toward.0 {
                    right if right > 0.5 => "start",
                    left if left < -0.5 => "end",
                    _ => "mid",
                };
                let label = Label::around(lines, side, middle, wide, high);
                (label, 4.0 * distance + number(rank))
            })
        });
        let places = places.collect();
        self.best(places).expect("there are dozens of places round a spot")
    }

    /// The place that costs least; of two alike the first.
    fn best<'a>(&mut self, places: Vec<(Label<'a>, f64)>) -> Option<Label<'a>> {
        let mut best: Option<(f64, Label<'a>)> = None;
        for (label, away) in places {
            let cost = self.cost(label.area()) + away;
            if best.as_ref().is_none_or(|(least, _)| cost < *least) {
                best = Some((cost, label));
            }
        }
        let (_, label) = best?;
        self.taken.push(label.area());
        Some(label)
    }

    fn covered(&self, area: Area) -> f64 {
        self.taken.iter().map(|other| area.overlap(*other)).sum()
    }

    fn cost(&self, area: Area) -> f64 {
        let crossed: f64 = self.lines.iter().map(|line| area.length_within(*line)).sum();
        let beyond = (-area.left).max(0.0) + (area.right - super::WIDE).max(0.0);
        let over = (-area.top).max(0.0) + (area.bottom - super::HIGH).max(0.0);
        ON_LABEL * self.covered(area) + ON_LINE * crossed + 1_000.0 * (beyond + over)
    }
}

/// How wide and how high the lines of a label are.
fn size(lines: &[Line]) -> Point {
    let letters = |line: &Line| {
        let each = if line.class.contains("t13") { CODE_LETTER } else { LETTER };
        number(line.words.chars().count()) * each
    };
    let wide = lines.iter().map(letters).fold(0.0, f64::max);
    (wide, LEADING * number(lines.len()) + 1.0)
}

/// How far the middle of a box has to be from a point, in this direction, to be clear of it.
fn clear_of((right, down): Point, wide: f64, high: f64) -> f64 {
    right.abs() * wide / 2.0 + down.abs() * high / 2.0
}

impl<'a> Label<'a> {
    /// The lines in a box of this size round its middle.
    fn around(lines: &'a [Line], side: &'static str, (x, y): Point, wide: f64, high: f64) -> Self {
        let x = match side {
            "start" => x - wide / 2.0,
            "end" => x + wide / 2.0,
            _ => x,
        };
        Label { lines, side, x, first: y - high / 2.0 + 11.0 }
    }

    fn area(&self) -> Area {
        let (wide, high) = size(self.lines);
        let left = match self.side {
            "start" => self.x,
            "end" => self.x - wide,
            _ => self.x - wide / 2.0,
        };
        let top = self.first - 11.0;
        Area { left, top, right: left + wide, bottom: top + high }
    }

    pub fn write(&self, out: &mut String) {
        for (index, line) in self.lines.iter().enumerate() {
            let class = format!("{} {} halo", line.class, self.side);
            text(out, &class, self.x, self.first + LEADING * number(index), &line.words);
        }
    }
}

impl Area {
    fn overlap(self, other: Self) -> f64 {
        let wide = self.right.min(other.right) - self.left.max(other.left);
        let high = self.bottom.min(other.bottom) - self.top.max(other.top);
        wide.max(0.0) * high.max(0.0)
    }

    /// How much of a straight line lies within.
    // Source: Liang, Barsky, A new concept and method for line clipping, ACM Transactions on
    // Graphics 3, 1984.
    fn length_within(self, (from, to): (Point, Point)) -> f64 {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let (mut enters, mut leaves) = (0.0_f64, 1.0_f64);
        for (slope, room) in [
            (-dx, from.0 - self.left),
            (dx, self.right - from.0),
            (-dy, from.1 - self.top),
            (dy, self.bottom - from.1),
        ] {
            if slope.abs() < f64::EPSILON {
                if room < 0.0 {
                    return 0.0;
                }
            } else if slope < 0.0 {
                enters = enters.max(room / slope);
            } else {
                leaves = leaves.min(room / slope);
            }
        }
        (leaves - enters).max(0.0) * dx.hypot(dy)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(words: &str) -> Vec<Line> {
        vec![Line { class: "t11", words: words.into() }]
    }

    #[test]
    fn a_name_goes_where_nothing_stands() {
        let mut sheet = Sheet::default();
        let (above, words) = ((500.0, 280.0), line("W-KEEL4"));
        let free = sheet.beside((500.0, 300.0), 6.0, &words);
        assert!(free.first < 300.0, "above, where nothing is in the way");
        let mut crowded = Sheet::default();
        crowded.keep_line((500.0, 300.0), above);
        let moved = crowded.beside((500.0, 300.0), 6.0, &words);
        assert!(moved.first > 300.0, "below, where a way leads up");
    }

    #[test]
    fn two_labels_at_one_spot_do_not_cover_each_other() {
        let mut sheet = Sheet::default();
        let words = line("eleven minutes");
        let first = sheet.beside((500.0, 300.0), 6.0, &words).area();
        let second = sheet.beside((500.0, 300.0), 6.0, &words).area();
        assert!(first.overlap(second) < 0.01);
    }

    #[test]
    fn a_label_stays_on_the_sheet() {
        let mut sheet = Sheet::default();
        let words = line("a long name of a worksite");
        let label = sheet.beside((5.0, 30.0), 6.0, &words).area();
        assert!(label.left >= 0.0 && label.top >= 0.0, "{label:?}");
    }

    #[test]
    fn as_much_of_a_line_counts_as_lies_within() {
        let area = Area { left: 10.0, top: 10.0, right: 20.0, bottom: 20.0 };
        let within = |from, to| area.length_within((from, to));
        assert!((within((0.0, 15.0), (30.0, 15.0)) - 10.0).abs() < 1e-9, "straight through");
        assert!((within((15.0, 15.0), (15.0, 40.0)) - 5.0).abs() < 1e-9, "from its middle out");
        assert!(
            (within((10.0, 10.0), (20.0, 20.0)) - 200.0_f64.sqrt()).abs() < 1e-9,
            "its diagonal"
        );
        assert!(within((0.0, 0.0), (30.0, 5.0)) < 1e-9, "past it");
        assert!(within((0.0, 25.0), (30.0, 25.0)) < 1e-9, "beside it");
    }

    #[test]
    fn figures_stand_beside_their_route() {
        let words = line("9 min");
        for to in [(900.0, 100.0), (100.0, 500.0), (700.0, 480.0), (420.0, 130.0)] {
            let mut sheet = Sheet::default();
            sheet.keep_line((100.0, 100.0), to);
            let label = sheet.along((100.0, 100.0), to, &words).unwrap();
            assert!(label.area().length_within(((100.0, 100.0), to)) < 1e-9, "{to:?}");
        }
    }
}
