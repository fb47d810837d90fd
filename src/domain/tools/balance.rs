//! How many of one tool are aboard on some day: what was counted, what arrived since, and what was
//! lost, broken or put outside since. The only place in which that sum is made.

use std::collections::BTreeMap;

use crate::codes::{ExcursionCode, FlightCode, OutsideCode, WorksiteCode};
use crate::time::Day;
use crate::words::{OutsideState, ToolState};

/// Everything that bears on the count of one tool.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Ledger {
    /// How many were aboard when they were counted, and when that was.
    pub counted: Option<i64>,
    pub counted_on: Option<Day>,
    /// What the entry says of all of them.
    pub state: Option<ToolState>,
    pub arrival: Option<Arrival>,
    pub return_flight: Option<Arrival>,
    pub outings: Vec<Outing>,
    pub items: Vec<OutsideTool>,
}

/// A flight that brings some, or takes some down.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Arrival {
    pub flight: FlightCode,
    /// The launch of one that brings them, the landing of one that takes them down; `None` where nobody knows it, or the flight was cancelled.
    pub day: Option<Day>,
    pub count: i64,
}

/// What one flown excursion did to the count.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outing {
    pub excursion: ExcursionCode,
    pub day: Option<Day>,
    pub lost: i64,
    /// Came in, and broken.
    pub broken: i64,
    pub left: i64,
    /// Nobody counted what came back.
    pub uncounted: bool,
}

/// One of these tools on the outside list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutsideTool {
    pub item: OutsideCode,
    pub worksite: Option<WorksiteCode>,
    /// The excursion that left it there.
    pub left_on: Option<ExcursionCode>,
    pub since: Option<Day>,
    pub state: OutsideState,
    pub ended_on: Option<Day>,
    /// A set slot ahead brings it in on this day.
    pub comes_in: Option<Day>,
}

/// Days after the first and up to the second.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Window {
    pub after: Option<Day>,
    pub until: Day,
}

impl Window {
    /// A day that is not known is taken as being in it: what happened and was not dated is not
    /// left out of the sum.
    fn holds(self, day: Option<Day>) -> bool {
        day.is_none_or(|day| self.after.is_none_or(|after| day > after) && day <= self.until)
    }

    /// The same, for what has to have a day.
    fn holds_dated(self, day: Option<Day>) -> bool {
        day.is_some() && self.holds(day)
    }
}

/// The sum, each part since the count.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Balance {
    pub counted: i64,
    pub arrived: i64,
    pub lost: i64,
    pub broken: i64,
    /// Taken down.
    pub returned: i64,
    /// Put outside, less what came in again.
    pub outside: i64,
    /// The entry says that all of them are broken or lost.
    pub unusable: bool,
}

/// What happened to the count, part by part.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Change {
    pub arrived: i64,
    pub lost: i64,
    pub broken: i64,
    pub returned: i64,
    pub outside: i64,
}

impl Balance {
    /// In + arrived − lost − broken − returned − outside. Below nought where the counts contradict each other.
    pub const fn aboard(&self) -> i64 {
        self.counted + self.arrived - self.lost - self.broken - self.returned - self.outside
    }

    /// Those aboard that can be used.
    pub fn usable(&self) -> i64 {
        if self.unusable { 0 } else { self.aboard().max(0) }
    }
}

/// The balance on a day; `None` where they were never counted and none has arrived by then.
pub fn balance(ledger: &Ledger, until: Day) -> Option<Balance> {
    let window = Window { after: ledger.counted_on, until };
    let change = change(ledger, window);
    if ledger.counted.is_none() && change.arrived == 0 {
        return None;
    }
    Some(Balance {
        counted: ledger.counted.unwrap_or(0),
        arrived: change.arrived,
        lost: change.lost,
        broken: change.broken,
        returned: change.returned,
        outside: change.outside,
        unusable: matches!(ledger.state, Some(ToolState::Broken | ToolState::Lost)),
    })
}

