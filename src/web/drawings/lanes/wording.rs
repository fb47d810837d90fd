//! The lanes in words, for whoever does not see them.

use super::{Block, Doing, EndKind, Lanes, Stands};
use compute::fit::pet;

/// `1:05`.
pub(super) fn clock(minutes: f64) -> String {
    pet(minutes).to_string()
}

pub(super) fn title(lanes: &Lanes) -> String {
    format!("Lanes of {}, PET downwards, one column per seat", lanes.excursion)
}

/// Every lane from its egress to its ingress, then the windows and the ends.
pub(super) fn words(lanes: &Lanes) -> String {
    let mut told: Vec<String> = lanes
        .seats
        .iter()
        .enumerate()
        .map(|(lane, seat)| format!("{seat}: {}.", lane_words(lanes, lane)))
        .collect();
    for (name, windows) in [("Arm", &lanes.arm), ("Night", &lanes.nights)] {
        if !windows.is_empty() {
            let each: Vec<String> =
                windows.iter().map(|(from, until)| stretch(*from, *until)).collect();
            told.push(format!("{name}: {}.", each.join(", ")));
        }
    }
    let mut ends = lanes.ends.clone();
    ends.sort_by(|a, b| a.at.total_cmp(&b.at));
    let ends: Vec<String> = ends
        .iter()
        .map(|end| {
            let name = match end.kind {
                EndKind::P50 => "P50 end",
                EndKind::Plan => "plan end",
                EndKind::P80 => "P80 end",
                EndKind::Limit => "limit",
                EndKind::Now => "now",
            };
            format!("{name} {}", clock(end.at))
        })
        .collect();
    if !ends.is_empty() {
        told.push(format!("Across all lanes: {}.", ends.join(", ")));
    }
    told.join(" ")
}

fn stretch(from: f64, until: f64) -> String {
    format!("{} to {}", clock(from), clock(until))
}

fn lane_words(lanes: &Lanes, lane: usize) -> String {
    let steps = lanes.steps.iter().filter(|step| step.lane == lane).map(|step| {
        let name = match &step.doing {
            Doing::Egress => "egress".to_owned(),
            Doing::Travel(to) => format!("travel to {to}"),
            Doing::Setup => "setup".to_owned(),
            Doing::Wait => "waiting".to_owned(),
            Doing::Cleanup => "cleanup".to_owned(),
            Doing::Ingress => "ingress".to_owned(),
        };
        (step.from, format!("{name} {}", stretch(step.from, step.until)))
    });
    let blocks = lanes
        .blocks
        .iter()
        .filter(|block| block.lanes.contains(&lane))
        .map(|block| (block.from, block_words(lanes, block, lane)));
    let mut all: Vec<(f64, String)> = steps.chain(blocks).collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    if all.is_empty() {
        return "nothing".to_owned();
    }
    all.into_iter().map(|(_, words)| words).collect::<Vec<_>>().join("; ")
}

fn block_words(lanes: &Lanes, block: &Block, lane: usize) -> String {
    let others: Vec<&str> = block
        .lanes
        .iter()
        .filter(|other| **other != lane)
        .filter_map(|other| lanes.seats.get(*other).map(String::as_str))
        .collect();
    let with =
        if others.is_empty() { String::new() } else { format!(" with {}", others.join(" and ")) };
    let state = if block.pencilled { ", pencilled" } else { "" };
    let latest = match block.latest {
        Some(latest) if latest < 0.0 => ", no start in time".to_owned(),
        Some(latest) => format!(", start by {}", clock(latest)),
        None => String::new(),
    };
    let window = if block.outside_windows { ", no window left" } else { "" };
    let stands = match block.stands {
        Stands::Plan | Stands::ToCome => "",
        Stands::Worked => ", worked",
        Stands::UnderWay => ", under way",
        Stands::AtRisk => ", at risk",
    };
    let notes: String = block.notes.iter().flat_map(|note| [", ", note.as_ref()]).collect();
    format!(
        "{}{with} {}{state}{stands}{latest}{window}{notes}",
        block.task,
        stretch(block.from, block.until)
    )
}
