//! The manifest of a flight, up and down.

use std::collections::BTreeMap;

use app::read::Connection;

use super::flight::Ahead;
use super::{Bit, Line, Part, Table, blank, hands, known, text, warn};
use app::Failure;
use app::calendar::Calendar;
use app::read::{Found, outside, tools};
use domain::codes::{FlightCode, ToolCode};
use domain::outside::OutsideItem;
use domain::slots::Slot;
use domain::tools::Tool;
use domain::words::OutsideState;

pub(super) async fn both_ways(db: &mut Connection, ahead: &Ahead) -> Result<Vec<Part>, Failure> {
    let (up, down) = (up(db, ahead).await?, down(db, ahead).await?);
    let mut parts = vec![Part::Heading("Manifest, up".to_owned())];
    parts.extend(up);
    parts.push(Part::Heading("Manifest, down".to_owned()));
    parts.extend(down);
    parts.push(Part::Words(vec![Bit::Text("Also down: ".to_owned()), Bit::Blank, Bit::Blank]));
    Ok(parts)
}

/// What the rows of a table weigh together.
#[derive(Default)]
struct Together {
    mass: f64,
    volume: f64,
}

impl Together {
    /// The cells of so many of a tool; blank where nobody knows.
    fn add(&mut self, tool: Option<&Tool>, count: i64) -> [Line; 2] {
        let times = f64::from(i32::try_from(count).unwrap_or(1));
        let mass = tool.and_then(|tool| tool.mass).map(|mass| mass.0 * times);
        let volume = tool.and_then(|tool| tool.volume).map(|volume| volume.0 * times);
        self.mass += mass.unwrap_or(0.0);
        self.volume += volume.unwrap_or(0.0);
        [mass, volume].map(|one| one.map_or_else(blank, |one| text(&format!("{one:.1}"))))
    }

    fn said(&self) -> Part {
        let Self { mass, volume } = self;
        Part::Words(text(&format!("Together {mass:.1} kg, {volume:.1} l, as far as known.")))
    }
}

fn named(code: &str, name: &str) -> Line {
    vec![Bit::Code(code.to_owned()), Bit::Text(format!(" {name}"))]
}

async fn up(db: &mut Connection, ahead: &Ahead) -> Result<[Part; 2], Failure> {
    let heads = [("Item", 46), ("Count", 12), ("Mass, kg", 14), ("Volume, l", 14), ("By", 14)];
    let mut table = Table::of(&heads).figures(&[1, 2, 3]).or("No tool comes with this flight.");
    let mut together = Together::default();
    for tool in tools::arriving_with(db, &ahead.flight.code.0).await? {
        let count = tool.arriving.unwrap_or(1);
        let [mass, volume] = together.add(Some(&tool), count);
        table.rows.push(vec![
            named(tool.code.0.as_str(), tool.name.as_str()),
            text(&count.to_string()),
            mass,
            volume,
            ahead.flight.launch.map_or_else(blank, |day| text(&day.to_string())),
        ]);
    }
    Ok([Part::Table(table), together.said()])
}

/// What returns with the flight, and what its tasks bring in without that being said of it. A tool that
/// is on the outside list stands there as that item, and not again as a tool.
async fn down(db: &mut Connection, ahead: &Ahead) -> Result<[Part; 2], Failure> {
    let heads = [
        ("Item", 34),
        ("Count", 8),
        ("Comes in with", 24),
        ("Returns with", 12),
        ("Mass, kg", 11),
        ("Volume, l", 11),
    ];
    let empty = "Nothing is recorded to return with it, and no task of it brings anything in.";
    let mut table = Table::of(&heads).figures(&[1, 4, 5]).or(empty);
    let mut together = Together::default();
    let calendar = Calendar::load(db).await?;
    let live = hands::live(db, &calendar).await?;
    let mut outside: BTreeMap<ToolCode, i64> = BTreeMap::new();
    for item in outside::going_down(db, &ahead.flight.code.0, &ahead.tasks()).await? {
        let tool = match &item.tool {
            Some(tool) => {
                *outside.entry(tool.clone()).or_default() += 1;
                Tool::find(db, tool.as_str()).await?
            }
            None => None,
        };
        let [mass, volume] = together.add(tool.as_ref(), 1);
        table.rows.push(vec![
            named(item.code.0.as_str(), item.what.as_str()),
            text("1"),
            comes_in(&item, &live),
            known(item.returns_with.as_ref().map(FlightCode::as_str)),
            mass,
            volume,
        ]);
    }
    for tool in tools::returning_with(db, &ahead.flight.code.0).await? {
        let listed = outside.get(&tool.code.0).copied().unwrap_or(0);
        let count = tool.going_down.unwrap_or(1) - listed;
        if count < 1 {
            continue;
        }
        let [mass, volume] = together.add(Some(&tool), count);
        table.rows.push(vec![
            named(tool.code.0.as_str(), tool.name.as_str()),
            text(&count.to_string()),
            text("is inside"),
            known(tool.returns_with.as_ref().map(FlightCode::as_str)),
            mass,
            volume,
        ]);
    }
    Ok([Part::Table(table), together.said()])
}

fn comes_in(item: &OutsideItem, live: &[Slot]) -> Line {
    match (&item.brought_back_by, item.state) {
        (_, OutsideState::BroughtIn) => text("is inside"),
        (None, _) => warn("nobody"),
        (Some(task), _) => {
            let mut with = vec![Bit::Code(task.to_string()), Bit::Text(", ".to_owned())];
            with.extend(hands::next_of(task, live));
            with
        }
    }
}
