//! What a task is worth and what would make it fit, as pages say it.

use crate::addresses;
use crate::linked::{Piece, of_parts};
use app::fit::{Board, Opening};
use compute::fit::{TaskAt, per_cent};
use compute::value::{Late, Worth};
use domain::constraints::Bound;
use domain::kinds::Kind;
use domain::words::SlotVerdict;

/// One set of changes that opens a slot.
pub(crate) struct OpeningLine {
    pub words: Vec<Piece>,
    pub verdict: SlotVerdict,
    pub cost: String,
}

/// A value with no more digits than it needs.
pub(crate) fn figure(value: f64) -> String {
    let short = format!("{value:.1}");
    short.strip_suffix(".0").map_or(short.clone(), str::to_owned)
}

/// `Value 67.5: class 2 counts 55, half of T-0102 adds 12.5.`
pub(crate) fn sum(board: &Board, task: TaskAt) -> Vec<Piece> {
    let sum = board.values.sum(&board.snapshot, task);
    let own = match sum.class {
        Some(class) => format!("class {class} counts {}", figure(sum.own)),
        None => "its class is not known and counts nothing".to_owned(),
    };
    let mut words = vec![Piece::Words(format!("Value {}: {own}", figure(sum.total)))];
    for (then, adds) in sum.dependents {
        let code = board.snapshot.tasks[then].code.to_string();
        words.push(Piece::Words(", half of ".to_owned()));
        words.push(Piece::Code(addresses::of(Kind::Task, &code), code));
        words.push(Piece::Words(format!(", which waits for it, adds {}", figure(adds))));
    }
    let of = &board.snapshot.tasks[task];
    let binds = |bound: &&Bound| of.needed_by_day.is_none_or(|own| bound.day < own);
    if let Some(bound) = of.bound.as_ref().filter(binds) {
        words.push(Piece::Words(format!("; needed by {} for ", bound.day)));
        words.push(Piece::Code(addresses::of(bound.kind, &bound.code), bound.code.clone()));
    }
    words.push(Piece::Words(".".to_owned()));
    words
}

/// `Here 45: 67.5 × 0.9 for 1 flight of waiting × 80 % to be flown × 92 % to end inside the limit.`
pub(crate) fn here(worth: &Worth) -> String {
    let waiting = match worth.waiting {
        0 => None,
        1 => Some(format!(" × {:.2} for 1 flight of waiting", worth.discount)),
        count => Some(format!(" × {:.2} for {count} flights of waiting", worth.discount)),
    };
    let flown = worth.flown.map(|flown| format!(" × {:.0} % to be flown", flown * 100.0));
    let factors: String = waiting.into_iter().chain(flown).collect();
    let reached = format!(" × {} to end inside the limit", per_cent(worth.reached));
    let (here, value) = (figure(worth.total), figure(worth.value));
    let unknown = if worth.flown.is_none() {
        " How likely the excursion is to be flown is not known and takes nothing."
    } else {
        ""
    };
    let moot = match worth.moot {
        None => "",
        Some(Late::Own) => " It is late there, which makes it moot.",
        Some(Late::Bound) => {
            " It is later there than what it ends is safe for, which makes it moot."
        }
    };
    format!("Here {here}: {value}{factors}{reached}.{moot}{unknown}")
}

pub(crate) fn openings(told: &[Opening]) -> Vec<OpeningLine> {
    told.iter().map(opening).collect()
}

fn opening(told: &Opening) -> OpeningLine {
    let mut all: Vec<Piece> = Vec::new();
    for (at, change) in told.changes.iter().enumerate() {
        if at > 0 {
            all.push(Piece::Words(", and ".to_owned()));
        }
        all.extend(of_parts(change));
    }
    if let Some(Piece::Words(first)) = all.first_mut() {
        *first = capital(first);
    }
    all.push(Piece::Words(".".to_owned()));
    let cost = if told.cost < 0.05 {
        "costs no value".to_owned()
    } else {
        format!("costs {} of value", figure(told.cost))
    };
    OpeningLine { words: all, verdict: told.verdict, cost }
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use compute::fit::Part;

    #[test]
    fn a_figure_shows_a_digit_only_where_there_is_one() {
        assert_eq!((figure(55.0), figure(67.5)), ("55".to_owned(), "67.5".to_owned()));
    }

    #[test]
    fn the_factors_follow_the_value() {
        let worth = Worth {
            value: 55.0,
            waiting: 1,
            discount: 0.9,
            flown: Some(0.8),
            reached: 0.5,
            moot: None,
            total: 19.8,
        };
        assert_eq!(
            here(&worth),
            "Here 19.8: 55 × 0.90 for 1 flight of waiting × 80 % to be flown × 50 % to end inside the limit."
        );
        let next = Worth { waiting: 0, flown: None, ..worth };
        assert!(here(&next).ends_with("is not known and takes nothing."));
    }

    #[test]
    fn two_changes_read_as_one_sentence() {
        let text = |words: &str| vec![Part::Text(words.to_owned())];
        let told = Opening {
            changes: vec![text("take it off"), text("find 5 min more")],
            verdict: SlotVerdict::Tight,
            cost: 9.0,
        };
        let line = opening(&told);
        let said: String = line.words.iter().map(Piece::words).collect();
        assert_eq!(said, "Take it off, and find 5 min more.");
        assert_eq!(line.cost, "costs 9 of value");
    }
}
