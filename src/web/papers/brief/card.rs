//! The late card as the last sheet of a brief: what to drop or shorten at each milestone, by how late
//! it ended, and by when each seat turns back.

use crate::pages::day::card::cell_view;
use crate::papers::{Bit, Line, Part, Table, text};
use crate::visitor::Viewer;
use app::day::{self, Day, whole};
use app::{Failure, Reader};
use compute::day::{CardCell, LATENESSES, Milestone};
use compute::fit::per_cent;

/// The heads of the columns, one for each lateness.
const LATE: [&str; 6] = ["On time", "Late 15 min", "30 min", "45 min", "60 min", "90 min"];
const _: () = assert!(LATE.len() == LATENESSES.len());

pub(super) async fn parts(
    db: &mut Reader,
    viewer: &Viewer,
    code: &str,
) -> Result<Vec<Part>, Failure> {
    let there = day::read(db, code, None, viewer.now()).await?;
    let card = day::late_card(db, &there).await?;
    let mut parts = vec![Part::OwnSheet("Late card".to_owned())];
    if !card.unknown.is_empty() {
        parts.push(Part::Words(text("The late card cannot be calculated:")));
        let words = |sentence: &Vec<_>| Part::Words(text(&compute::fit::Part::plain(sentence)));
        parts.extend(card.unknown.iter().map(words));
        return Ok(parts);
    }
    parts.push(Part::Words(text(&format!(
        "Find the row of what has just ended and the column of how late it ended; between two columns, \
         use the right one. The percentage is the chance to end inside {} with that cell done; each \
         cell keeps the most value with {} or more. Flight control decides.",
        pet(card.limit),
        per_cent(card.bound)
    ))));
    let mut heads = vec![("When this has ended", 20), ("PET", 8)];
    heads.extend(LATE.iter().map(|late| (*late, 12)));
    let mut table = Table::of(&heads).or("No task is planned.");
    for (milestone, planned, cells) in &card.rows {
        let mut row = vec![milestone_words(&there, *milestone), text(&pet(*planned))];
        row.extend(cells.iter().map(|cell| cell_words(&there, *milestone, cell)));
        table.rows.push(row);
    }
    parts.push(Part::Table(table));
    parts.push(Part::Heading("Turn back by, at P80".to_owned()));
    let heads = [("From", 40), ("Seat", 20), ("End work by, PET", 40)];
    let mut table = Table::of(&heads).or("No seat is out.");
    for row in &card.turn_back {
        let by = if row.by < 0.0 { "too late".to_owned() } else { pet(row.by) };
        table.rows.push(vec![text(&row.site), text(&there.seat(row.lane)), vec![Bit::Bold(by)]]);
    }
    parts.push(Part::Table(table));
    Ok(parts)
}

fn pet(minutes: f64) -> String {
    whole(minutes).to_string()
}

fn milestone_words(there: &Day, milestone: Milestone) -> Line {
    let Milestone::Task(at) = milestone else { return text("End of egress, all seats") };
    let task = &there.tasks[at];
    let mut line = vec![Bit::Code(task.slot.task.to_string())];
    line.push(Bit::Text(format!(" {}", task.slot.seats.names())));
    if task.slot.must_do {
        line.extend([Bit::Text(" ".to_owned()), Bit::Box("kept".to_owned())]);
    }
    line
}

fn cell_words(there: &Day, milestone: Milestone, cell: &CardCell) -> Line {
    let cell = cell_view(there, milestone, cell);
    let mut line = Line::new();
    for (mark, words, of) in cell.lines {
        match mark {
            "k-turn" => line.push(Bit::Warn(format!("{words} {of}. "))),
            "k-set" => line.push(Bit::Text(format!("{words}, "))),
            _ => line.extend([
                Bit::Bold(format!("{words} ")),
                Bit::Code(of),
                Bit::Text(" ".to_owned()),
            ]),
        }
    }
    line.push(Bit::Text(cell.foot));
    line
}
