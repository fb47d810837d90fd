//! The state of the campaign: each coming excursion as time to its limit, what each flight needs,
//! and the backlog per flight.

use async_recursion::async_recursion as boxed;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use sqlx::SqliteConnection;

use crate::calendar::Calendar;
use crate::fit::{self, Rooms};
use crate::{Failure, Reader};
use compute::fit::Room;
use domain::codes::{ExcursionCode, FlightCode, TaskCode};
use domain::excursions::Excursion;
use domain::history::Phase;
use domain::time::Day;
use domain::units::{Minutes, Share};
use domain::words::{ExcursionState, FlightState, SlotState};
use store::campaign::{self, Counted, Needed, OfClass};
use store::excursions::{self, Tally};
use store::flights::FlightRow;

/// Columns on either side of now, as carry lines have them.
const FLOWN: usize = 6;
const COMING: usize = 3;

/// What Today and Plan draw of the campaign.
#[derive(Debug, Clone, Default)]
pub struct Campaign {
    /// The last flown flight, and those under way and to come, in order.
    pub legs: Vec<Leg>,
    pub burn_up: Vec<Column>,
    /// Coming flights that are not drawn.
    pub more: usize,
    /// Open tasks by class.
    pub classes: Vec<OfClass>,
}

/// One flight.
#[derive(Debug, Clone)]
pub struct Leg {
    pub flight: FlightRow,
    pub bars: Vec<Bar>,
    pub needs: Needs,
}

impl Leg {
    /// Its excursions are planned for.
    pub const fn is_ahead(&self) -> bool {
        self.flight.state.is_ahead()
    }
}

/// One excursion as time to its limit.
#[derive(Debug, Clone)]
pub struct Bar {
    pub tally: Tally,
    pub limit: Option<Minutes>,
    pub ended_early: bool,
    pub flown_chance: Option<Share>,
    /// Nothing unless it is planned.
    pub room: Option<Room>,
}

/// The open tasks that a flight needs; those of the last flown flight with all that earlier flights
/// needed. Set, pencilled and without a slot in time add up to all.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Needs {
    pub set: i64,
    pub pencilled: i64,
    pub without: i64,
    /// Those that no set slot ends in time; a pencil does not count.
    pub at_risk: i64,
}

impl Needs {
    pub const fn all(&self) -> i64 {
        self.set + self.pencilled + self.without
    }
}

/// The backlog after one flight.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Nothing: before the first flight that is drawn.
    pub flight: Option<FlightCode>,
    pub opened: i64,
    pub ended: i64,
    /// Still open after it.
    pub open: i64,
    /// A coming flight: what ends if every set task is done.
    pub is_ahead: bool,
}

/// Read once for all who read the same state of the record.
#[boxed]
pub async fn seen(db: &mut Reader) -> Result<Arc<Campaign>, Failure> {
    let place = db.place("");
    let rooms = fit::rooms(db).await?;
    let campaign = place.get_or_try_init(|| async { read(db, &rooms).await.map(Arc::new) });
    campaign.await.cloned()
}

async fn read(db: &mut SqliteConnection, rooms: &Rooms) -> Result<Campaign, Failure> {
    let calendar = Calendar::load(db).await?;
    let shown = Shown::of(&calendar);
    let legs = legs(db, &calendar, &shown, rooms).await?;
    let burn_up = burn_up(db, &calendar, &shown).await?;
    Ok(Campaign { legs, burn_up, more: shown.more, classes: campaign::by_class(db).await? })
}

/// The ranks of the flights that are drawn.
struct Shown {
    flown: Vec<usize>,
    coming: Vec<usize>,
    more: usize,
}

impl Shown {
    fn of(calendar: &Calendar) -> Self {
        let ranks = |coming: bool| -> Vec<usize> {
            let flights = calendar.flights.iter().enumerate();
            flights
                .filter(|(_, flight)| flight.state != FlightState::Cancelled)
                .filter(|(_, flight)| flight.state.is_ahead() == coming)
                .map(|(rank, _)| rank)
                .collect()
        };
        let (mut flown, mut coming) = (ranks(false), ranks(true));
        flown.drain(..flown.len().saturating_sub(FLOWN));
        let more = coming.len().saturating_sub(COMING);
        coming.truncate(COMING);
        Self { flown, coming, more }
    }
}

