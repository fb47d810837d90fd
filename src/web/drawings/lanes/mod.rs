//! The lanes of one excursion: elapsed time runs downwards, a column per seat. What a lane does is
//! told apart by its shape: full blocks for work, hatches for setup and cleanup, an arrow for
//! travel, dots for waiting; dashes round what is only pencilled. On the day a black block is what was
//! worked, above the rule of now.

mod blocks;
mod legend;
mod scale;
mod sheet;
mod wording;

pub use legend::{LegendEntry, legend, legend_of_the_day};

use std::fmt::Write as _;

use super::markup::{Drawing, escaped, identifier, short};
use compute::fit::SiteAt;
use compute::timeline::Activity;
use sheet::Sheet;

/// What is drawn. Times are minutes since the excursion began.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Lanes {
    pub excursion: String,
    /// `EV1`, in the order of the lanes.
    pub seats: Vec<String>,
    pub steps: Vec<Step>,
    pub blocks: Vec<Block>,
    pub nights: Vec<(f64, f64)>,
    pub arm: Vec<(f64, f64)>,
    pub ends: Vec<End>,
    /// On the day of the excursion: the minute up to which it has come.
    pub day: Option<f64>,
    /// Drawn smaller, without handles: for a sheet of paper.
    pub on_paper: bool,
}

/// What a lane does beside work.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    pub lane: usize,
    pub from: f64,
    pub until: f64,
    pub doing: Doing,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Doing {
    Egress,
    /// To that worksite.
    Travel(String),
    Setup,
    Wait,
    Cleanup,
    Ingress,
}

impl Doing {
    /// What a lane does beside work; `site` names worksites.
    pub fn of(activity: Activity, site: impl Fn(SiteAt) -> String) -> Option<Self> {
        Some(match activity {
            Activity::Egress => Self::Egress,
            Activity::Travel { to, .. } => Self::Travel(site(to)),
            Activity::Setup { .. } => Self::Setup,
            Activity::Wait => Self::Wait,
            Activity::Cleanup { .. } => Self::Cleanup,
            Activity::Ingress => Self::Ingress,
            Activity::Work { .. } => return None,
        })
    }
}

/// A task at work.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Block {
    /// Its number in the table of slots.
    pub number: usize,
    pub slot: String,
    pub version: i64,
    pub task: String,
    /// Where its code leads; empty where it leads nowhere.
    pub address: String,
    pub title: String,
    /// The lanes that it holds, in order.
    pub lanes: Vec<usize>,
    pub from: f64,
    pub until: f64,
    /// The last minute at which it may begin so that the limit is kept.
    pub latest: Option<f64>,
    pub pencilled: bool,
    /// No window of the arm or the light is left for it.
    pub outside_windows: bool,
    /// Whether it has a handle by which it is moved.
    pub movable: bool,
    pub stands: Stands,
    /// Lines below its title.
    pub notes: Vec<String>,
    /// When it was planned, on the day.
    pub planned: Option<(f64, f64)>,
}

/// How far a block is.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub enum Stands {
    /// On a plan, or flown.
    #[default]
    Plan,
    Worked,
    /// Worked up to now, and expected to go on to the end of its block.
    UnderWay,
    ToCome,
    /// Its last note says how likely it is to be reached.
    AtRisk,
}

/// A rule across all lanes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct End {
    pub kind: EndKind,
    pub at: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum EndKind {
    P50,
    P80,
    Plan,
    Limit,
    Now,
}

impl Lanes {
    fn end(&self, kind: EndKind) -> Option<f64> {
        self.ends.iter().find(|end| end.kind == kind).map(|end| end.at)
    }
}

/// Minutes as h:mm.
pub fn clock_words(minutes: f64) -> String {
    wording::clock(minutes)
}

/// The drawing: 440 wide for two seats, at 2 pixels a minute.
pub fn draw(lanes: &Lanes, id: &str) -> Drawing {
    let sheet = Sheet::of(lanes);
    let mut out = opened(lanes, &sheet, id);
    scale::grounds(&mut out, lanes, &sheet, id);
    scale::axis(&mut out, lanes, &sheet);
    scale::windows(&mut out, lanes, &sheet);
    for step in &lanes.steps {
        blocks::step(&mut out, step, &sheet, id, lanes.day);
    }
    for block in &lanes.blocks {
        blocks::block(&mut out, block, &sheet, lanes.day);
    }
    scale::ends(&mut out, lanes, &sheet);
    out.push_str("</svg>");
    Drawing::new(out)
}

/// A group and not one image, since the codes in it are links.
fn opened(lanes: &Lanes, sheet: &Sheet, id: &str) -> String {
    let id = identifier(id);
    let columns: Vec<String> = (0..lanes.seats.len())
        .map(|lane| format!("{} {}", short(Sheet::left(lane)), short(Sheet::right(lane))))
        .collect();
    let mut out = format!(
        "<svg class=\"lane-drawing\" viewBox=\"0 0 {} {}\" role=\"group\" aria-labelledby=\"{id}t\" \
         aria-describedby=\"{id}d\" data-columns=\"{}\" \
         data-seats=\"{}\"><title id=\"{id}t\">{}</title><desc id=\"{id}d\">{}</desc><defs>",
        short(sheet.wide()),
        short(sheet.high()),
        columns.join(","),
        escaped(&lanes.seats.join(",")),
        escaped(&wording::title(lanes)),
        escaped(&wording::words(lanes)),
    );
    for (name, size, turn, class) in
        [("h", 5, 45, "hatch-line"), ("m", 6, -45, "margin-line"), ("p", 4, 45, "past-line")]
    {
        let _ = write!(
            out,
            "<pattern id=\"{id}{name}\" width=\"{size}\" height=\"{size}\" \
             patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate({turn})\">\
             <path class=\"{class}\" d=\"M0 0v{size}\"/></pattern>"
        );
    }
    out.push_str("</defs>");
    out
}

#[cfg(test)]
mod tests;