fn change(ledger: &Ledger, window: Window) -> Change {
    let mut change = Change::default();
    if let Some(arrival) = &ledger.arrival
        && window.holds_dated(arrival.day)
    {
        change.arrived = arrival.count;
    }
    if let Some(flight) = &ledger.return_flight
        && window.holds_dated(flight.day)
    {
        change.returned = flight.count;
    }
    // The outside list and the count of one excursion speak of the same things: the larger holds.
    let mut left: BTreeMap<&ExcursionCode, (i64, i64)> = BTreeMap::new();
    for outing in ledger.outings.iter().filter(|outing| window.holds(outing.day)) {
        change.lost += outing.lost;
        change.broken += outing.broken;
        left.entry(&outing.excursion).or_default().0 += outing.left;
    }
    for item in &ledger.items {
        if window.holds(item.since) {
            match &item.left_on {
                Some(excursion) => left.entry(excursion).or_default().1 += 1,
                None => change.outside += 1,
            }
        }
        let gone = match item.state {
            OutsideState::InPlace => window.holds_dated(item.comes_in),
            OutsideState::BroughtIn | OutsideState::Lost => window.holds(item.ended_on),
        };
        if gone {
            change.outside -= 1;
            change.lost += i64::from(item.state == OutsideState::Lost);
        }
    }
    change.outside += left.values().map(|(counted, listed)| counted.max(listed)).sum::<i64>();
    change
}

impl Ledger {
    /// Flown excursions since the count after which nobody counted what came back.
    pub fn uncounted(&self, until: Day) -> Vec<&ExcursionCode> {
        let window = Window { after: self.counted_on, until };
        let uncounted = self.outings.iter().filter(|o| o.uncounted && window.holds(o.day));
        uncounted.map(|outing| &outing.excursion).collect()
    }

