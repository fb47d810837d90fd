//! What is missing or wrong in a debrief, line by line.

use super::{RowView, ToolView};
use crate::forms::{ErrorLine, ErrorSummary, FieldView};
use crate::pages::debrief::saving::Outcome;
use app::debrief::Debrief;

/// All that is missing or wrong, each line leading to its field.
pub(super) fn summary(
    debrief: &Debrief,
    rows: &[RowView],
    tools: &[ToolView],
    outcome: &Outcome,
) -> ErrorSummary {
    let line = |target: &str, words: String| ErrorLine { target: target.to_owned(), words };
    let mut lines: Vec<ErrorLine> = Vec::new();
    for error in &outcome.errors {
        let target = if error.field.is_empty() {
            "main".to_owned()
        } else {
            FieldView::new(error.field.clone(), "").id
        };
        lines.push(line(&target, error.message.clone()));
    }
    for words in &outcome.moved {
        lines.push(line("main", words.clone()));
    }
    for row in rows.iter().filter(|row| !row.clash.is_empty()) {
        let words = format!("{}: somebody else changed this row meanwhile; choose.", row.task);
        lines.push(line(&format!("row-{}", row.prefix), words));
    }
    if outcome.asks_to_close || debrief.rows.iter().any(|row| row.draft.is_some()) {
        lines.extend(wanted_in_rows(debrief, rows, outcome.asks_to_close));
    }
    if outcome.asks_to_close {
        for tool in tools {
            if let Some(words) = &tool.wanted {
                lines.push(line(&format!("f-{}-brought-in", tool.prefix), words.clone()));
            }
        }
    }
    let heading = match lines.len() {
        0 => String::new(),
        1 => "1 entry needs correcting; everything else is saved".to_owned(),
        more => format!("{more} entries need correcting; everything else is saved"),
    };
    ErrorSummary { heading, lines }
}

fn wanted_in_rows(debrief: &Debrief, rows: &[RowView], closing: bool) -> Vec<ErrorLine> {
    let mut lines = Vec::new();
    for (row, view) in debrief.rows.iter().zip(rows) {
        let outcome_at = format!("{}-outcome", view.prefix);
        match &row.draft {
            Some((_, wrong)) if !wrong.is_empty() => lines.extend(wrong.iter().map(|error| {
                let target = if error.field == "outcome" {
                    outcome_at.clone()
                } else {
                    FieldView::new(error.field.clone(), "").within(&view.prefix).id
                };
                ErrorLine { target, words: format!("{}: {}", row.task, error.message) }
            })),
            Some(_) => lines.push(ErrorLine {
                target: outcome_at,
                words: format!("{}: kept as typed; save the form to count it.", row.task),
            }),
            None if closing && !row.is_complete() => lines.push(ErrorLine {
                target: outcome_at,
                words: format!("{}: Say how {} ended, or defer it.", row.task, row.task),
            }),
            None => {}
        }
    }
    lines
}
