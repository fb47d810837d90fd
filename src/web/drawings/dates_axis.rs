//! The dates to come on one axis, to scale: launches with their excursions, the landings by which
//! tasks are needed, and other limits. The rows of a page say the same in words.

use super::columns::number;
use super::markup::{Drawing, length, open, path, place, short, text};
use domain::time::Day;

/// A flight to come whose launch is dated.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FlightDates {
    pub code: String,
    pub launch: Day,
    pub landing: Option<Day>,
    pub excursions: Vec<Day>,
    /// `9 needed, 1 at risk`; empty where nothing is needed by it.
    pub needed: String,
    pub has_risk: bool,
}

/// Another day that something ends on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limit {
    pub words: String,
    pub day: Day,
}

const WIDE: f64 = 1240.0;
const NOW: f64 = 6.0;
const RIGHT: f64 = 1200.0;
/// From the lowest row of labels to the axis, and from one row of labels to the next.
const TO_AXIS: f64 = 10.0;
const ROW: f64 = 16.0;
/// More rows of labels are not drawn; what finds no place is named in words alone.
const ROWS: usize = 5;
/// The width of a letter at the most, and what labels keep clear of each other.
const LETTER: f64 = 6.7;
const GAP: f64 = 5.0;
/// Months that are closer carry no name.
const MONTH: f64 = 44.0;

/// A label that has found its place.
struct Label {
    row: usize,
    mark: Option<(&'static str, f64)>,
    class: &'static str,
    x: f64,
    words: String,
}

/// Rows of labels from the axis upwards, with what is taken in each.
#[derive(Default)]
struct Rows(Vec<Vec<(f64, f64)>>);

impl Rows {
    fn is_free(&self, row: usize, from: f64, to: f64) -> bool {
        let taken = self.0.get(row).map(Vec::as_slice).unwrap_or_default();
        from >= 0.0 && to <= WIDE && taken.iter().all(|(a, b)| to < *a || *b < from)
    }

    fn take(&mut self, row: usize, from: f64, to: f64) {
        self.0.resize(self.0.len().max(row + 1), Vec::new());
        self.0[row].push((from, to));
    }

