//! A carry line in words, for those who do not see the drawing.

use super::{CarryLine, Height, Mark, MarkKind, Where};

/// So many of the events that are folded away are told one by one.
const TOLD: usize = 3;

/// `Opened after G-33. E-34.1 part done. E-36.2 not completed, another approach. Needed by G-37,
/// in danger.`
pub fn words(line: &CarryLine<'_>) -> String {
    let mut sentences = vec![opened(line)];
    let mut tried: Vec<usize> = Vec::new();
    let mut last = None;
    // Of what is folded away the last is told, for what the line begins with.
    let mut untold = line.folded().saturating_sub(TOLD);
    if untold > 0 {
        sentences.push(format!("{untold} earlier events"));
    }
    for mark in &line.marks {
        if untold > 0 && mark.at == Where::Earlier {
            untold -= 1;
            if let Height::Approach(index) = mark.height {
                tried.push(index);
                last = Some(index);
            }
            continue;
        }
        let mut sentence = event(line, mark);
        match mark.height {
            Height::Approach(index) => {
                if last.is_some_and(|last| last != index) {
                    sentence.push_str(if tried.contains(&index) {
                        ", an earlier approach again"
                    } else {
                        ", another approach"
                    });
                }
                tried.push(index);
                last = Some(index);
            }
            Height::Unrecorded => sentence.push_str(", approach not recorded"),
            Height::Kept => {}
        }
        sentences.push(sentence);
    }
    if let Some(needed) = &line.needed_by {
        let danger = if needed.at_risk { ", at risk" } else { "" };
        sentences.push(format!("Needed by {}{danger}", needed.by));
    }
    sentences.iter().map(|sentence| format!("{sentence}.")).collect::<Vec<_>>().join(" ")
}

fn opened(line: &CarryLine<'_>) -> String {
    match (line.opened, line.columns.first()) {
        (Where::At(spot), _) => format!("Opened {}", line.columns.told(spot)),
        (Where::Earlier, Some(first)) => format!("Opened before {first}"),
        (Where::Earlier | Where::Later, _) => "Opened".to_owned(),
    }
}

fn event(line: &CarryLine<'_>, mark: &Mark) -> String {
    let said = said(mark.kind);
    if !mark.excursion.is_empty() {
        return format!("{} {said}", mark.excursion);
    }
    let place = match mark.at {
        Where::At(spot) => format!(" {}", line.columns.told(spot)),
        Where::Earlier | Where::Later => String::new(),
    };
    let mut letters = said.chars();
    let capital = letters.next().map(|first| first.to_uppercase().collect::<String>());
    format!("{}{}{place}", capital.unwrap_or_default(), letters.as_str())
}

/// The word for a mark, as it stands beside its shape.
pub(super) fn said(kind: MarkKind) -> String {
    match kind {
        MarkKind::Done => "done".to_owned(),
        MarkKind::PartDone(None) => "part done".to_owned(),
        MarkKind::PartDone(Some(left)) => format!("part done, {left} left"),
        MarkKind::NotCompleted => "not completed".to_owned(),
        MarkKind::NotReached => "not reached".to_owned(),
        MarkKind::Deferral => "deferred".to_owned(),
        MarkKind::Set => "set".to_owned(),
        MarkKind::Pencilled => "pencilled".to_owned(),
        MarkKind::Dropped => "dropped".to_owned(),
        MarkKind::Parked => "parked".to_owned(),
        MarkKind::Reopened => "reopened".to_owned(),
    }
}
