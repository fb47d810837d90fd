//! The flights that a carry line runs over: six flown columns, the gutter with *now* in its
//! middle, three coming ones; what stands earlier is folded to the left.

use std::collections::HashMap;
use std::fmt::Write as _;

use super::markup::{Drawing, path, short, text};

/// Columns on either side of now.
pub const FLOWN: usize = 6;
pub const COMING: usize = 3;

/// One flight with the codes of its excursions in order; of a flight that is not shown they may be
/// missing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Flight {
    pub code: String,
    pub excursions: Vec<String>,
    pub coming: bool,
}

/// A place in the columns that are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Spot {
    /// Counted from the first column shown.
    pub column: usize,
    pub place: Place,
}

/// A place within a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Place {
    /// The excursion of that number, from 0.
    Excursion(usize),
    /// Behind the last excursion of the flight.
    After,
}

/// Where something happened, as far as the columns show it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Where {
    Earlier,
    At(Spot),
    Later,
}

/// The columns of a page. All rows of the page share them.
#[derive(Debug, Clone, Default)]
pub struct Columns {
    flights: Vec<Flight>,
    flown: usize,
    /// Those of the flights shown.
    excursions: HashMap<String, Spot>,
    by_flight: HashMap<String, Where>,
}

impl Columns {
    /// Takes all flights in their order and shows the last six flown and the next three coming.
    pub fn of(all: Vec<Flight>) -> Self {
        let (coming, flown): (Vec<Flight>, Vec<Flight>) =
            all.into_iter().partition(|flight| flight.coming);
        let folded = flown.len().saturating_sub(FLOWN);
        let shown = flown.len() - folded;
        let mut columns = Self { flown: shown, ..Self::default() };
        for (index, flight) in flown.into_iter().enumerate() {
            columns.take(flight, index.checked_sub(folded), Where::Earlier);
        }
        for (index, flight) in coming.into_iter().enumerate() {
            columns.take(flight, (index < COMING).then_some(shown + index), Where::Later);
        }
        columns
    }

    fn take(&mut self, flight: Flight, column: Option<usize>, beyond: Where) {
        let Some(column) = column else {
            self.by_flight.insert(flight.code, beyond);
            return;
        };
        for (number, code) in flight.excursions.iter().enumerate() {
            self.excursions.insert(code.clone(), Spot { column, place: Place::Excursion(number) });
        }
        let after = Where::At(Spot { column, place: Place::After });
        self.by_flight.insert(flight.code.clone(), after);
        self.flights.push(flight);
    }

    /// Where an excursion of that flight stands; nothing where no flight has it.
    pub fn excursion(&self, code: &str, flight: &str) -> Option<Where> {
        let shown = self.excursions.get(code).map(|spot| Where::At(*spot));
        shown.or_else(|| self.after(flight))
    }

    /// Behind a flight: where tasks are opened, dropped and parked.
    pub fn after(&self, flight: &str) -> Option<Where> {
        self.by_flight.get(flight).copied()
    }

    /// The last flown flight shown, for what happens between flights.
    pub fn before_now(&self) -> Where {
        self.flown
            .checked_sub(1)
            .map_or(Where::Earlier, |column| Where::At(Spot { column, place: Place::After }))
    }

    pub fn flights(&self) -> &[Flight] {
        &self.flights
    }

    /// Whether a column lies ahead of now.
    pub fn is_ahead(&self, spot: Spot) -> bool {
        spot.column >= self.flown
    }

    /// `G-31`, the first flight shown.
    pub fn first(&self) -> Option<&str> {
        self.flights.first().map(|flight| flight.code.as_str())
    }

    /// `after G-33`, `at E-34.1`.
    pub(super) fn told(&self, spot: Spot) -> String {
        let Some(flight) = self.flights.get(spot.column) else { return String::new() };
        match spot.place {
            Place::After => format!("after {}", flight.code),
            Place::Excursion(number) => {
                let code = flight.excursions.get(number).unwrap_or(&flight.code);
                format!("at {code}")
            }
        }
    }

