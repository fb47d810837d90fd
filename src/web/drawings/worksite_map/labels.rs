//! Where names and figures stand on a map: each takes the place, of a few, that covers least of
//! what is there already.

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
    /// Points along the ways: a label may lie on one, but rather not.
    lines: Vec<(f64, f64)>,
}

const LEADING: f64 = 13.0;

impl Sheet {
    pub fn keep_line(&mut self, from: (f64, f64), to: (f64, f64)) {
        let steps: u32 = 48;
        self.lines.extend((0..=steps).map(|step| {
            let share = f64::from(step) / f64::from(steps);
            (from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share)
        }));
    }

    pub fn keep_spot(&mut self, (x, y): (f64, f64), radius: f64) {
        let edge = radius + 3.0;
        self.taken.push(Area {
            left: x - edge,
            top: y - edge,
            right: x + edge + 8.0,
            bottom: y + edge,
        });
    }

    /// A label on a way, half way or as near to it as there is room.
    pub fn along<'a>(&mut self, from: (f64, f64), to: (f64, f64), lines: &'a [Line]) -> Label<'a> {
        let places = [0.5, 0.4, 0.6, 0.3, 0.7].map(|share| {
            let (x, y) = (from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share);
            Label { lines, side: "mid", x, first: y + 4.0 }
        });
        // It belongs on its line, so lines do not count against it.
        self.best(places, 0.0)
    }

    /// A label above, below, right or left of a spot.
    pub fn beside<'a>(&mut self, (x, y): (f64, f64), radius: f64, lines: &'a [Line]) -> Label<'a> {
        let high = LEADING * number(lines.len() - 1);
        let label = |side, x, first| Label { lines, side, x, first };
        let places = [
            label("mid", x, y - radius - 6.0 - high),
            label("mid", x, y + radius + 15.0),
            label("start", x + radius + 14.0, y + 4.0 - high / 2.0),
            label("end", x - radius - 6.0, y + 4.0 - high / 2.0),
        ];
        self.best(places, 1.0)
    }

    fn best<'a, const N: usize>(&mut self, places: [Label<'a>; N], of_lines: f64) -> Label<'a> {
        let mut best: Option<(f64, Label<'a>)> = None;
        for label in places {
            let cost = self.cost(label.area(), of_lines);
            if best.as_ref().is_none_or(|(least, _)| cost < *least) {
                best = Some((cost, label));
            }
        }
        let (_, label) = best.expect("every caller offers at least one place");
        self.taken.push(label.area());
        label
    }

    fn cost(&self, area: Area, of_lines: f64) -> f64 {
        let covered: f64 = self.taken.iter().map(|other| area.overlap(*other)).sum();
        let crossed = self.lines.iter().filter(|point| area.holds(**point)).count();
        let beyond = (-area.left).max(0.0) + (area.right - super::WIDE).max(0.0);
        let over = (-area.top).max(0.0) + (area.bottom - super::HIGH).max(0.0);
        covered + of_lines * 12.0 * number(crossed) + 100.0 * (beyond + over)
    }
}

impl Label<'_> {
    fn area(&self) -> Area {
        let letters = |line: &Line| {
            let each = if line.class.contains("t13") { 8.2 } else { 6.0 };
            number(line.words.chars().count()) * each
        };
        let wide = self.lines.iter().map(letters).fold(0.0, f64::max);
        let left = match self.side {
            "start" => self.x,
            "end" => self.x - wide,
            _ => self.x - wide / 2.0,
        };
        let bottom = self.first + LEADING * number(self.lines.len() - 1) + 3.0;
        Area { left, top: self.first - 11.0, right: left + wide, bottom }
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

    fn holds(self, (x, y): (f64, f64)) -> bool {
        (self.left..=self.right).contains(&x) && (self.top..=self.bottom).contains(&y)
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
}