    /// The lowest row from `first` on in which a label has room at the right of a place, else at its left.
    fn place(&mut self, first: usize, at: f64, words: &str) -> Option<(usize, bool)> {
        let wide = width(words);
        for row in first..ROWS {
            for right in [true, false] {
                let (from, to) = span(at, wide, right);
                if self.is_free(row, from, to) {
                    self.take(row, from, to);
                    return Some((row, right));
                }
            }
        }
        None
    }
}

/// What a label takes with its mark.
fn span(at: f64, wide: f64, right: bool) -> (f64, f64) {
    let far = wide + 9.0 + GAP;
    if right { (at - 6.0, at + far) } else { (at - far, at + 6.0) }
}

fn width(words: &str) -> f64 {
    LETTER * number(words.chars().count())
}

/// The drawing; none where no flight to come is dated.
pub fn draw(today: Day, flights: &[FlightDates], limits: &[Limit], id: &str) -> Option<Drawing> {
    let ends = |flight: &FlightDates| flight.landing.unwrap_or(flight.launch);
    let last = flights.iter().map(ends).max().filter(|last| *last > today)?;
    let days = length(last.since(today));
    let x = |day: Day| NOW + (RIGHT - NOW) * length(day.since(today)) / days;
    let mut rows = Rows::default();
    let mut labels = Vec::new();
    let now = format!("today {today}");
    for flight in flights {
        rows.take(0, x(flight.launch) - 6.0, flight.landing.map_or(x(flight.launch), x) + 6.0);
    }
    for flight in flights {
        let at = x(flight.launch);
        let (from, to) = (at - width(&flight.code) - 12.0, at - 7.0);
        let (row, right) = if from > NOW + GAP && rows.is_free(0, from, to) {
            rows.take(0, from, to);
            (0, false)
        } else {
            rows.place(1, at, &flight.code).unwrap_or((ROWS, true))
        };
        let (class, x) = if right { ("tc tb", at + 8.0) } else { ("tc tb end", at - 8.0) };
        labels.push(Label { row, mark: None, class, x, words: flight.code.clone() });
    }
    let top_of_now = (0..ROWS).find(|row| rows.is_free(*row, NOW, NOW + 6.0 + width(&now)));
    if let Some(row) = top_of_now {
        rows.take(row, NOW, NOW + 6.0 + width(&now));
        labels.push(Label { row, mark: None, class: "t2", x: NOW + 6.0, words: now });
    }
    let mut more = |first: usize, at: f64, mark: Option<&'static str>, words: &str| {
        if let Some((row, right)) = rows.place(first, at, words) {
            let (class, x) = if right { ("t2", at + 9.0) } else { ("t2 end", at - 9.0) };
            labels.push(Label {
                row,
                mark: mark.map(|mark| (mark, at)),
                class,
                x,
                words: words.to_owned(),
            });
        }
    };
    for flight in flights.iter().filter(|flight| !flight.needed.is_empty()) {
        more(0, x(flight.landing.unwrap_or(flight.launch)), None, &flight.needed);
    }
    for limit in limits.iter().filter(|limit| limit.day >= today && limit.day <= last) {
        more(1, x(limit.day), Some("k-end"), &limit.words);
    }
    let high = labels.iter().map(|label| label.row).max().unwrap_or(0).max(1);
    let axis = TO_AXIS + ROW * number(high + 1);
    let words = words(today, flights, limits);
    let view_box = format!("0 0 {} {}", short(WIDE), short(axis + 24.0));
    let mut out = open("dates", &view_box, id, "The dates to come, to scale", &words);
    for flight in flights {
        let (from, to) = (x(flight.launch), x(flight.landing.unwrap_or(flight.launch)));
        let ground = format!("M{0} 0H{1}V{2}H{0}z", short(from), short(to), short(axis + 20.0));
        path(&mut out, "future", &ground);
    }
    months(&mut out, today, last, axis, x);
    path(&mut out, "axis", &format!("M0 {}H{WIDE}", short(axis)));
    path(&mut out, "now", &format!("M{NOW} 0V{}", short(axis + 20.0)));
    for flight in flights {
        place(&mut out, "k-launch", x(flight.launch), axis - 8.0, 1.0);
        for day in &flight.excursions {
            path(
                &mut out,
                "ln",
                &format!("M{} {}V{}", short(x(*day)), short(axis - 18.0), short(axis)),
            );
        }
        if let Some(landing) = flight.landing {
            let mark = if flight.has_risk { "k-late" } else { "k-need" };
            place(&mut out, mark, x(landing), axis - 12.0, 1.0);
        }
    }
    for label in labels {
        let y = axis - TO_AXIS - ROW * number(label.row);
        if let Some((mark, at)) = label.mark {
            place(&mut out, mark, at, y - 4.0, 1.0);
        }
        text(&mut out, label.class, label.x, y, &label.words);
    }
    out.push_str("</svg>");
    Some(Drawing::new(out))
}

/// A tick for each month, with its name where there is room.
fn months(out: &mut String, today: Day, last: Day, axis: f64, x: impl Fn(Day) -> f64) {
    let all = (1..=last.since(today)).map(|day| today.plus(day));
    let begins: Vec<Day> = all.filter(|day| day.to_string().ends_with("-01")).collect();
    let every = (1..=12).find(|every| {
        let apart = begins.first().zip(begins.get(*every)).map(|(a, b)| x(*b) - x(*a));
        apart.is_none_or(|apart| apart >= MONTH)
    });
    for day in begins.iter().step_by(every.unwrap_or(12)) {
        let at = x(*day);
        path(out, "col", &format!("M{} {}V{}", short(at), short(axis), short(axis + 6.0)));
        let name = month(*day);
        if at + 3.0 + width(&name) <= WIDE {
            text(out, "t11 t2", at + 3.0, axis + 18.0, &name);
        }
    }
}

