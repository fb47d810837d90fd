//! What stands on the dates axis of Plan: flights to come, what they need, and other limits.

use std::collections::BTreeMap;

use crate::drawings::dates_axis::{FlightDates, Limit, draw};
use crate::drawings::markup::Drawing;
use app::campaign::{Campaign, Leg};
use app::constraints::InForce;
use domain::outside::OutsideItem;
use domain::time::Day;

/// So many records of one day are named.
const NAMED: usize = 2;

/// The drawing; none where no flight to come is dated.
pub(super) fn axis(
    campaign: &Campaign,
    outside: &[&OutsideItem],
    constraints: &[&InForce],
    today: Day,
) -> Option<Drawing> {
    let flights: Vec<FlightDates> =
        campaign.legs.iter().filter(|leg| leg.is_ahead()).filter_map(flight).collect();
    let landings: Vec<Day> = flights.iter().filter_map(|flight| flight.landing).collect();
    let mut ending: BTreeMap<Day, Vec<String>> = BTreeMap::new();
    for item in outside {
        if let Some(day) = item.runs_out() {
            ending.entry(day).or_default().push(item.code.0.to_string());
        }
    }
    // What holds until a landing stands there already.
    for (one, day) in constraints.iter().filter_map(|one| Some((one, one.until?))) {
        if !landings.contains(&day) {
            ending.entry(day).or_default().push(one.constraint.code.0.to_string());
        }
    }
    let limits: Vec<Limit> =
        ending.into_iter().map(|(day, codes)| Limit { day, words: named(&codes) }).collect();
    draw(today, &flights, &limits, "dates")
}

/// `O-04 ends`, `O-04, CN-002 end`, `O-04, CN-002 and 3 more end`.
fn named(codes: &[String]) -> String {
    let first = codes.iter().take(NAMED).cloned().collect::<Vec<_>>().join(", ");
    match codes.len() {
        0 | 1 => format!("{first} ends"),
        NAMED => format!("{first} end"),
        count => format!("{first} and {} more end", count - NAMED),
    }
}

fn flight(leg: &Leg) -> Option<FlightDates> {
    let needs = leg.needs;
    let needed = match (needs.all(), needs.at_risk) {
        (0, _) => String::new(),
        (all, 0) => format!("{all} needed"),
        (all, risk) => format!("{all} needed, {risk} at risk"),
    };
    Some(FlightDates {
        code: leg.flight.code.to_string(),
        launch: leg.flight.launch?,
        landing: leg.flight.landing,
        excursions: leg.bars.iter().filter_map(|bar| bar.tally.day).collect(),
        needed,
        has_risk: needs.at_risk > 0,
    })
}
