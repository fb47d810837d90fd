//! Rules 7 and 8 on tasks `T-1` upwards and excursions `E-flight.number`.

mod chain;
mod cycle;
mod ended;
mod ways;

use super::*;

fn spot(flight: i64, number: i64, place: Option<i64>) -> PlaceInOrder {
    let excursion = format!("E-{flight}.{number}").as_str().into();
    PlaceInOrder { excursion, flight, number, place }
}

fn tie(task: &str, kind: LinkKind, other: &str) -> Tie {
    Tie { task: task.into(), kind, other: other.into() }
}

fn needs(task: &str, other: &str) -> Tie {
    tie(task, LinkKind::Needs, other)
}

fn codes(all: &[&str]) -> Vec<TaskCode> {
    all.iter().map(|code| TaskCode::from(*code)).collect()
}
