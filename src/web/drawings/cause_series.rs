//! What stopped work from flight to flight: a row of columns each, all to one scale, so that rows
//! are told apart by place and name and by no colour.

use std::fmt::Write as _;

use super::columns::number;
use super::markup::{Drawing, cut_to, length, linked, open_group, path, short, text};

/// One row: what it counts, and how often on each flight.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeriesRow {
    pub label: String,
    /// As many as there are flights, each with the address of what it counts.
    pub counts: Vec<(i64, String)>,
}

const ROW: f64 = 46.0;
const LABEL: f64 = 300.0;
const FIRST: f64 = 312.0;
const WIDTH: f64 = 720.0;
/// The highest column.
const HIGHEST: f64 = 22.0;
const WIDEST: f64 = 26.0;
/// What a label may take left of its row, and its size; the size of a letter of a flight's code.
const ROOM: f64 = 292.0;
const SIZE: f64 = 12.0;
const LETTER: f64 = 6.7;

/// The drawing, 720 wide: flights from left to right, the names of the flights below.
pub fn draw(flights: &[String], rows: &[SeriesRow], id: &str) -> Drawing {
    let most = rows.iter().flat_map(|row| &row.counts).map(|(count, _)| *count).max().unwrap_or(0);
    let step = ((WIDTH - FIRST) / number(flights.len().max(1))).min(64.0);
    let end = FIRST + step * number(flights.len());
    let height = ROW * number(rows.len()) + 20.0;
    let view_box = format!("0 0 {} {}", short(WIDTH), short(height));
    let title = "Causes by flight";
    let mut out = open_group("bars", &view_box, id, title, &words(flights, rows));
    for (index, row) in rows.iter().enumerate() {
        let foot = ROW * (number(index) + 1.0) - 6.0;
        text(&mut out, "end", LABEL, foot - 4.0, &cut_to(&row.label, ROOM, SIZE));
        path(&mut out, "axis", &format!("M{} {}H{}", short(FIRST), short(foot), short(end)));
        for (at, (count, address)) in row.counts.iter().enumerate() {
            if *count > 0 {
                let middle = FIRST + step * (number(at) + 0.5);
                column(
                    &mut out,
                    (middle, foot),
                    (*count, most),
                    (step, address),
                    row,
                    &flights[at],
                );
            }
        }
    }
    // Where names would lie over each other, every second or third flight has its own.
    let longest = flights.iter().map(|flight| flight.chars().count()).max().unwrap_or(1);
    let apart = LETTER * number(longest) + 4.0;
    let every = (1..=flights.len()).find(|every| step * number(*every) >= apart).unwrap_or(1);
    for (at, flight) in flights.iter().enumerate().step_by(every) {
        let middle = FIRST + step * (number(at) + 0.5);
        text(&mut out, "tc t11 mid t2", middle, height - 4.0, flight);
    }
    out.push_str("</svg>");
    Drawing::new(out)
}

fn column(
    out: &mut String,
    (middle, foot): (f64, f64),
    (count, most): (i64, i64),
    (step, address): (f64, &str),
    row: &SeriesRow,
    flight: &str,
) {
    let high = HIGHEST * length(count) / length(most.max(1));
    let wide = WIDEST.min(step * 0.7);
    let said = format!("{}, {flight}: {count}", row.label);
    linked(out, address, &said, |out| {
        // The whole cell can be hit, however low its column.
        let _ = write!(
            out,
            "<rect class=\"hit\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>",
            short(middle - step / 2.0),
            short(foot - ROW + 8.0),
            short(step),
            short(ROW - 8.0)
        );
        let (left, top) = (short(middle - wide / 2.0), short(foot - high));
        let d = format!("M{left} {}V{top}h{}V{}z", short(foot), short(wide), short(foot));
        path(out, "used", &d);
        text(out, "t11 mid", middle, foot - high - 3.0, &count.to_string());
    });
}

fn words(flights: &[String], rows: &[SeriesRow]) -> String {
    let told: Vec<String> = rows
        .iter()
        .map(|row| {
            let counts: Vec<String> = flights
                .iter()
                .zip(&row.counts)
                .filter(|(_, (count, _))| *count > 0)
                .map(|(flight, (count, _))| format!("{flight} {count}"))
                .collect();
            let counts = if counts.is_empty() { "none".to_owned() } else { counts.join(", ") };
            format!("{}: {counts}.", row.label)
        })
        .collect();
    told.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn() -> String {
        let flights = ["G-1".to_owned(), "G-2".to_owned()];
        let row = |label: &str, counts: [i64; 2]| SeriesRow {
            label: label.to_owned(),
            counts: counts.map(|count| (count, format!("/history?n={count}&x=1"))).to_vec(),
        };
        draw(&flights, &[row("binds", [4, 0]), row("<cold>", [2, 1])], "s").as_str().to_owned()
    }

    #[test]
    fn all_rows_are_drawn_to_one_scale() {
        let markup = drawn();
        // Worked by hand: rows end at 40 and 86, columns 26 wide around 344 and 408; 4 is 22 high.
        assert!(markup.contains("d=\"M331 40V18h26V40z\""), "{markup}");
        assert!(markup.contains("d=\"M331 86V75h26V86z\""));
        assert!(markup.contains("d=\"M395 86V80.5h26V86z\""));
    }

    #[test]
    fn each_column_leads_to_what_it_counts_and_nothing_is_no_column() {
        let markup = drawn();
        assert_eq!(markup.matches("<a ").count(), 3);
        assert!(markup.contains("href=\"/history?n=4&amp;x=1\" aria-label=\"binds, G-1: 4\""));
    }

    #[test]
    fn the_words_say_the_same() {
        let markup = drawn();
        assert!(markup.contains("binds: G-1 4. &lt;cold&gt;: G-1 2, G-2 1.</desc>"), "{markup}");
        assert!(!draw(&[], &[], "s").as_str().contains("NaN"));
    }
}