    /// The shared `#cols` and `#flab` of a page: one of each, used by every row and clipped by
    /// its cell, so that the rules run unbroken down a table.
    pub fn defs(&self) -> Drawing {
        let grid = Grid::SMALL;
        let mut out = String::from(
            "<svg class=\"marks\" aria-hidden=\"true\" focusable=\"false\"><defs><g id=\"cols\">",
        );
        path(&mut out, "future", &format!("M276 -40H{}V400H276z", short(grid.end())));
        let rules = grid.edges().fold(String::new(), |mut d, x| {
            let _ = write!(d, "M{} -40V400", short(x));
            d
        });
        path(&mut out, "col", &rules);
        path(&mut out, "now", &format!("M{0} -40V400", short(grid.now())));
        out.push_str("</g><g id=\"flab\">");
        for (index, flight) in self.flights.iter().enumerate() {
            text(&mut out, "tc t13 mid t2", grid.middle(self, index), 0.0, &flight.code);
        }
        out.push_str("</g></defs></svg>");
        Drawing::new(out)
    }

    /// The head of the carry column of a table: flown and coming, codes, a tick an excursion.
    pub fn head(&self) -> Drawing {
        let grid = Grid::SMALL;
        let mut out = String::from("<svg viewBox=\"0 0 408 40\" aria-hidden=\"true\">");
        path(&mut out, "future", "M276 0H408V40H276z");
        path(&mut out, "now", "M270 0V40");
        text(&mut out, "t11 t2", 0.0, 11.0, "flown");
        text(&mut out, "t11 t2", 280.0, 11.0, "coming");
        for (column, flight) in self.flights.iter().enumerate() {
            text(&mut out, "tc t13 mid", grid.middle(self, column), 27.0, &flight.code);
            path(&mut out, "exc", &grid.ticks(self, column, &[33.0]));
        }
        out.push_str("</svg>");
        Drawing::new(out)
    }
}

/// The measures of a carry line: one set for rows, one for the large drawing.
#[derive(Debug, Clone, Copy)]
pub(super) struct Grid {
    pub left: f64,
    pub column: f64,
    pub gutter: f64,
    /// Scale of the marks.
    pub unit: f64,
}

impl Grid {
    pub const SMALL: Self = Self { left: 0.0, column: 44.0, gutter: 12.0, unit: 1.0 };
    pub const LARGE: Self = Self { left: 176.0, column: 106.0, gutter: 34.0, unit: 2.0 };

    /// The left edge of the column with that place among the nine.
    fn edge(self, place: usize) -> f64 {
        let gutter = if place >= FLOWN { self.gutter } else { 0.0 };
        self.left + number(place) * self.column + gutter
    }

    /// Fewer flown flights than columns stand next to now, not at the far left.
    fn place(columns: &Columns, column: usize) -> usize {
        column + FLOWN - columns.flown
    }

    pub fn now(self) -> f64 {
        self.left + number(FLOWN) * self.column + self.gutter / 2.0
    }

    pub fn end(self) -> f64 {
        self.edge(FLOWN + COMING)
    }

    pub fn right(self, columns: &Columns, column: usize) -> f64 {
        self.edge(Self::place(columns, column)) + self.column
    }

    pub fn middle(self, columns: &Columns, column: usize) -> f64 {
        self.right(columns, column) - self.column / 2.0
    }

    /// Rules between columns; none beside the gutter and at the ends.
    pub fn edges(self) -> impl Iterator<Item = f64> {
        (1..FLOWN).chain(FLOWN + 1..FLOWN + COMING).map(move |place| self.edge(place))
    }

    pub fn x(self, columns: &Columns, spot: Spot) -> f64 {
        let right = self.right(columns, spot.column);
        match spot.place {
            Place::After => right - 4.0,
            Place::Excursion(number_of) => {
                let count =
                    columns.flights.get(spot.column).map_or(1, |f| f.excursions.len().max(1));
                right - self.column + (number(number_of) + 0.5) * self.column / number(count)
            }
        }
    }