/// `Mar`, and `Jan 2031` where a year begins.
fn month(day: Day) -> String {
    const NAMES: [&str; 12] =
        ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    let words = day.to_string();
    let of_year = words.get(5..7).and_then(|month| month.parse::<usize>().ok()).unwrap_or(1);
    match of_year {
        1 => format!("Jan {}", &words[..4]),
        at => NAMES[(at - 1).min(11)].to_owned(),
    }
}

fn words(today: Day, flights: &[FlightDates], limits: &[Limit]) -> String {
    let mut sentences = vec![format!("Today is {today}.")];
    for flight in flights {
        let landing =
            flight.landing.map_or_else(String::new, |landing| format!(", lands {landing}"));
        let needed = match flight.needed.as_str() {
            "" => String::new(),
            needed => format!(": {needed}"),
        };
        sentences.push(format!("{} launches {}{landing}{needed}.", flight.code, flight.launch));
    }
    for limit in limits {
        sentences.push(format!("{}: {}.", limit.words, limit.day));
    }
    sentences.join(" ")
}

#[cfg(test)]
mod tests {
    use super::super::seen::Seen;
    use super::*;
    use domain::cells::Cell as _;

    fn day(text: &str) -> Day {
        Day::read(text).unwrap()
    }

    fn flight(code: &str, launch: &str, landing: &str, needed: &str) -> FlightDates {
        FlightDates {
            code: code.to_owned(),
            launch: day(launch),
            landing: Some(day(landing)),
            excursions: vec![day(launch).plus(3), day(launch).plus(6)],
            needed: needed.to_owned(),
            has_risk: needed.contains("risk"),
        }
    }

    fn skerry() -> Vec<FlightDates> {
        vec![
            flight("G-37", "2031-03-18", "2031-04-03", "9 needed, 1 at risk"),
            flight("G-38", "2031-07-22", "2031-08-07", "12 needed, 3 at risk"),
            flight("G-39", "2031-12-02", "2031-12-19", "8 needed"),
        ]
    }

    #[test]
    fn days_stand_to_scale_and_the_last_landing_ends_the_axis() {
        let drawn = draw(day("2030-11-21"), &skerry(), &[], "dates").unwrap();
        let seen = Seen::of(drawn.as_str());
        assert_eq!(seen.unreadable(), Vec::<String>::new());
        // By hand: 117 of 393 days to the launch of G-37, over 1194 units from 6.
        let launches = seen.marks("k-launch");
        assert!((launches[0].0 - (6.0 + 1194.0 * 117.0 / 393.0)).abs() < 0.06, "{launches:?}");
        assert!((seen.marks("k-need")[0].0 - 1200.0).abs() < 0.06);
        assert_eq!(seen.marks("k-late").len(), 2);
    }

    #[test]
    fn labels_of_near_days_stand_one_above_the_other() {
        let near =
            |at: i64| Limit { words: format!("O-0{at} limit"), day: day("2031-03-28").plus(at) };
        let limits: Vec<Limit> = (0..6).map(near).collect();
        let flights = [
            flight("G-37", "2030-11-24", "2030-11-29", "9 needed, 1 at risk"),
            flight("G-38", "2030-12-02", "2030-12-09", "12 needed, 3 at risk"),
            flight("G-39", "2031-12-02", "2031-12-19", "8 needed"),
        ];
        let drawn = draw(day("2030-11-21"), &flights, &limits, "dates").unwrap();
        assert_eq!(Seen::of(drawn.as_str()).unreadable(), Vec::<String>::new());
        for limit in &limits {
            assert!(drawn.as_str().contains(&format!("{}: {}.", limit.words, limit.day)));
        }
    }

    #[test]
    fn without_a_day_to_come_nothing_is_drawn() {
        assert_eq!(draw(day("2030-11-21"), &[], &[], "dates"), None);
        let past = [flight("G-36", "2030-10-01", "2030-10-17", "")];
        assert_eq!(draw(day("2030-11-21"), &past, &[], "dates"), None);
    }
}
