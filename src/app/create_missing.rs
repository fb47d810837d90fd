//! Makes what a row of a file names and the record lacks: flights, excursions, worksites,
//! families and positions, with nothing in them but their code. Each is counted.

use crate::Failure;
use crate::records::code_refused;
use crate::work::Work;
use async_recursion::async_recursion as boxed;
use domain::cells::{Cells, Input};
use domain::codes::{PositionCode, WorksiteCode};
use domain::excursions::Excursion;
use domain::families::Family;
use domain::flights::Flight;
use domain::kinds::Kind;
use domain::records::Record;
use domain::words::{ExcursionState, FlightState};
use domain::worksites::{Position, Worksite};
use store::{Kept, flights, register};

/// The flight of an excursion that names none.
pub(crate) const FLIGHT_UNKNOWN: &str = "flight unknown";

/// Whether a record of this kind is made where a row of a table names it.
pub(crate) const fn is_made(kind: Kind) -> bool {
    matches!(kind, Kind::Flight | Kind::Worksite | Kind::Family | Kind::Position | Kind::Excursion)
}

/// Makes what this record names and the register lacks.
pub(crate) async fn missing<R: Record>(work: &mut Work, record: &R) -> Result<(), Failure> {
    let cells = record.cells();
    for column in R::COLUMNS {
        let Input::Code(kind) = column.input else { continue };
        let code = cells.get(column.name);
        if code.is_empty() || register::find(work.db(), kind, code).await?.is_some() {
            continue;
        }
        match kind {
            Kind::Flight => flight(work, code, FlightState::Flown).await?,
            Kind::Worksite => worksite(work, code).await?,
            Kind::Family => create(work, &with_code::<Family>(code)?).await?,
            Kind::Position => position(work, code, cells.get("worksite")).await?,
            Kind::Excursion => excursion(work, code, R::KIND).await?,
            _ => {}
        }
    }
    Ok(())
}

/// A flight known by its code alone.
#[boxed]
pub(crate) async fn flight(work: &mut Work, code: &str, state: FlightState) -> Result<(), Failure> {
    let mut flight = with_code::<Flight>(code)?;
    flight.state = state;
    create(work, &flight).await?;
    flights::save_order_day(work.db(), &flight.code.0).await?;
    Ok(())
}

/// A worksite known by its code alone.
#[boxed]
pub(crate) async fn worksite(work: &mut Work, code: &str) -> Result<(), Failure> {
    create(work, &with_code::<Worksite>(code)?).await
}

/// A position at a worksite, or at an unknown one.
#[boxed]
pub(crate) async fn position(work: &mut Work, code: &str, worksite: &str) -> Result<(), Failure> {
    let mut position = with_code::<Position>(code)?;
    position.worksite = (!worksite.is_empty()).then(|| worksite.into());
    create(work, &position).await
}

/// The position of a worksite whose name another worksite has already: the worksite stands in front of
/// it.
#[boxed]
pub(crate) async fn position_at(
    work: &mut Work,
    code: &PositionCode,
    worksite: &WorksiteCode,
) -> Result<PositionCode, Failure> {
    if register::find(work.db(), Kind::Worksite, worksite.as_str()).await?.is_none() {
        self::worksite(work, worksite.as_str()).await?;
    }
    let joined = PositionCode::from(format!("{worksite} {code}"));
    if register::find(work.db(), Kind::Position, joined.as_str()).await?.is_none() {
        position(work, joined.as_str(), worksite.as_str()).await?;
    }
    Ok(joined)
}

/// An excursion that a row names: planned where the row plans, flown where it tells.
async fn excursion(work: &mut Work, code: &str, named_by: Kind) -> Result<(), Failure> {
    let mut excursion = with_code::<Excursion>(code)?;
    let flown = named_by != Kind::Slot;
    excursion.state = Some(if flown { ExcursionState::Flown } else { ExcursionState::Planned });
    let guess = code.strip_prefix("E-").and_then(|rest| rest.split_once('.'));
    let named = guess.map(|(flight, _)| format!("G-{flight}"));
    let flight = match named {
        Some(flight) if register::find(work.db(), Kind::Flight, &flight).await?.is_some() => flight,
        _ => FLIGHT_UNKNOWN.to_owned(),
    };
    excursion.number = guess.and_then(|(_, number)| number.parse().ok());
    if register::find(work.db(), Kind::Flight, &flight).await?.is_none() {
        self::flight(work, &flight, FlightState::Flown).await?;
    }
    excursion.flight = Some(flight.as_str().into());
    create(work, &excursion).await
}

/// A record with nothing but its code.
fn with_code<R: Record>(code: &str) -> Result<R, Failure> {
    let mut cells = Cells::default();
    cells.set("code", code);
    R::parse(&cells).map_err(Failure::Invalid)
}

async fn create<R: Kept>(work: &mut Work, record: &R) -> Result<(), Failure> {
    if let Some(why) = code_refused(work.db(), R::KIND, record.code(), None).await? {
        return Err(Failure::Refused(why));
    }
    record.save(work.db()).await?;
    let (who, now) = (work.actor.name.clone(), work.now);
    register::enter(work.db(), R::KIND, record.code(), &who, now).await?;
    let after = serde_json::json!({ "code": record.code() }).to_string();
    work.log(R::KIND, record.code(), "made because it was named", None, Some(after)).await?;
    *work.created.entry(R::KIND).or_default() += 1;
    Ok(())
}
