//! What the vehicle may not do, on the axis of the flights: a bar from what left the constraint
//! behind to what ends it. Flown flights have a column each, what is to come stands to scale.

mod small;

use std::fmt::Write as _;

use super::markup::{Drawing, open, path, place, short, text};
use domain::time::Day;

/// The columns of flown flights, and where now and the end of the axis stand.
const COLUMN: f64 = 28.0;
const FLOWN: usize = 4;
const NOW: f64 = 118.0;
const RIGHT: f64 = 385.0;
const WIDE: f64 = 393.0;
const HIGH: f64 = 50.0;
/// The height of the bar.
const AT: f64 = 28.0;
/// Half the width of a mark, by which the bar stops short of it.
const MARK: f64 = 6.0;
/// The width of a letter of a label, at the most.
const LETTER: f64 = 6.6;
/// What a label keeps clear of the line of today.
const GAP: f64 = 4.0;

/// A coming flight.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ahead {
    pub code: String,
    pub launch: Day,
    pub landing: Day,
}

/// The axis that all bars of a page share.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// The last flown flights with the codes of their excursions in order, the earliest first.
    flown: Vec<(String, Vec<String>)>,
    coming: Vec<Ahead>,
    today: Day,
    /// Days from today to the right edge.
    days: i64,
}

/// What left a constraint behind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    pub excursion: String,
    pub mark: &'static str,
}

/// One constraint.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Bar {
    pub title: String,
    pub sources: Vec<Source>,
    pub until: Option<Day>,
    /// The flight that `until` is the landing of.
    pub until_flight: Option<String>,
    pub slot: Option<Ending>,
}

/// The coming slot that ends it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ending {
    pub day: Day,
    pub excursion: String,
    pub is_set: bool,
}

impl Axis {
    pub fn of(flown: Vec<(String, Vec<String>)>, coming: Vec<Ahead>, today: Day) -> Self {
        let skip = flown.len().saturating_sub(FLOWN);
        let coming: Vec<Ahead> = coming.into_iter().take(3).collect();
        let last = coming.iter().map(|flight| flight.landing.since(today)).max().unwrap_or(0);
        // A month beyond the last landing, and a year where no flight is dated.
        let days = if last > 0 { last + 30 } else { 365 };
        Self { flown: flown.into_iter().skip(skip).collect(), coming, today, days }
    }

    /// Where a day to come stands; beyond the edge is the edge.
    fn ahead(&self, day: Day) -> f64 {
        let days = as_length(day.since(self.today).clamp(0, self.days));
        NOW + (RIGHT - NOW) * days / as_length(self.days)
    }

    /// Where an excursion stands that was flown; before the first column what is older.
    fn flown(&self, excursion: &str) -> f64 {
        let found = self.flown.iter().enumerate().find_map(|(column, (_, excursions))| {
            let at = excursions.iter().position(|code| code == excursion)?;
            Some((column, at, excursions.len()))
        });
        let Some((column, at, count)) = found else { return MARK };
        let left = NOW - MARK - COLUMN * as_length(whole(self.flown.len()) - whole(column));
        left + (as_length(whole(at)) + 0.5) * COLUMN / as_length(whole(count))
    }

    fn ground(&self, out: &mut String, high: f64) {
        let high = short(high);
        path(out, "future", &format!("M{} 0H{WIDE}V{high}H{}z", short(NOW), short(NOW)));
        for column in 0..self.flown.len() {
            let x = NOW - MARK - COLUMN * as_length(whole(self.flown.len()) - whole(column));
            path(out, "col", &format!("M{} 0V{high}", short(x)));
        }
        for flight in &self.coming {
            let (from, to) = (self.ahead(flight.launch), self.ahead(flight.landing));
            let wide = short((to - from).max(2.0));
            path(out, "flightspan", &format!("M{} 0h{wide}V{high}h-{wide}z", short(from)));
        }
        path(out, "now", &format!("M{} 0V{high}", short(NOW)));
    }

    /// The head of the column.
    pub fn head(&self) -> Drawing {
        let mut out =
            format!("<svg class=\"cline\" viewBox=\"0 0 {WIDE} 34\" aria-hidden=\"true\">");
        self.ground(&mut out, 34.0);
        text(&mut out, "t11 end t2", NOW - 5.0, 10.0, "flown");
        text(&mut out, "t11", NOW + 5.0, 10.0, "today, then to scale");
        for (column, (code, _)) in self.flown.iter().enumerate() {
            let left = NOW - MARK - COLUMN * as_length(whole(self.flown.len()) - whole(column));
            // Columns are narrow: the number without the letters that all flights share.
            let number = code.rsplit('-').next().unwrap_or(code);
            text(&mut out, "tc t11 mid t2", left + COLUMN / 2.0, 28.0, number);
        }
        let mut free = NOW;
        for flight in &self.coming {
            let x = self.ahead(flight.launch);
            let wide = 7.0 * as_length(whole(flight.code.chars().count()));
            if x - 6.0 - wide >= free {
                text(&mut out, "tc t11 tb end", x - 6.0, 28.0, &flight.code);
            }
            path(&mut out, "kf", &format!("M{} 18l5 11h-10z", short(x)));
            free = x + 6.0;
        }
        out.push_str("</svg>");
        Drawing::new(out)
    }

