//! How long something may stay outside, and between which flights that runs out.

use super::OutsideItem;
use crate::codes::FlightCode;
use crate::time::Day;

impl OutsideItem {
    /// The day on which the exposure limit ends: counted from the day it went out, or as given;
    /// the earlier of the two. `None` where there is no limit, or the day it went out is unknown.
    pub fn runs_out(&self) -> Option<Day> {
        let counted = self.since.zip(self.limit_days).map(|(since, days)| since.plus(days));
        match (counted, self.limit_until) {
            (Some(counted), Some(until)) => Some(counted.min(until)),
            (counted, until) => counted.or(until),
        }
    }

    /// Days until then; negative where it has passed.
    pub fn days_left(&self, on: Day) -> Option<i64> {
        Some(self.runs_out()?.since(on))
    }

    /// Days that it may stay outside in all.
    pub fn days_allowed(&self) -> Option<i64> {
        Some(self.runs_out()?.since(self.since?))
    }

    /// It has a limit whose end nobody can tell, as the day it went out is unknown.
    pub fn limit_is_uncertain(&self) -> bool {
        self.limit_days.is_some() && self.since.is_none()
    }
}

/// A flight that is still to come, or under way, in the order of flights.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FlightAhead {
    pub flight: FlightCode,
    pub launch: Option<Day>,
    pub landing: Option<Day>,
}

/// Where the end of a limit lies among the flights ahead.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RunsOut {
    Passed,
    Before(FlightCode),
    During(FlightCode),
    Between(FlightCode, FlightCode),
    After(FlightCode),
    /// No flight ahead has a launch date.
    Untold,
}

impl std::fmt::Display for RunsOut {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Passed => f.write_str("passed"),
            Self::Before(next) => write!(f, "before {next}"),
            Self::During(flight) => write!(f, "during {flight}"),
            Self::Between(last, next) => write!(f, "between {last} and {next}"),
            Self::After(last) => write!(f, "after {last}"),
            Self::Untold => f.write_str("with no flight dated ahead"),
        }
    }
}

/// Tells where a day lies among the flights ahead. A flight without a launch date is passed over;
/// one without a landing date is taken as its launch day alone.
pub fn runs_out_among(end: Day, today: Day, flights: &[FlightAhead]) -> RunsOut {
    if end < today {
        return RunsOut::Passed;
    }
    let mut last: Option<&FlightCode> = None;
    for (flight, launch, landing) in dated(flights) {
        if end < launch {
            return match last {
                Some(last) => RunsOut::Between(last.clone(), flight.clone()),
                None => RunsOut::Before(flight.clone()),
            };
        }
        if end <= landing {
            return RunsOut::During(flight.clone());
        }
        last = Some(flight);
    }
    last.map_or(RunsOut::Untold, |last| RunsOut::After(last.clone()))
}

/// The flight by which something must be back inside so as not to pass the end of its limit: the
/// last one that has landed by then. The next flight where none has: that is as soon as it can be.
pub fn back_inside_by(end: Day, flights: &[FlightAhead]) -> Option<FlightCode> {
    let in_time = dated(flights).filter(|(_, _, landing)| *landing <= end).last();
    in_time.or_else(|| dated(flights).next()).map(|(flight, ..)| flight.clone())
}

fn dated(flights: &[FlightAhead]) -> impl Iterator<Item = (&FlightCode, Day, Day)> {
    flights.iter().filter_map(|ahead| {
        let launch = ahead.launch?;
        Some((&ahead.flight, launch, ahead.landing.unwrap_or(launch)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cells::{Cell as _, Cells};
    use crate::records::Record as _;

    fn day(text: &str) -> Day {
        Day::read(text).unwrap()
    }

    fn item(cells: &[(&str, &str)]) -> OutsideItem {
        let named = [("code", "O-1"), ("what", "line")];
        let all: Cells = named
            .iter()
            .chain(cells)
            .map(|(name, text)| ((*name).to_owned(), (*text).to_owned()))
            .collect();
        OutsideItem::parse(&all).unwrap()
    }

    fn flights() -> Vec<FlightAhead> {
        let ahead = |flight: &str, launch: &str, landing: &str| FlightAhead {
            flight: flight.into(),
            launch: Day::read(launch).ok(),
            landing: Day::read(landing).ok(),
        };
        vec![
            ahead("G-37", "2031-03-18", "2031-04-03"),
            ahead("G-38", "2031-07-22", ""),
            ahead("G-39", "", ""),
        ]
    }

    #[test]
    fn the_earlier_end_of_two_limits_holds() {
        let days = [("since", "2028-12-17"), ("limit_days", "1095")];
        // Source: ISO 8601-1:2019, 5.2.2: 2028-12-17 is day 352 of a leap year of 366 days, so 1095
        // days later (14 to the end of 2028, 365 + 365 for 2029 and 2030, 351 more) is day 351 of
        // 2031, 17 December.
        assert_eq!(item(&days).runs_out(), Some(day("2031-12-17")));
        let both = |until| item(&[days[0], days[1], ("limit_until", until)]).runs_out();
        assert_eq!(both("2031-06-01"), Some(day("2031-06-01")));
        assert_eq!(both("2032-06-01"), Some(day("2031-12-17")));
        let short = item(&[days[0], days[1], ("limit_until", "2029-01-16")]);
        assert_eq!(short.days_allowed(), Some(30));
        let until_alone = item(&[("limit_until", "2031-06-01")]);
        assert_eq!(until_alone.days_left(day("2031-05-02")), Some(30));
        assert_eq!(until_alone.days_left(day("2031-06-03")), Some(-2));
    }

    #[test]
    fn a_limit_in_days_without_its_first_day_cannot_be_told() {
        let unknown = item(&[("limit_days", "30")]);
        assert_eq!((unknown.runs_out(), unknown.limit_is_uncertain()), (None, true));
        let none = item(&[("since", "2030-01-01")]);
        assert_eq!((none.runs_out(), none.limit_is_uncertain()), (None, false));
    }

    #[test]
    fn the_end_is_told_by_the_flights_around_it() {
        let today = day("2030-11-21");
        let told = |end: &str| runs_out_among(day(end), today, &flights()).to_string();
        assert_eq!(told("2030-11-20"), "passed");
        assert_eq!(told("2030-11-21"), "before G-37");
        assert_eq!(told("2031-03-17"), "before G-37");
        assert_eq!(told("2031-03-18"), "during G-37");
        assert_eq!(told("2031-04-03"), "during G-37");
        assert_eq!(told("2031-04-04"), "between G-37 and G-38");
        assert_eq!(told("2031-07-22"), "during G-38");
        assert_eq!(told("2031-07-23"), "after G-38");
        assert_eq!(runs_out_among(day("2031-01-01"), today, &flights()[2..]), RunsOut::Untold);
    }

    #[test]
    fn it_must_be_inside_by_the_last_flight_that_lands_in_time() {
        let by = |end: &str| back_inside_by(day(end), &flights()).map(|flight| flight.to_string());
        assert_eq!(by("2031-04-02").as_deref(), Some("G-37"), "too late: as soon as it can be");
        assert_eq!(by("2031-04-03").as_deref(), Some("G-37"));
        assert_eq!(by("2031-07-21").as_deref(), Some("G-37"));
        assert_eq!(by("2031-07-22").as_deref(), Some("G-38"));
        assert_eq!(back_inside_by(day("2031-04-02"), &flights()[2..]), None);
    }
}
