//! One excursion as a bar to its limit: what is flown or set, what is pencilled, what is free.

use std::fmt::Write as _;

use super::markup::{Drawing, path, short, text};

/// Units that the longest limit of a page takes.
const WIDE: f64 = 420.0;

/// What a bar shows, in minutes from egress.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    pub limit: f64,
    /// Flown, or set: the end at P80.
    pub used: f64,
    /// The end with the pencilled tasks too.
    pub pencilled: f64,
    pub is_flown: bool,
}

/// The measure that all bars of a page share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    longest: f64,
}

impl Scale {
    /// Takes the longest bar of the page.
    pub fn of(spans: impl Iterator<Item = Span>) -> Self {
        let longest = spans.map(|span| span.limit.max(span.pencilled).max(span.used));
        Self { longest: longest.fold(60.0, f64::max) }
    }

    fn x(self, minutes: f64) -> f64 {
        WIDE * minutes.max(0.0) / self.longest
    }

    /// The whole hours inside the longest bar.
    fn hours(self) -> impl Iterator<Item = u16> {
        (1..=99).take_while(move |hour| f64::from(*hour) * 60.0 < self.longest)
    }

    fn at_hour(self, hour: u16) -> f64 {
        self.x(f64::from(hour) * 60.0)
    }

    /// The head of the column of bars: every second hour.
    pub fn head(self) -> Drawing {
        let mut out =
            String::from("<svg class=\"cscale\" viewBox=\"0 0 430 14\" aria-hidden=\"true\">");
        text(&mut out, "t15 t2", 0.0, 12.0, "0 h");
        // The last one keeps clear of the word at the end.
        let even = self.hours().filter(|hour| hour % 2 == 0);
        for hour in even.filter(|hour| self.at_hour(*hour) < WIDE - 60.0) {
            text(&mut out, "t15 t2 mid", self.at_hour(hour), 12.0, &hour.to_string());
        }
        text(&mut out, "t15 t2 end", WIDE + 10.0, 12.0, "limit");
        out.push_str("</svg>");
        Drawing::new(out)
    }

    /// One bar; the words beside it say the same.
    pub fn bar(self, span: Span) -> Drawing {
        let mut out = String::from(
            "<svg class=\"cbar\" viewBox=\"0 0 430 16\" preserveAspectRatio=\"none\" aria-hidden=\"true\">",
        );
        let hours = self.hours().fold(String::new(), |mut d, hour| {
            // Writing to a String cannot fail.
            let _ = write!(d, "M{} 0V16", short(self.at_hour(hour)));
            d
        });
        path(&mut out, "hour", &hours);
        let block = |from: f64, to: f64| {
            if to <= from {
                String::new()
            } else {
                format!("M{0} 3H{1}V13H{0}z", short(from), short(to))
            }
        };
        let (limit, used, pencilled) =
            (self.x(span.limit), self.x(span.used), self.x(span.pencilled));
        path(&mut out, "c-free", &block(0.0, limit));
        path(&mut out, "c-pen", &block(used, pencilled));
        path(&mut out, if span.is_flown { "c-flown" } else { "c-set" }, &block(0.0, used));
        if span.limit > 0.0 {
            path(&mut out, "c-limit", &format!("M{} 0V16", short(limit)));
        }
        out.push_str("</svg>");
        Drawing::new(out)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn span(limit: f64, used: f64, pencilled: f64) -> Span {
        Span { limit, used, pencilled, is_flown: false }
    }

    #[test]
    fn a_bar_is_as_long_as_its_minutes() {
        // By hand: 2:48 set, 3:10 with pencils, limit 7:00; the longest bar takes a pixel a minute.
        let here = span(420.0, 168.0, 190.0);
        let drawn = Scale::of([here].into_iter()).bar(here);
        for part in ["M0 3H420V13H0z", "M168 3H190V13H168z", "M0 3H168V13H0z", "M420 0V16"] {
            assert!(drawn.as_str().contains(part), "{part}: {}", drawn.as_str());
        }
    }

    #[test]
    fn what_runs_past_its_limit_is_drawn_past_it_and_nothing_is_drawn_of_nothing() {
        let past = span(360.0, 420.0, 420.0);
        let drawn = Scale::of([past].into_iter()).bar(past);
        assert!(drawn.as_str().contains("M0 3H420V13H0z") && drawn.as_str().contains("M360 0V16"));
        let empty = span(0.0, 0.0, 0.0);
        let drawn = Scale::of([empty].into_iter()).bar(empty);
        assert!(!drawn.as_str().contains("NaN") && !drawn.as_str().contains("c-limit"));
    }
}
