//! What bears on the count of each tool, loaded for many at once.

use async_recursion::async_recursion as boxed;
use std::collections::HashMap;

use sqlx::SqliteConnection;

use crate::Failure;
use domain::codes::{FlightCode, ToolCode};
use domain::time::Day;
use domain::tools::{Arrival, Ledger, Tool, balance};
use domain::words::{FlightState, OutsideState};
use store::flights::FlightRow;
use store::{flights, tools};

/// The ledgers of these tools.
#[boxed]
pub async fn ledgers(
    db: &mut SqliteConnection,
    wanted: &[Tool],
) -> Result<HashMap<ToolCode, Ledger>, Failure> {
    let flights = flights::in_order(db).await?;
    let codes: Vec<ToolCode> = wanted.iter().map(|tool| tool.code.0.clone()).collect();
    let mut outings: HashMap<ToolCode, Vec<_>> = HashMap::new();
    for (tool, outing) in tools::outings(db, &codes).await? {
        outings.entry(tool).or_default().push(outing);
    }
    let mut items: HashMap<ToolCode, Vec<_>> = HashMap::new();
    for (tool, item) in tools::outside(db, &codes).await? {
        items.entry(tool).or_default().push(item);
    }
    let ledger = |tool: &Tool| Ledger {
        counted: tool.on_board,
        counted_on: tool.counted_on,
        state: Some(tool.state),
        arrival: arrival(tool, &flights),
        return_flight: return_flight(tool, &flights),
        outings: outings.remove(&tool.code.0).unwrap_or_default(),
        items: items.remove(&tool.code.0).unwrap_or_default(),
    };
    let mut ledger = ledger;
    Ok(wanted.iter().map(|tool| (tool.code.0.clone(), ledger(tool))).collect())
}

fn arrival(tool: &Tool, flights: &[FlightRow]) -> Option<Arrival> {
    let flight = tool.arrives_with.clone()?;
    let row = flights.iter().find(|row| row.code == flight);
    let row = row.filter(|row| row.state != FlightState::Cancelled);
    Some(Arrival { day: row.and_then(|row| row.launch), flight, count: tool.arriving.unwrap_or(1) })
}

fn return_flight(tool: &Tool, flights: &[FlightRow]) -> Option<Arrival> {
    let flight = tool.returns_with.clone()?;
    let row = flights.iter().find(|row| row.code == flight);
    let row = row.filter(|row| row.state != FlightState::Cancelled);
    let day = row.and_then(|row| row.landing.or(row.launch));
    Some(Arrival { day, flight, count: tool.going_down.unwrap_or(1) })
}

/// A tool as it stands before anything that is still to come.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ToolCount {
    /// Aboard; `None` where they were never counted.
    pub aboard: Option<i64>,
    /// On the outside list, in place.
    pub outside: usize,
    /// The flight that is still to bring some.
    pub to_come: Option<FlightCode>,
}

/// These tools without what is still to come: a flight that has not launched, a slot ahead that
/// brings one in.
#[boxed]
pub async fn as_they_stand(
    db: &mut SqliteConnection,
    wanted: &[Tool],
) -> Result<HashMap<ToolCode, ToolCount>, Failure> {
    let ahead: Vec<FlightCode> = flights::in_order(db)
        .await?
        .into_iter()
        .filter(|row| row.state == FlightState::Coming)
        .map(|row| row.code)
        .collect();
    let stands = |(tool, mut ledger): (ToolCode, Ledger)| {
        ledger.return_flight.take_if(|down| ahead.contains(&down.flight));
        let to_come = ledger.arrival.take_if(|arrival| ahead.contains(&arrival.flight));
        for item in &mut ledger.items {
            item.comes_in = None;
        }
        let in_place = ledger.items.iter().filter(|item| item.state == OutsideState::InPlace);
        let stands = ToolCount {
            outside: in_place.count(),
            aboard: balance(&ledger, Day(time::Date::MAX)).map(|told| told.aboard().max(0)),
            to_come: to_come.map(|arrival| arrival.flight),
        };
        (tool, stands)
    };
    Ok(ledgers(db, wanted).await?.into_iter().map(stands).collect())
}
