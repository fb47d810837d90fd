//! What is owed after a flight: the next steps by owner, what is overdue first.

use app::read::Connection;

use super::Outing;
use super::left::Left;
use crate::papers::hands::capital;
use crate::papers::{Bit, Line, Part, Table, blank, known, number, text, warn};
use app::{Failure, Reader, waits};
use domain::codes::FlightCode;
use domain::time::Day;
use domain::waits::Who;
use domain::words::ExcursionState;

/// Steps of one owner that are alike and all overdue, or none of them.
struct Alike<'a> {
    owner: String,
    step: &'static str,
    overdue: bool,
    steps: Vec<&'a waits::Waiting>,
}

pub(super) async fn owed(
    db: &mut Reader,
    outings: &[Outing],
    left: &Left<'_>,
    today: Day,
) -> Result<Vec<Part>, Failure> {
    let board = waits::seen(db, today).await?;
    let heads = [("Owner", 14), ("Action", 35), ("For", 26), ("Due", 25)];
    let mut table = Table::of(&heads).or("No action is owed.");
    for outing in outings {
        let code = outing.excursion.code.0.as_str();
        if outing.excursion.state == Some(ExcursionState::Flown) && !outing.is_closed {
            let owing =
                left.owing.iter().filter(|(_, on)| on.split(", ").any(|on| on == code)).count();
            table.rows.push(vec![
                text("lead"),
                text(&format!("Close the debrief of {code}")),
                text(&format!("{} without a result", number(owing, "task", "tasks"))),
                text("now"),
            ]);
        }
    }
    let mut groups: Vec<Alike> = Vec::new();
    let is_named = |who: &Who| !matches!(who, Who::Anyone);
    for one in board.all.iter().filter(|one| is_named(&one.wait.who)) {
        let (owner, step, overdue) = (who(&one.wait.who), one.wait.step.word(), one.wait.overdue);
        match groups
            .iter_mut()
            .find(|group| (&group.owner, group.step, group.overdue) == (&owner, step, overdue))
        {
            Some(group) => group.steps.push(one),
            None => groups.push(Alike { owner, step, overdue, steps: vec![one] }),
        }
    }
    table.rows.extend(groups.iter().map(Alike::row));
    let anyone = board.all.iter().filter(|one| !is_named(&one.wait.who)).count();
    let has_owners = !table.rows.is_empty();
    let mut parts = Vec::new();
    if has_owners || anyone == 0 {
        parts.push(Part::Table(table));
    }
    if anyone > 0 {
        let more = if has_owners { " more" } else { "" };
        let words = format!(
            "{}{more} without an owner, on the action list.",
            number(anyone, "action", "actions")
        );
        parts.push(Part::Words(text(&words)));
    }
    Ok(parts)
}

/// One line per remedy that nobody verified yet: what is changed, by whom, for which flight.
pub(super) async fn remedies(db: &mut Connection) -> Result<Table, Failure> {
    let heads = [("Remedy", 9), ("What is changed", 0), ("Owner", 16), ("By", 8), ("State", 14)];
    let mut table = Table::of(&heads).or("Every remedy is verified or withdrawn.");
    for remedy in app::read::remedies::not_verified(db).await? {
        let by = remedy.needed_by.as_ref().map(FlightCode::as_str);
        table.rows.push(vec![
            vec![Bit::Code(remedy.code.0.to_string())],
            text(remedy.what.as_str()),
            known(remedy.owner.as_ref().map(domain::cells::Line::as_str)),
            known(by),
            text(remedy.state.word()),
        ]);
    }
    Ok(table)
}

impl Alike<'_> {
    fn row(&self) -> Vec<Line> {
        let mut codes = Line::new();
        for one in &self.steps {
            if !codes.is_empty() {
                codes.push(Bit::Text(", ".to_owned()));
            }
            codes.push(Bit::Code(one.code.clone()));
        }
        let first = self.steps.iter().min_by_key(|one| (one.wait.due.is_none(), one.wait.due));
        let due = first.and_then(|one| match (&one.by, one.wait.due) {
            (Some(flight), Some(day)) => Some(format!("{flight}, {day}")),
            (Some(flight), None) => Some(flight.clone()),
            (None, Some(day)) => Some(day.to_string()),
            (None, None) => None,
        });
        let due = match (due, self.overdue) {
            (None, true) => warn("overdue"),
            (Some(due), true) => warn(&format!("overdue, {due}")),
            (None, false) => blank(),
            (Some(due), false) if self.steps.len() > 1 => text(&format!("first {due}")),
            (Some(due), false) => text(&due),
        };
        let count = match self.steps.len() {
            1 => String::new(),
            many => format!(" ({many})"),
        };
        vec![text(&self.owner), text(&format!("{}{count}", capital(self.step))), codes, due]
    }
}

/// Who takes a step, in words.
pub(in crate::papers) fn who(who: &Who) -> String {
    match who {
        Who::Named(name) => name.to_string(),
        Who::AnyoneBut(_) => "second person".to_owned(),
        Who::Anyone => "anyone".to_owned(),
    }
}