    /// The bar of one constraint, with its text equivalent.
    pub fn draw(&self, bar: &Bar, id: &str) -> Drawing {
        let view = format!("0 0 {WIDE} {HIGH}");
        let mut out = open("cline", &view, id, &bar.title, &self.words(bar));
        self.ground(&mut out, HIGH);
        let mut sources: Vec<(f64, &str)> =
            bar.sources.iter().map(|s| (self.flown(&s.excursion), s.mark)).collect();
        sources.sort_by(|a, b| a.0.total_cmp(&b.0));
        if sources.is_empty() {
            sources.push((NOW - MARK, ""));
        }
        let until = bar.until.map(|until| self.until_at(until));
        let end = bar.slot.as_ref().map(|slot| self.ahead(slot.day));
        let stop = end.map_or(RIGHT + MARK, |end| end - MARK - 1.0);
        let safe = until.map_or(stop, |until| until.min(stop));
        for (at, (x, _)) in sources.iter().enumerate() {
            let next = sources.get(at + 1).map_or(safe, |(next, _)| next - MARK);
            if next > x + MARK {
                path(&mut out, "cbar", &format!("M{} {AT}H{}", short(x + MARK), short(next)));
            }
        }
        if let Some(until) = until {
            if until < stop {
                let (from, to) = (short(until), short(stop));
                let shape = format!("M{from} 23H{to}V33H{from}z");
                path(&mut out, "cover", &shape);
                let _ = write!(out, "<path fill=\"url(#chatch)\" d=\"{shape}\"/>");
            } else if let Some(end) = end
                && until > end + MARK
            {
                path(&mut out, "la", &format!("M{} {AT}H{}", short(end + MARK), short(until)));
            }
        }
        for (x, mark) in &sources {
            if !mark.is_empty() {
                place(&mut out, mark, *x, AT, 1.0);
            }
        }
        Self::labels(&mut out, bar, until, end, stop);
        out.push_str("</svg>");
        Drawing::new(out)
    }

    /// A date that has passed stands on the last column, before now.
    fn until_at(&self, until: Day) -> f64 {
        if until < self.today { NOW - 11.0 } else { self.ahead(until) }
    }

    fn labels(out: &mut String, bar: &Bar, until: Option<f64>, end: Option<f64>, stop: f64) {
        let late = until.is_some_and(|until| until < stop);
        if let (Some(x), Some(day)) = (until, bar.until) {
            let class = if late { "until-past" } else { "until" };
            path(out, class, &format!("M{} 16V40", short(x)));
            let words = bar.until_flight.clone().unwrap_or_else(|| day.to_string());
            let ink = if late { "t11 tno" } else { "t11 t2" };
            // Below the bar, so that it never meets the slot's label above.
            let (x, anchor) = Self::beside_now(x, words.chars().count());
            text(out, &format!("{ink}{anchor}"), x, 49.0, &words);
        }
        match (&bar.slot, end) {
            (Some(slot), Some(x)) => {
                place(out, if slot.is_set { "k-set" } else { "k-pen" }, x, AT, 1.0);
                let anchor = if x > WIDE - 40.0 { "end" } else { "mid" };
                text(out, &format!("tc t11 {anchor}"), x, 11.0, &slot.excursion);
            }
            _ => text(out, "t11 tno end", WIDE - 3.0, 11.0, "nothing ends it"),
        }
    }

    /// Where the label of a mark stands, and which of its points stands there: below the mark,
    /// inside the drawing, and clear of the line of today.
    fn beside_now(x: f64, letters: usize) -> (f64, &'static str) {
        let half = LETTER / 2.0 * as_length(whole(letters));
        if x + half > WIDE {
            (x, " end")
        } else if x < NOW && x + half > NOW - GAP {
            (NOW - GAP, " end")
        } else if x >= NOW && x - half < NOW + GAP {
            (NOW + GAP, "")
        } else {
            (x.max(half), " mid")
        }
    }

