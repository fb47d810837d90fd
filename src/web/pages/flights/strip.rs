//! The flights at a glance, as the page of the flights shows them.

use app::read::Connection;

use crate::drawings::carry_line::MarkKind;
use crate::drawings::flights_strip::{self, StripExcursion, StripFlight};
use crate::drawings::markup::Drawing;
use crate::pages::carry;
use app::Failure;
use app::calendar::Calendar;
use app::read::events::{self, EndedSlot};
use app::read::excursions;
use app::read::open_items::{self, Filter};
use domain::codes::ExcursionCode;
use domain::units::Share;
use domain::words::SlotState;

pub(super) async fn draw(db: &mut Connection) -> Result<Drawing, Failure> {
    let calendar = Calendar::load(db).await?;
    let columns = carry::columns(&calendar);
    let shown: Vec<ExcursionCode> = columns
        .flights()
        .iter()
        .flat_map(|flight| &flight.excursions)
        .map(|code| code.as_str().into())
        .collect();
    let slots = events::slots_of(db, &shown).await?;
    let to_debrief = excursions::to_debrief(db).await?;
    let open_count = open_items::count(db, &Filter::default()).await?;
    let last_flown = columns.flights().iter().rposition(|flight| !flight.coming);
    let excursion = |code: &String| StripExcursion {
        code: code.clone(),
        marks: slots
            .iter()
            .filter(|ended| ended.excursion.as_str() == code)
            .filter_map(mark)
            .collect(),
        to_debrief: to_debrief.iter().any(|e| e.code.0.as_str() == code),
    };
    let flights: Vec<StripFlight> = columns
        .flights()
        .iter()
        .enumerate()
        .map(|(index, flight)| StripFlight {
            code: flight.code.clone(),
            coming: flight.coming,
            excursions: flight.excursions.iter().map(excursion).collect(),
            open_after: (Some(index) == last_flown).then_some(open_count),
        })
        .collect();
    Ok(flights_strip::draw(&flights, "flights"))
}

fn mark(ended: &EndedSlot) -> Option<MarkKind> {
    match (ended.outcome, ended.deferred, ended.state) {
        (Some(outcome), _, _) => Some(MarkKind::of(outcome, ended.left.map(Share))),
        (None, true, _) => Some(MarkKind::Deferral),
        (None, false, SlotState::Set) => Some(MarkKind::Set),
        (None, false, SlotState::Pencilled) => Some(MarkKind::Pencilled),
        (None, false, SlotState::Flown | SlotState::Withdrawn) => None,
    }
}
