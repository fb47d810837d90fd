//! What stops work: causes ranked, a bar each, with count and share in figures.

use super::columns::number;
use super::markup::{Drawing, cut_to, length, linked, open, open_group, path, short, text};

/// One cause.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CauseBar {
    pub label: String,
    pub count: i64,
    /// Where the rows stand that it counts.
    pub address: Option<String>,
}

const ROW: f64 = 26.0;
const BAR: f64 = 410.0;
const MAX_BAR: f64 = 240.0;
/// What a label may take left of its bar, and its size; the table beside the drawing has the whole.
const ROOM: f64 = 396.0;
const SIZE: f64 = 12.0;

/// The drawing, 720 wide. Bars come in the order given; `what` ends the sentence "… of 61 …".
pub fn draw(bars: &[CauseBar], what: &str, id: &str) -> Drawing {
    draw_of(bars, bars.iter().map(|bar| bar.count).sum(), what, id)
}

/// The same with shares of a larger total, of which the bars are only a part.
pub fn draw_of(bars: &[CauseBar], total: i64, what: &str, id: &str) -> Drawing {
    let most = bars.iter().map(|bar| bar.count).max().unwrap_or(0).max(1);
    let height = ROW * number(bars.len()) + 4.0;
    let told = words(bars, total, what);
    let view_box = format!("0 0 720 {}", short(height));
    let title = "Causes, ranked";
    let mut out = if bars.iter().any(|bar| bar.address.is_some()) {
        open_group("bars", &view_box, id, title, &told)
    } else {
        open("bars", &view_box, id, title, &told)
    };
    path(&mut out, "axis", &format!("M{} 0V{}", short(BAR), short(height)));
    for (index, bar) in bars.iter().enumerate() {
        let row = LabelledBar {
            bar,
            top: ROW * number(index) + 4.0,
            wide: MAX_BAR * length(bar.count) / length(most),
            said: format!("{} · {}", bar.count, percent(bar.count, total)),
        };
        match &bar.address {
            Some(address) => {
                linked(&mut out, address, "", |out| row.draw(out));
            }
            None => row.draw(&mut out),
        }
    }
    out.push_str("</svg>");
    Drawing::new(out)
}

/// One bar with its label and its figures.
struct LabelledBar<'a> {
    bar: &'a CauseBar,
    top: f64,
    wide: f64,
    said: String,
}

impl LabelledBar<'_> {
    fn draw(&self, out: &mut String) {
        text(out, "end", BAR - 10.0, self.top + 14.0, &cut_to(&self.bar.label, ROOM, SIZE));
        // Parts the words where they are read aloud.
        out.push(' ');
        let (left, high) = (short(BAR), short(self.top + 4.0));
        path(out, "used", &format!("M{left} {high}h{}v12H{left}z", short(self.wide)));
        text(out, "t11", BAR + self.wide + 8.0, self.top + 14.0, &self.said);
    }
}

/// `38 %`, rounded to whole per cent; nothing of nothing is `0 %`.
pub fn percent(count: i64, total: i64) -> String {
    let share = if total > 0 { (200 * count + total) / (2 * total) } else { 0 };
    format!("{share} %")
}

fn words(bars: &[CauseBar], total: i64, what: &str) -> String {
    let told: Vec<String> = bars
        .iter()
        .map(|bar| format!("{}: {}, {}.", bar.label, bar.count, percent(bar.count, total)))
        .collect();
    format!("{total} {what}. {}", told.join(" "))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bars() -> Vec<CauseBar> {
        [("bolt or ring binds", 6), ("time ran out", 3), ("suit", 1)]
            .into_iter()
            .map(|(label, count)| CauseBar { label: label.into(), count, address: None })
            .collect()
    }

    #[test]
    fn the_longest_bar_is_the_most_frequent_cause_and_the_rest_keep_their_ratio() {
        let drawing = draw(&bars(), "attempts stopped", "c");
        let markup = drawing.as_str();
        assert!(markup.contains("d=\"M410 8h240v12H410z\""), "{markup}");
        assert!(markup.contains("d=\"M410 34h120v12H410z\""));
        assert!(markup.contains("d=\"M410 60h40v12H410z\""));
    }

    #[test]
    fn shares_are_of_all_that_is_shown() {
        // Worked by hand: 6, 3 and 1 of 10; 1 of 8 is 12.5 and rounds up.
        assert!(draw(&bars(), "attempts", "c").as_str().contains(">6 · 60 %</text>"));
        assert_eq!(percent(1, 8), "13 %");
        assert_eq!(percent(0, 0), "0 %");
    }

    #[test]
    fn a_long_label_is_cut_in_the_drawing_and_whole_in_the_words() {
        let long = "x".repeat(80);
        let drawing =
            draw(&[CauseBar { label: long.clone(), count: 2, address: None }], "attempts", "c");
        // By hand: of 396 units the ellipsis takes 12, and an x takes 7.2.
        assert!(drawing.as_str().contains(&format!(">{}…</text>", "x".repeat(53))));
        assert!(drawing.as_str().contains(&format!("{long}: 2, 100 %.")));
        assert!(!drawing.as_str().contains("style="));
    }

    #[test]
    fn a_bar_with_an_address_is_a_link_and_shares_are_of_the_given_total() {
        let bar = CauseBar {
            label: "binds".into(),
            count: 2,
            address: Some("/history?stopped=yes&cause=4".into()),
        };
        let drawing = draw_of(&[bar], 8, "attempts", "c");
        let markup = drawing.as_str();
        let link = "<a href=\"/history?stopped=yes&amp;cause=4\"><text";
        assert!(markup.contains(link) && markup.contains("role=\"group\""), "{markup}");
        assert!(markup.contains(">2 · 25 %</text></a>"), "{markup}");
    }

    #[test]
    fn no_causes_draw_no_bars() {
        let drawing = draw(&[], "attempts", "c");
        assert!(drawing.as_str().contains("0 attempts.") && !drawing.as_str().contains("NaN"));
    }
}