    fn words(&self, bar: &Bar) -> String {
        let since: Vec<&str> = bar.sources.iter().map(|s| s.excursion.as_str()).collect();
        let since =
            if since.is_empty() { String::new() } else { format!("since {}, ", since.join(", ")) };
        let until = bar.until.map_or_else(
            || "without a date".to_owned(),
            |day| {
                let past = if day < self.today { ", which has passed" } else { "" };
                format!("safe until {day}{past}")
            },
        );
        let end = bar.slot.as_ref().map_or_else(
            || "no slot ends it".to_owned(),
            |slot| {
                let state = if slot.is_set { "set" } else { "pencilled" };
                format!("ended by a slot {state} on {}, {}", slot.excursion, slot.day)
            },
        );
        format!("{since}{until}, {end}.")
    }
}

fn whole(count: usize) -> i64 {
    i64::try_from(count).unwrap_or(0)
}

/// A number of days or columns as a length.
fn as_length(count: i64) -> f64 {
    i32::try_from(count).map_or(0.0, f64::from)
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::cells::Cell as _;

    fn day(text: &str) -> Day {
        Day::read(text).unwrap()
    }

    fn axis() -> Axis {
        let flown = (31..=36)
            .map(|n| (format!("G-{n}"), vec![format!("E-{n}.1"), format!("E-{n}.2")]))
            .collect();
        let ahead = |code: &str, launch: &str, landing: &str| Ahead {
            code: code.to_owned(),
            launch: day(launch),
            landing: day(landing),
        };
        let coming = vec![
            ahead("G-37", "2031-03-18", "2031-04-03"),
            ahead("G-38", "2031-07-22", "2031-08-07"),
        ];
        Axis::of(flown, coming, day("2030-11-21"))
    }

    fn bar(until: &str, slot: Option<(&str, bool)>) -> Bar {
        Bar {
            title: "Row at 3 bar".to_owned(),
            sources: vec![Source { excursion: "E-36.1".to_owned(), mark: "k-part" }],
            until: Day::read(until).ok(),
            until_flight: None,
            slot: slot.map(|(on, is_set)| Ending {
                day: day(on),
                excursion: "E-37.1".to_owned(),
                is_set,
            }),
        }
    }

    #[test]
    fn days_to_come_stand_to_scale_and_what_is_older_than_the_columns_at_their_edge() {
        let axis = axis();
        assert_eq!(axis.ahead(day("2030-11-21")).to_bits(), NOW.to_bits());
        let (one, two) = (axis.ahead(day("2030-12-21")), axis.ahead(day("2031-01-20")));
        assert!(((two - one) - (one - NOW)).abs() < 1e-9, "30 days are as long as 30 days");
        assert_eq!(axis.ahead(day("2035-01-01")).to_bits(), RIGHT.to_bits());
        assert!(axis.flown("E-36.1") < axis.flown("E-36.2"));
        assert!(axis.flown("E-33.1") > axis.flown("E-32.1"));
        assert_eq!(axis.flown("E-31.1").to_bits(), MARK.to_bits());
    }

    #[test]
    fn the_label_of_a_date_keeps_clear_of_the_line_of_today() {
        let axis = axis();
        let label = |until: &str| {
            let drawn = axis.draw(&bar(until, Some(("2031-07-25", true))), "a").to_string();
            let mut texts = drawn.split("<text class=\"t11").skip(1);
            let text = texts.find(|text| text.contains(until)).unwrap();
            let x = text.split("x=\"").nth(1).unwrap().split('"').next().unwrap();
            let x: f64 = x.parse().unwrap();
            let wide = LETTER * 10.0;
            let class = text.split('"').next().unwrap().to_owned();
            match class.rsplit(' ').next().unwrap() {
                "end" => (x - wide, x),
                "mid" => (x - wide / 2.0, x + wide / 2.0),
                _ => (x, x + wide),
            }
        };
        for until in ["2030-11-14", "2030-11-21", "2030-11-30", "2030-12-20", "2031-06-01"] {
            let (from, to) = label(until);
            assert!(to < NOW || from > NOW, "{until}: {from} to {to}, today at {NOW}");
            assert!(from >= 0.0 && to <= WIDE, "{until}: {from} to {to}");
        }
    }

    #[test]
    fn what_is_past_its_date_is_hatched_and_what_ends_in_time_is_not() {
        let axis = axis();
        let in_time = axis.draw(&bar("2031-04-03", Some(("2031-03-21", true))), "a");
        assert!(!in_time.as_str().contains("chatch"), "{in_time}");
        assert!(in_time.as_str().contains("#k-set"));
        let late = axis.draw(&bar("2031-04-03", Some(("2031-07-25", false))), "b");
        assert!(late.as_str().contains("chatch") && late.as_str().contains("#k-pen"), "{late}");
        let open = axis.draw(&bar("2031-04-03", None), "c");
        assert!(open.as_str().contains("nothing ends it") && open.as_str().contains("chatch"));
        assert!(open.as_str().contains("safe until 2031-04-03, no slot ends it."));
        let endless = axis.draw(&bar("", None), "d");
        assert!(!endless.as_str().contains("chatch"), "without a date nothing is past it");
    }
}
