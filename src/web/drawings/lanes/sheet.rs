//! Where everything stands: the numbers of the design, in pixels.

use super::super::columns::number;
use super::Lanes;

/// No excursion is drawn longer than a day.
const MAX_MINUTES: f64 = 1440.0;

/// The measures of one drawing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sheet {
    lanes: usize,
    /// The last minute that is drawn.
    pub last: f64,
    scale: f64,
}

impl Sheet {
    /// Where 0:00 stands.
    pub const TOP: f64 = 32.0;
    /// Pixels a minute, on a page and on paper.
    pub const SCALE: f64 = 2.0;
    const ON_PAPER: f64 = 1.25;
    const FIRST: f64 = 100.0;
    const WIDE: f64 = 116.0;
    const STEP: f64 = 128.0;
    /// By how much a column's ground is wider than its blocks, on either side.
    pub const GROUND: f64 = 4.0;
    pub const LABELS: f64 = 9.0;
    /// Minutes that are drawn past the last rule, on the day.
    const BEYOND: f64 = 12.0;

    pub fn of(lanes: &Lanes) -> Self {
        let steps = lanes.steps.iter().map(|step| step.until);
        let blocks = lanes.blocks.iter().map(|block| block.until);
        let ends = lanes.ends.iter().map(|end| end.at);
        let last = steps.chain(blocks).chain(ends).fold(60.0, f64::max);
        let last = if lanes.day.is_some() { last + Self::BEYOND } else { last };
        let scale = if lanes.on_paper { Self::ON_PAPER } else { Self::SCALE };
        Self { lanes: lanes.seats.len(), last: last.min(MAX_MINUTES), scale }
    }

    pub fn left(lane: usize) -> f64 {
        Self::FIRST + number(lane) * Self::STEP
    }

    pub fn right(lane: usize) -> f64 {
        Self::left(lane) + Self::WIDE
    }

    /// The edges of all columns together.
    pub fn columns(&self) -> (f64, f64) {
        let last = self.lanes.saturating_sub(1);
        (Self::FIRST - Self::GROUND, Self::right(last) + Self::GROUND)
    }

    /// The height at which a minute stands; what lies beyond the drawing stands at its edge.
    pub fn y(&self, minute: f64) -> f64 {
        Self::TOP + minute.clamp(0.0, self.last) * self.scale
    }

    pub fn wide(&self) -> f64 {
        self.columns().1 + 92.0
    }

    /// With room for labels that had to make way downwards.
    pub fn high(&self) -> f64 {
        self.y(self.last) + 24.0
    }

    /// A stretch of time as far as it is drawn; `None` where it is not.
    pub fn stretch(&self, (from, until): (f64, f64)) -> Option<(f64, f64)> {
        (from < self.last && until > 0.0 && from < until).then(|| (self.y(from), self.y(until)))
    }
}