    /// How many each excursion left outside that no item of the outside list stands for.
    pub fn unlisted(&self) -> Vec<(&ExcursionCode, i64)> {
        let listed = |excursion: &ExcursionCode| {
            let here = |item: &&OutsideTool| item.left_on.as_ref() == Some(excursion);
            i64::try_from(self.items.iter().filter(here).count()).unwrap_or(i64::MAX)
        };
        let left = self.outings.iter().map(|o| (&o.excursion, o.left - listed(&o.excursion)));
        left.filter(|(_, count)| *count > 0).collect()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::cells::Cell as _;

    fn day(text: &str) -> Day {
        Day::read(text).unwrap()
    }

    fn outing(excursion: &str, on: &str, [lost, broken, left]: [i64; 3]) -> Outing {
        let excursion = excursion.into();
        Outing { excursion, day: Day::read(on).ok(), lost, broken, left, uncounted: false }
    }

    fn item(code: &str, since: &str, left_on: Option<&str>) -> OutsideTool {
        OutsideTool {
            item: code.into(),
            worksite: None,
            left_on: left_on.map(ExcursionCode::from),
            since: Day::read(since).ok(),
            state: OutsideState::InPlace,
            ended_on: None,
            comes_in: None,
        }
    }

    /// Four counted on 1 October 2030, two more with a flight in March.
    fn ledger() -> Ledger {
        let arrival = Arrival { flight: "G-37".into(), day: Some(day("2031-03-18")), count: 2 };
        Ledger {
            counted: Some(4),
            counted_on: Some(day("2030-10-01")),
            state: Some(ToolState::Usable),
            arrival: Some(arrival),
            ..Ledger::default()
        }
    }

    fn aboard(ledger: &Ledger, on: &str) -> i64 {
        balance(ledger, day(on)).unwrap().aboard()
    }

    #[test]
    fn what_happened_since_the_count_is_taken_off_and_what_arrives_is_added() {
        let mut ledger = ledger();
        ledger.outings = vec![
            outing("E-35.1", "2030-02-08", [3, 0, 0]),
            outing("E-36.1", "2030-11-03", [1, 0, 0]),
            outing("E-36.2", "2030-11-07", [0, 1, 1]),
        ];
        // By hand: 4 − 1 lost on 3 November; − 1 broken − 1 left on the 7th; + 2 in March.
        assert_eq!(aboard(&ledger, "2030-10-02"), 4);
        assert_eq!(aboard(&ledger, "2030-11-03"), 3);
        assert_eq!(aboard(&ledger, "2030-11-21"), 1);
        assert_eq!(aboard(&ledger, "2031-03-18"), 3);
        let whole = balance(&ledger, day("2031-03-18")).unwrap();
        assert_eq!((whole.arrived, whole.lost, whole.broken, whole.outside), (2, 1, 1, 1));
        assert_eq!(ledger.unlisted(), [(&"E-36.2".into(), 1)]);
    }

    #[test]
    fn what_a_flight_takes_down_is_gone_from_its_landing_on() {
        let mut ledger = ledger();
        let landing = Some(day("2031-04-03"));
        ledger.return_flight = Some(Arrival { flight: "G-37".into(), day: landing, count: 1 });
        // By hand: 4, 2 more in March, 1 taken down in April.
        assert_eq!(aboard(&ledger, "2031-04-02"), 6);
        assert_eq!(aboard(&ledger, "2031-04-03"), 5);
        assert_eq!(balance(&ledger, day("2031-04-03")).unwrap().returned, 1);
        // A count after the landing has seen it go; a flight without a date takes nothing yet.
        ledger.counted_on = Some(day("2031-04-04"));
        assert_eq!(aboard(&ledger, "2031-05-01"), 4);
        ledger.counted_on = None;
        ledger.return_flight.as_mut().unwrap().day = None;
        assert_eq!(aboard(&ledger, "2031-05-01"), 6);
    }

    #[test]
    fn an_item_and_a_count_of_the_same_excursion_are_one_thing() {
        let mut ledger = ledger();
        ledger.outings = vec![outing("E-36.2", "2030-11-07", [0, 0, 1])];
        ledger.items = vec![item("O-1", "2030-11-07", Some("E-36.2"))];
        assert_eq!(aboard(&ledger, "2030-11-21"), 3);
        assert!(ledger.unlisted().is_empty());
        ledger.items.push(item("O-2", "2030-11-07", Some("E-36.2")));
        assert_eq!(aboard(&ledger, "2030-11-21"), 2, "the list knows of one more");
        ledger.items.push(item("O-3", "2030-11-09", None));
        assert_eq!(aboard(&ledger, "2030-11-21"), 1);
    }

    #[test]
    fn what_was_outside_at_the_count_adds_to_it_when_it_comes_in() {
        let mut ledger = ledger();
        ledger.items = vec![item("O-1", "2028-12-13", None)];
        assert_eq!(aboard(&ledger, "2030-11-21"), 4, "it was not aboard when they were counted");
        ledger.items[0].comes_in = Some(day("2031-03-21"));
        assert_eq!(aboard(&ledger, "2031-03-20"), 6);
        assert_eq!(aboard(&ledger, "2031-03-21"), 7, "a set slot brings it in");
        ledger.items[0].state = OutsideState::Lost;
        ledger.items[0].ended_on = Some(day("2030-11-01"));
        assert_eq!(aboard(&ledger, "2030-11-21"), 4, "lost outside: nothing changes aboard");
        assert_eq!(balance(&ledger, day("2030-11-21")).unwrap().lost, 1);
    }

    #[test]
    fn none_is_usable_where_all_are_broken_and_nothing_is_told_where_none_was_counted() {
        let mut broken = ledger();
        broken.state = Some(ToolState::Broken);
        let told = balance(&broken, day("2030-11-21")).unwrap();
        assert_eq!((told.aboard(), told.usable()), (4, 0));
        let never = Ledger { counted: None, counted_on: None, ..ledger() };
        assert_eq!(balance(&never, day("2030-11-21")), None);
        assert_eq!(aboard(&never, "2031-03-18"), 2);
        let mut wrong = ledger();
        wrong.outings = vec![outing("E-36.1", "2030-11-03", [9, 0, 0])];
        let told = balance(&wrong, day("2030-11-21")).unwrap();
        assert_eq!((told.aboard(), told.usable()), (-5, 0));
    }

    fn days() -> impl Strategy<Value = Option<Day>> {
        proptest::option::of((0_i64..800).prop_map(|after| day("2030-01-01").plus(after)))
    }

    fn outings() -> impl Strategy<Value = Vec<Outing>> {
        let one = (0_u8..9, days(), 0_i64..4, 0_i64..4, 0_i64..4, any::<bool>());
        let one = one.prop_map(|(code, day, lost, broken, left, uncounted)| Outing {
            excursion: format!("E-{code}").into(),
            day,
            lost,
            broken,
            left,
            uncounted,
        });
        proptest::collection::vec(one, 0..8)
    }

    fn items() -> impl Strategy<Value = Vec<OutsideTool>> {
        let one = (0_u8..9, days(), 0_usize..3, days(), proptest::option::of(0_u8..9));
        let one = one.prop_map(|(code, since, state, ended_on, left_on)| OutsideTool {
            item: format!("O-{code}").into(),
            worksite: None,
            left_on: left_on.map(|n| ExcursionCode::from(format!("E-{n}"))),
            since,
            state: OutsideState::ALL[state],
            ended_on,
            comes_in: None,
        });
        proptest::collection::vec(one, 0..6)
    }

    proptest! {
        #[test]
        fn nothing_appears_or_vanishes(outings in outings(), items in items(), on in 0_i64..800) {
            let on = day("2030-01-01").plus(on);
            let ledger = Ledger { outings, items, ..ledger() };
            let told = balance(&ledger, on).unwrap();
            let elsewhere = told.lost + told.broken + told.outside;
            prop_assert_eq!(told.aboard() + elsewhere, told.counted + told.arrived);
        }

        #[test]
        fn the_order_of_entry_does_not_matter(outings in outings(), items in items()) {
            let there = Ledger { outings: outings.clone(), items: items.clone(), ..ledger() };
            let back = Ledger {
                outings: outings.into_iter().rev().collect(),
                items: items.into_iter().rev().collect(),
                ..ledger()
            };
            let on = day("2031-06-01");
            prop_assert_eq!(balance(&there, on), balance(&back, on));
        }

        #[test]
        fn one_more_lost_is_one_less_aboard_from_that_day_on(
            outings in outings(), items in items(), lost in 1_i64..4, on in 274_i64..800,
        ) {
            let on = day("2030-01-01").plus(on);
            let before = Ledger { outings, items, ..ledger() };
            let mut after = before.clone();
            after.outings.push(Outing {
                excursion: "E-99".into(), day: Some(on), lost, broken: 0, left: 0, uncounted: false,
            });
            let aboard = |ledger: &Ledger, on| balance(ledger, on).unwrap().aboard();
            prop_assert_eq!(aboard(&after, on), aboard(&before, on) - lost);
            let day_before = on.plus(-1);
            prop_assert_eq!(aboard(&after, day_before), aboard(&before, day_before));
        }

        #[test]
        fn out_and_in_again_leaves_the_count_as_it_was(outings in outings(), on in 274_i64..790) {
            let went = day("2030-01-01").plus(on);
            let before = Ledger { outings, ..ledger() };
            let mut after = before.clone();
            after.items = vec![OutsideTool {
                state: OutsideState::BroughtIn,
                ended_on: Some(went.plus(5)),
                since: Some(went),
                ..item("O-1", "", None)
            }];
            let aboard = |ledger: &Ledger, on| balance(ledger, on).unwrap().aboard();
            prop_assert_eq!(aboard(&after, went.plus(5)), aboard(&before, went.plus(5)));
            prop_assert_eq!(aboard(&after, went.plus(4)), aboard(&before, went.plus(4)) - 1);
        }
    }
}