    /// A tick four high for every excursion of a column, at each of the heights.
    pub fn ticks(self, columns: &Columns, column: usize, heights: &[f64]) -> String {
        let count = columns.flights.get(column).map_or(0, |flight| flight.excursions.len());
        (0..count).fold(String::new(), |mut d, index| {
            let x = self.x(columns, Spot { column, place: Place::Excursion(index) });
            for y in heights {
                let _ = write!(d, "M{} {}v4", short(x), short(*y));
            }
            d
        })
    }
}

/// A small count as a coordinate.
pub(super) fn number(count: usize) -> f64 {
    u32::try_from(count).map_or(f64::from(u32::MAX), f64::from)
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// Nine flights with 2, 3, 2, 3, 4, 3 flown excursions and 3, 2, 3 to come.
    pub fn skerry() -> Columns {
        Columns::of(
            [2, 3, 2, 3, 4, 3, 3, 2, 3]
                .into_iter()
                .enumerate()
                .map(|(index, count)| flight(31 + index, count, index >= 6))
                .collect(),
        )
    }

    fn flight(number: usize, count: usize, coming: bool) -> Flight {
        let excursions = (1..=count).map(|e| format!("E-{number}.{e}")).collect();
        Flight { code: format!("G-{number}"), excursions, coming }
    }

    fn x(columns: &Columns, excursion: &str) -> f64 {
        match columns.excursion(excursion, "") {
            Some(Where::At(spot)) => Grid::SMALL.x(columns, spot),
            other => panic!("{excursion} is {other:?}"),
        }
    }

    #[test]
    fn excursions_of_a_flight_share_its_column_in_their_order() {
        let columns = skerry();
        for grid in [Grid::SMALL, Grid::LARGE] {
            let rules: Vec<f64> = grid.edges().chain([grid.now()]).collect();
            let mut before = grid.left;
            for (column, flight) in columns.flights().iter().enumerate() {
                let spot = |place| grid.x(&columns, Spot { column, place });
                let all: Vec<f64> = (0..flight.excursions.len())
                    .map(|nth| spot(Place::Excursion(nth)))
                    .chain([spot(Place::After)])
                    .collect();
                assert!(
                    all[0] > before && all.is_sorted_by(|a, b| a < b),
                    "{}: {all:?}",
                    flight.code
                );
                let (first, last) = (all[0], all[all.len() - 1]);
                assert!(!rules.iter().any(|rule| (first..=last).contains(rule)), "{}", flight.code);
                assert_eq!(first > grid.now(), flight.coming, "{}", flight.code);
                let middle = grid.middle(&columns, column);
                assert!((first..=last).contains(&middle), "its code stands over {}", flight.code);
                before = last;
            }
            assert!(before < grid.end());
        }
    }

    #[test]
    fn older_flights_fold_to_the_left_and_later_ones_to_the_right() {
        let all = (1..=20).map(|n| flight(n, 2, n > 12)).collect();
        let columns = Columns::of(all);
        assert_eq!(columns.first(), Some("G-7"));
        assert_eq!(columns.flights().len(), 9);
        assert_eq!(columns.excursion("E-6.2", "G-6"), Some(Where::Earlier));
        assert_eq!(columns.excursion("E-16.1", "G-16"), Some(Where::Later));
        assert_eq!(columns.after("G-16"), Some(Where::Later));
        assert_eq!(columns.excursion("E-99.1", "G-99"), None);
    }

    #[test]
    fn few_flights_stand_next_to_now() {
        let columns = Columns::of(vec![flight(1, 1, false), flight(2, 1, true)]);
        let now = Grid::SMALL.now();
        let (flown, coming) = (x(&columns, "E-1.1"), x(&columns, "E-2.1"));
        assert!(now - Grid::SMALL.column < flown && flown < now, "{flown}");
        assert!(now < coming && coming < now + Grid::SMALL.column, "{coming}");
        assert_eq!(columns.before_now(), columns.after("G-1").unwrap());
    }

    #[test]
    fn no_flights_at_all_draw_nothing_but_now() {
        let columns = Columns::of(Vec::new());
        assert_eq!(columns.before_now(), Where::Earlier);
        assert!(columns.defs().as_str().contains("M270 -40V400"));
        assert!(!columns.head().as_str().contains("NaN"));
    }
}