async fn legs(
    db: &mut SqliteConnection,
    calendar: &Calendar,
    shown: &Shown,
    rooms: &Rooms,
) -> Result<Vec<Leg>, Failure> {
    let ranks: Vec<usize> =
        shown.flown.last().copied().into_iter().chain(shown.coming.iter().copied()).collect();
    let codes: Vec<FlightCode> =
        ranks.iter().map(|&rank| calendar.flights[rank].code.clone()).collect();
    let tallies = excursions::tallies_of(db, &codes).await?;
    let named: Vec<ExcursionCode> = tallies.iter().map(|tally| tally.code.clone()).collect();
    let records: HashMap<ExcursionCode, Excursion> = excursions::these(db, &named)
        .await?
        .into_iter()
        .map(|excursion| (excursion.code.0.clone(), excursion))
        .collect();
    let over = |flight: &&FlightRow| flight.state == FlightState::Flown;
    let asked: Vec<FlightCode> = calendar
        .flights
        .iter()
        .filter(over)
        .map(|flight| flight.code.clone())
        .chain(codes.iter().cloned())
        .collect();
    let needed = campaign::needed_by(db, &asked).await?;
    let last = shown.flown.last().copied();
    let mut tallies = tallies;
    tallies.retain(|tally| tally.state != ExcursionState::CalledOff);
    Ok(ranks
        .into_iter()
        .map(|rank| {
            let flight = calendar.flights[rank].clone();
            let counts = |need: &&Needed| match calendar.rank(&need.flight) {
                Some(of) if Some(rank) == last => of <= rank,
                of => of == Some(rank),
            };
            Leg {
                bars: tallies
                    .iter()
                    .filter(|tally| tally.flight.as_ref() == Some(&flight.code))
                    .map(|tally| bar(tally, records.get(&tally.code), rooms))
                    .collect(),
                needs: needs(needed.iter().filter(counts)),
                flight,
            }
        })
        .collect())
}

fn bar(tally: &Tally, record: Option<&Excursion>, rooms: &Rooms) -> Bar {
    Bar {
        limit: record.and_then(|record| record.limit),
        ended_early: record.is_some_and(|record| record.ended_early.is_some()),
        flown_chance: record.and_then(|record| record.flown_chance),
        room: rooms.get(&tally.code).copied(),
        tally: tally.clone(),
    }
}

fn needs<'n>(all: impl Iterator<Item = &'n Needed>) -> Needs {
    let mut needs = Needs::default();
    for need in all {
        needs.at_risk += if need.is_at_risk { need.count } else { 0 };
        match need.slot {
            Some(SlotState::Set) if !need.is_at_risk => needs.set += need.count,
            Some(SlotState::Pencilled) => needs.pencilled += need.count,
            Some(_) | None => needs.without += need.count,
        }
    }
    needs
}

async fn burn_up(
    db: &mut SqliteConnection,
    calendar: &Calendar,
    shown: &Shown,
) -> Result<Vec<Column>, Failure> {
    let first = shown.flown.first().copied();
    let column_of = |counted: &Counted| -> usize {
        let rank = match (&counted.flight, counted.day) {
            (Some(flight), _) => calendar.rank(flight),
            (None, Some(day)) => after_flight(calendar, day),
            (None, None) => None,
        };
        match (rank, first) {
            (Some(rank), Some(first)) if rank >= first => {
                // What is dated in the flights to come happened after the last one flown.
                shown.flown.partition_point(|&at| at <= rank)
            }
            _ => 0,
        }
    };
    let mut opened = vec![0; shown.flown.len() + 1];
    let mut ended = vec![0; shown.flown.len() + 1];
    for counted in campaign::opened(db).await? {
        opened[column_of(&counted)] += counted.count;
    }
    for counted in campaign::ended(db).await? {
        ended[column_of(&counted)] += counted.count;
    }
    let mut open = 0;
    let flights =
        std::iter::once(None).chain(shown.flown.iter().map(|&at| Some(&calendar.flights[at])));
    let mut columns: Vec<Column> = flights
        .zip(opened.into_iter().zip(ended))
        .map(|(flight, (opened, ended))| {
            open += opened - ended;
            let flight = flight.map(|flight| flight.code.clone());
            Column { flight, opened, ended, open, is_ahead: false }
        })
        .collect();
    let ahead = ending_ahead(db, calendar).await?;
    for &rank in &shown.coming {
        let ended = ahead.get(&rank).copied().unwrap_or(0);
        open -= ended;
        let flight = Some(calendar.flights[rank].code.clone());
        columns.push(Column { flight, opened: 0, ended, open, is_ahead: true });
    }
    Ok(columns)
}

/// How many tasks end on each coming flight if every set task is done: with its last set slot.
async fn ending_ahead(
    db: &mut SqliteConnection,
    calendar: &Calendar,
) -> Result<BTreeMap<usize, i64>, Failure> {
    let mut last: HashMap<TaskCode, (usize, usize)> = HashMap::new();
    for (excursion, task) in campaign::set_ahead(db).await? {
        let Some(on) = calendar.excursions.get(&excursion) else { continue };
        let Some(flight) = on.flight else { continue };
        let at = last.entry(task).or_default();
        *at = (*at).max((flight, on.rank));
    }
    let mut ending = BTreeMap::new();
    for (flight, _) in last.into_values() {
        *ending.entry(flight).or_insert(0) += 1;
    }
    Ok(ending)
}

/// The flight during or after which a day lies.
fn after_flight(calendar: &Calendar, day: Day) -> Option<usize> {
    let when = calendar.on_day(Some(day), None, 0);
    let rank = usize::try_from(when.flight?).ok()?;
    if when.phase == Phase::BeforeLaunch { rank.checked_sub(1) } else { Some(rank) }
}
