//! Excursions: the spacewalks of a flight, planned or flown.

use crate::cells::{Line, List, Prose};
use crate::codes::{ExcursionCode, ExcursionToolCode, FlightCode, Own, ToolCode, WorksiteCode};
use crate::flights::Flight;
use crate::records::record;
use crate::seats::Seats;
use crate::time::{Day, Moment};
use crate::units::{
    Degrees, Kilograms, Kilometres, Litres, Minutes, PeriodMinutes, Pet, Share, Window,
};
use crate::words::ExcursionState;

record! {
    /// One spacewalk of a flight, from airlock egress to ingress.
    Excursion is Excursion {
        code: Own<ExcursionCode> = "Code" also ["excursion"],
        flight: Option<FlightCode> = "Flight" also ["vehicle", "mission", "flight no"],
        number: Option<i64> = "Number" also ["no", "no.", "nr", "#", "eva #", "excursion #"],
        day: Option<Day> = "Date" also ["date"],
        state: Option<ExcursionState> = "State" also ["status"] hint "Left empty: flown when the date is past or a duration is given.",
        planned: Option<Minutes> = "Planned, h:mm" also ["planned minutes"],
        limit: Option<Minutes> = "Limit, h:mm" also ["limit minutes"],
        egress: Option<Minutes> = "Egress, min" also ["egress minutes"],
        ingress: Option<Minutes> = "Ingress, min" also ["ingress minutes"],
        seats: Seats = "Seats and crew codes" also ["crew"] hint "EV1 C-4, EV2 C-7. Codes, never names.",
        airlock: Option<WorksiteCode> = "Airlock",
        deferrable: bool = "Deferrable",
        flown_chance: Option<Share> = "Likely to be flown, %" also ["chance flown"],
        arm_windows: List<Window> = "Arm windows, PET" hint "2:40-4:45, 5:10-5:55",
        orbit_period: Option<PeriodMinutes> = "Orbit period, min",
        orbit_altitude: Option<Kilometres> = "Orbit altitude, km",
        beta: Option<Degrees> = "Beta angle, °",
        first_sunrise: Option<Pet> = "First sunrise, PET",
        oxygen: Option<Kilograms> = "Oxygen per suit, kg",
        scrubber: Option<Kilograms> = "Scrubber per suit, kg CO2",
        water: Option<Kilograms> = "Cooling water per suit, kg",
        battery: Option<Minutes> = "Battery per suit, h:mm",
        bag_out: Option<Litres> = "Bag volume out, l",
        bag_in: Option<Litres> = "Bag volume in, l",
        tools: List<ToolCode> = "Tools to take",
        egress_at: Option<Moment> = "Egress began, UTC" also ["egress time"],
        actual: Option<Minutes> = "Actual duration, h:mm" also ["duration", "actual minutes", "length"],
        ended_early: Option<Line> = "Ended early because",
        notes: Prose = "Notes" also ["purpose", "remarks", "description", "summary", "comments", "comment"],
    }
}

impl Excursion {
    /// Clocks differ: an excursion may be marked as flown this many days before its date.
    const CLOCK_SKEW_DAYS: i64 = 1;

    /// The first day on which it can be marked as flown.
    pub fn flown_from(&self) -> Option<Day> {
        self.day.map(|day| day.plus(-Self::CLOCK_SKEW_DAYS))
    }

    /// Why the clock of its day cannot be started now. It may be a day early or late: where it is
    /// flown another date may be written than in UTC. Who presses hears what to do instead.
    pub fn clock_refused(&self, today: Day, may_press: bool) -> Option<String> {
        let name = self.name();
        match self.state {
            Some(ExcursionState::Flown) => Some(format!(
                "{name} is flown. Its clock is not started any more; enter its times in the debrief."
            )),
            Some(ExcursionState::CalledOff) => {
                Some(format!("{name} is called off. Its clock is not started."))
            }
            Some(ExcursionState::Planned) | None => {
                let day = self.day?;
                let (from, until) =
                    (day.plus(-Self::CLOCK_SKEW_DAYS), day.plus(Self::CLOCK_SKEW_DAYS));
                let instead =
                    if may_press { " Rehearse the day instead, or change its date." } else { "" };
                (today < from || today > until).then(|| {
                    format!(
                        "{name} is dated {day}. Its clock can be started from {from} to \
                         {until}.{instead}"
                    )
                })
            }
        }
    }

    /// Why it cannot have been flown yet.
    pub fn still_ahead(&self, today: Day) -> Option<String> {
        let (day, from) = (self.day?, self.flown_from()?);
        (today < from).then(|| {
            format!("{} is dated {day}. It can be marked as flown from {from} on.", self.name())
        })
    }

    /// Why its date is none of its flight’s.
    pub fn outside_of(&self, flight: &Flight) -> Option<String> {
        let (day, code) = (self.day?, &flight.code.0);
        let name = self.name();
        if let Some(launch) = flight.launch.filter(|launch| day < *launch) {
            return Some(format!("{name} is dated {day}, before {code} launches on {launch}"));
        }
        let landing = flight.landing.filter(|landing| day > *landing)?;
        Some(format!("{name} is dated {day}, after {code} lands on {landing}"))
    }

    fn name(&self) -> &str {
        if self.code.0.is_blank() { "The excursion" } else { self.code.0.as_str() }
    }
}

record! {
    /// How many of one tool went out on one excursion, and what became of them.
    ExcursionTool is ExcursionTool {
        code: Own<ExcursionToolCode> = "Code",
        excursion: ExcursionCode = "Excursion",
        tool: ToolCode = "Tool",
        taken_out: i64 = "Out",
        brought_in: Option<i64> = "In",
        broken: Option<i64> = "Of these broken" also ["broken"],
        left_outside: Option<i64> = "Left outside",
        lost: Option<i64> = "Lost",
        not_counted: Option<Line> = "Not counted because",
    }
}

impl ExcursionTool {
    /// Out = in + left outside + lost, or the reason why nobody counted.
    pub fn adds_up(&self) -> bool {
        let back = [self.brought_in, self.left_outside, self.lost];
        self.not_counted.is_some()
            || (back.iter().any(Option::is_some)
                && back.iter().map(|n| n.unwrap_or(0)).sum::<i64>() == self.taken_out)
    }
}
