//! When something happened, as far as it is known, and a total order over it.

use crate::time::{Day, Moment};
use crate::units::Pet;

/// The part of a flight, or of one of its excursions.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Phase {
    BeforeLaunch,
    BeforeEgress,
    During,
    After,
}

/// The known place of an event. Before launch the excursion does not matter. Without an excursion it is
/// in flight before the first one, and in the phase `After` it is after the landing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct When {
    /// The rank of the flight in the order of flights; `None` where nobody knows.
    pub flight: Option<i64>,
    /// The rank inside the flight.
    pub excursion: Option<i64>,
    pub phase: Phase,
    pub pet: Option<Pet>,
    /// Orders what happened outside an excursion.
    pub day: Option<Day>,
    /// When it was written down: orders one day, where it was written on that very day.
    pub moment: Option<Moment>,
    /// Grows with every record entered; decides where nothing else does.
    pub entry: i64,
}

/// The days of one flight, for placing what carries only a date.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FlightDays {
    pub rank: i64,
    pub launch: Option<Day>,
    pub landing: Option<Day>,
    /// Rank inside the flight, and day.
    pub excursions: Vec<(i64, Day)>,
}

impl When {
    pub const fn undated(entry: i64) -> Self {
        Self { flight: None, ..Self::on(0, None, Phase::After, entry) }
    }

    pub const fn on(flight: i64, excursion: Option<i64>, phase: Phase, entry: i64) -> Self {
        Self { flight: Some(flight), excursion, phase, pet: None, day: None, moment: None, entry }
    }

    #[must_use]
    pub const fn written_at(self, moment: Moment) -> Self {
        Self { moment: Some(moment), ..self }
    }

    pub const fn is_placed(&self) -> bool {
        self.flight.is_some()
    }

    /// Places what carries only a date. Between two flights it stands before the launch of the
    /// later one; on the day of an excursion, after that excursion.
    pub fn on_day(day: Day, flights: &[FlightDays], entry: i64) -> Self {
        let mut flights: Vec<&FlightDays> = flights.iter().collect();
        flights.sort_by_key(|flight| flight.rank);
        let begun = flights.iter().rposition(|f| f.begins().is_some_and(|first| first <= day));
        let (flight, excursion, phase) = match begun {
            None => (flights.first().map_or(i64::MIN, |f| f.rank), None, Phase::BeforeLaunch),
            Some(index) => {
                let flight = flights[index];
                let over = flight.landing.is_some_and(|landing| landing < day);
                let before = flight.excursions.iter().filter(|(_, on)| *on <= day);
                match (over, flights.get(index + 1), before.map(|(rank, _)| *rank).max()) {
                    (true, Some(next), _) => (next.rank, None, Phase::BeforeLaunch),
                    (true, None, _) => (flight.rank, None, Phase::After),
                    (false, _, None) => (flight.rank, None, Phase::BeforeEgress),
                    (false, _, last) => (flight.rank, last, Phase::After),
                }
            }
        };
        Self { day: Some(day), ..Self::on(flight, excursion, phase, entry) }
    }

    fn spot(&self) -> Option<Spot> {
        let flight = self.flight?;
        let (part, excursion) = match (self.phase, self.excursion) {
            (Phase::BeforeLaunch, _) => (Part::BeforeLaunch, 0),
            (_, Some(rank)) => (Part::Excursions, rank),
            (Phase::After, None) => (Part::AfterLanding, 0),
            (_, None) => (Part::BeforeAll, 0),
        };
        // An attempt or a deferral on an excursion is ordered by PET; a date would say nothing.
        let day = if self.phase == Phase::During { None } else { self.day };
        Some(Spot {
            flight,
            part,
            excursion,
            phase: self.phase,
            pet: Last(self.pet),
            day: Last(day),
            // What was entered later, for that day, is not known to be after the rest of it.
            moment: self.moment.filter(|moment| Some(moment.day()) == day),
        })
    }
}

impl FlightDays {
    fn begins(&self) -> Option<Day> {
        self.launch.or_else(|| self.excursions.iter().map(|(_, day)| *day).min())
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Part {
    BeforeLaunch,
    BeforeAll,
    Excursions,
    AfterLanding,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Spot {
    flight: i64,
    part: Part,
    excursion: i64,
    phase: Phase,
    pet: Last<Pet>,
    day: Last<Day>,
    moment: Option<Moment>,
}

/// A value whose unknown comes after all that is known: what was never begun has no PET.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Last<T>(Option<T>);

impl<T: Ord> Ord for Last<T> {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        (self.0.is_none(), &self.0).cmp(&(other.0.is_none(), &other.0))
    }
}

impl<T: Ord> PartialOrd for Last<T> {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

/// Where an event stands among those it was placed with; compares as they happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    spot: Option<Spot>,
    entry: i64,
}

impl Place {
    /// Before everything that has a place.
    pub(super) const fn first(entry: i64) -> Self {
        Self { spot: None, entry }
    }

    /// Whether it happened before that flight landed (as far as anybody knows).
    pub(crate) fn is_by_landing_of(&self, flight: i64) -> bool {
        self.spot.is_none_or(|spot| {
            spot.flight < flight || (spot.flight == flight && spot.part != Part::AfterLanding)
        })
    }
}

/// Gives every event its place. One whose flight nobody knows takes the place of the event that was
/// entered last before it and has one: it was written down with that in view. With no such
/// event it comes first. Each place is one key, so the order is total and does not depend on
/// the order of the slice. `anchors` says which events may lend their place.
pub fn places(whens: &[&When], anchors: impl Fn(usize) -> bool) -> Vec<Place> {
    let mut lent: Vec<(i64, Spot)> = whens
        .iter()
        .enumerate()
        .filter(|(index, _)| anchors(*index))
        .filter_map(|(_, when)| Some((when.entry, when.spot()?)))
        .collect();
    lent.sort_unstable();
    let before = |entry: i64| {
        let index = lent.partition_point(|(at, _)| *at < entry);
        index.checked_sub(1).map(|last| lent[last].1)
    };
    whens
        .iter()
        .map(|when| Place { spot: when.spot().or_else(|| before(when.entry)), entry: when.entry })
        .collect()
}
