//! The bar of a constraint as it stands in a row: from now to its date, and the slot that ends it.

use super::{Axis, Bar, MARK, as_length};
use crate::drawings::markup::{Drawing, open, path, place, short, text};
use domain::time::Day;

const WIDE: f64 = 200.0;
const HIGH: f64 = 16.0;
const FROM: f64 = 4.0;
const TO: f64 = 192.0;
/// The height of the line, and half the height of the bracket at its date.
const AT: f64 = 8.0;
const BRACKET: f64 = 6.0;

impl Axis {
    fn small_at(&self, day: Day) -> f64 {
        let days = as_length(day.since(self.today).clamp(0, self.days));
        FROM + (TO - FROM) * days / as_length(self.days)
    }

    /// The head of a column of small bars: the landings of the coming flights.
    pub fn head_small(&self) -> Drawing {
        let mut out =
            format!("<svg class=\"cdraw\" viewBox=\"0 0 {WIDE} {HIGH}\" aria-hidden=\"true\">");
        text(&mut out, "t17 t2", 0.0, 12.0, "now");
        let mut free = 34.0;
        for flight in &self.coming {
            let half = 5.0 * as_length(super::whole(flight.code.chars().count()));
            let x = self.small_at(flight.landing).min(WIDE - half);
            if x - half >= free {
                text(&mut out, "tc t17 mid t2", x, 12.0, &flight.code);
                free = x + half + 4.0;
            }
        }
        out.push_str("</svg>");
        Drawing::new(out)
    }

    /// One bar, with its text equivalent.
    pub fn draw_small(&self, bar: &Bar, id: &str) -> Drawing {
        let view = format!("0 0 {WIDE} {HIGH}");
        let mut out = open("cdraw", &view, id, &bar.title, &self.words(bar));
        for flight in &self.coming {
            path(&mut out, "hour", &format!("M{} 0V{HIGH}", short(self.small_at(flight.landing))));
        }
        let until = bar.until.map(|until| self.small_at(until));
        let slot = bar.slot.as_ref().map(|slot| (self.small_at(slot.day), slot.is_set));
        let end = slot.map(|(x, _)| x.max(FROM + MARK));
        let safe = until.unwrap_or(TO);
        // The line is cut at the mark of the slot.
        let stop = end.map_or(safe, |end| safe.min(end - MARK));
        if stop > FROM {
            path(&mut out, "ln", &format!("M{} {AT}H{}", short(FROM), short(stop)));
        }
        if let Some(x) = until {
            let late = end.is_none_or(|end| end > x);
            let class = if late { "need-bar in-danger" } else { "need-bar" };
            let (top, foot) = (short(AT - BRACKET), short(AT + BRACKET));
            let left = short(x - 4.0);
            path(&mut out, class, &format!("M{left} {top}H{}V{foot}H{left}", short(x)));
        }
        if let (Some(x), Some((_, is_set))) = (end, slot) {
            if let Some(until) = until
                && x - MARK > until + 2.0
            {
                path(&mut out, "la", &format!("M{} {AT}H{}", short(until + 2.0), short(x - MARK)));
            }
            place(&mut out, if is_set { "k-set" } else { "k-pen" }, x, AT, 1.0);
        }
        out.push_str("</svg>");
        Drawing::new(out)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Ahead, Ending};
    use super::*;
    use domain::cells::Cell as _;

    fn day(text: &str) -> Day {
        Day::read(text).unwrap()
    }

    #[test]
    fn a_slot_after_the_date_is_drawn_late_and_one_before_it_is_not() {
        let flight = Ahead {
            code: "G-37".to_owned(),
            launch: day("2031-03-18"),
            landing: day("2031-04-03"),
        };
        let axis = Axis::of(Vec::new(), vec![flight], day("2030-11-21"));
        let ends = |on: &str| Bar {
            title: "Row at 3 bar or less".to_owned(),
            until: Some(day("2031-03-20")),
            slot: Some(Ending { day: day(on), excursion: "E-37.1".to_owned(), is_set: true }),
            ..Bar::default()
        };
        let late = axis.draw_small(&ends("2031-04-02"), "a").to_string();
        assert!(late.contains("in-danger") && late.contains("class=\"la\""), "{late}");
        let in_time = axis.draw_small(&ends("2031-01-10"), "b").to_string();
        assert!(!in_time.contains("in-danger") && !in_time.contains("class=\"la\""), "{in_time}");
        let nothing = axis.draw_small(&Bar { slot: None, ..ends("2031-01-10") }, "c").to_string();
        assert!(nothing.contains("in-danger") && !nothing.contains("#k-"), "{nothing}");
    }
}
