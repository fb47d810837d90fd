//! What turned: since the slots were set, and by the last change.

use app::read::Connection;

use crate::addresses;
use crate::forms::FieldView;
use crate::linked::{Piece, linked, of_parts};
use crate::pages::slots::fields::reason;
use crate::pages::slots::form::Typed;
use app::Failure;
use app::fit::Board;
use app::slots::effect::{self, CheckChange, Effect, Figures};
use app::slots::turned::TurnedCheck;
use compute::fit::{Ask, per_cent, room_words};
use domain::codes::ExcursionCode;
use domain::time::Moment;
use domain::verdicts::past;
use domain::words::{GateName, GateVerdict};

/// A gate that says something else than before.
pub(super) struct TurnedView {
    pub task: String,
    pub excursion: String,
    /// Where the slot is looked at.
    pub address: String,
    pub gate: GateName,
    pub was: GateVerdict,
    pub now: GateVerdict,
    pub since: String,
    pub reasons: Vec<Vec<Piece>>,
}

impl TurnedView {
    /// What the check said before: `was met`.
    pub fn past(&self) -> &'static str {
        past(self.was)
    }
}

/// The last change of this excursion.
pub(super) struct ChangeView {
    pub words: String,
    pub who: String,
    pub when: String,
    /// Label, before, after.
    pub figures: Vec<(&'static str, String, String)>,
    pub turned: Vec<TurnedView>,
    /// Set slots that lost their way by it.
    pub lost_paths: Vec<Vec<Piece>>,
    pub undo: Option<UndoView>,
}

pub(super) struct UndoView {
    pub address: String,
    pub fields: Vec<FieldView>,
}

fn slot_address(excursion: &ExcursionCode, slot: &str) -> String {
    format!("{}#slot-{slot}", addresses::within("excursions", excursion))
}

pub(super) fn since_set(turned: &TurnedCheck) -> TurnedView {
    let slot = turned.slot.code.0.as_str().to_owned();
    TurnedView {
        task: turned.slot.task.as_str().to_owned(),
        address: slot_address(&turned.slot.excursion, &slot),
        excursion: turned.slot.excursion.as_str().to_owned(),
        gate: turned.was.gate,
        was: turned.was.verdict,
        now: turned.now.verdict,
        since: turned.was.at.to_the_minute(),
        reasons: turned.now.reasons.iter().map(|parts| of_parts(parts)).collect(),
    }
}

/// The last change with every gate that it turned, each with its sentence as it reads now.
pub(super) async fn last_change(
    db: &mut Connection,
    board: &Board,
    excursion: &ExcursionCode,
    (may_undo, now): (bool, Moment),
    typed: &Typed,
) -> Result<Option<ChangeView>, Failure> {
    let Some(last) = effect::last(db, excursion, now).await? else { return Ok(None) };
    let errors = typed.errors_of("", "undo");
    let undo = (may_undo && last.stands).then(|| UndoView {
        address: format!("{}/undo/{}", addresses::within("excursions", excursion), last.number),
        fields: if last.asks_reason {
            reason("undo", &typed.cells, errors).to_vec()
        } else {
            Vec::new()
        },
    });
    Ok(Some(ChangeView {
        figures: figures(&last.effect),
        turned: last.effect.turned.iter().map(|turn| by_change(board, turn)).collect(),
        lost_paths: last.effect.lost_paths.iter().map(|lost| linked(lost)).collect(),
        words: last.words,
        who: last.who,
        when: last.at.to_the_minute(),
        undo,
    }))
}

fn by_change(board: &Board, turn: &CheckChange) -> TurnedView {
    let judged = board.judge(&turn.task, &turn.excursion, &Ask::default());
    let gate = judged.into_iter().flat_map(|judged| judged.gates).find(|now| now.gate == turn.gate);
    let reasons = gate.filter(|now| now.verdict == turn.now).map(|now| now.reasons);
    TurnedView {
        task: turn.task.as_str().to_owned(),
        excursion: turn.excursion.as_str().to_owned(),
        address: slot_address(&turn.excursion, turn.slot.as_str()),
        gate: turn.gate,
        was: turn.was,
        now: turn.now,
        since: String::new(),
        reasons: reasons.unwrap_or_default().iter().map(|parts| of_parts(parts)).collect(),
    }
}

/// Before and after of one figure.
type Pair = (&'static str, Option<String>, Option<String>);

fn pairs(effect: &Effect) -> [Pair; 2] {
    let left = |figures: &Figures| {
        let known = figures.set_only.or(figures.with_pencilled).is_some();
        known.then(|| room_words(&figures.room()))
    };
    let (before, after) = (&effect.before, &effect.after);
    [
        ("Time left at P80", left(before), left(after)),
        ("Ends inside its limit", before.chance.map(per_cent), after.chance.map(per_cent)),
    ]
}

fn figures(effect: &Effect) -> Vec<(&'static str, String, String)> {
    let said = |figure: Option<String>| figure.unwrap_or_else(|| "unknown".to_owned());
    pairs(effect)
        .into_iter()
        .filter(|(_, before, after)| before.is_some() || after.is_some())
        .map(|(label, before, after)| (label, said(before), said(after)))
        .collect()
}

/// Gates that a notice names; the page has all of them.
const NAMED: usize = 3;

/// The answer to a change in one breath: the margin, every gate that turned, every way that was
/// lost.
pub(crate) fn in_short(effect: &Effect) -> String {
    std::iter::once(figures_and_gates(effect))
        .chain(effect.lost_paths.iter().cloned())
        .collect::<Vec<_>>()
        .join(" ")
}

fn figures_and_gates(effect: &Effect) -> String {
    let mut said = String::new();
    if let [(_, before, Some(after)), (_, _, chance)] = pairs(effect) {
        let was = match before {
            Some(before) if before == after => ", as before".to_owned(),
            Some(before) => format!(", was {before}"),
            None => String::new(),
        };
        let ends = chance.map_or_else(String::new, |chance| {
            format!("; with everything it ends inside its limit with a chance of {chance}")
        });
        said = format!("Time left at P80: {after}{was}{ends}. ");
    }
    let turns: Vec<String> = effect
        .turned
        .iter()
        .take(NAMED)
        .map(|turn| format!("{} {} from {} to {}", turn.task, turn.gate, turn.was, turn.now))
        .collect();
    let more = effect.turned.len().saturating_sub(NAMED);
    let rest = if more > 0 { format!("; {more} more below") } else { String::new() };
    match effect.turned.len() {
        0 => format!("{said}No check changed."),
        1 => format!("{said}One check changed: {}.", turns.join("")),
        n => format!("{said}{n} checks changed: {}{rest}.", turns.join("; ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_is_answered_with_its_margin_and_its_turns() {
        let figures = |left: f64, chance: f64| Figures {
            set_only: Some(left),
            with_pencilled: Some(left - 20.0),
            pencilled: 1,
            chance: Some(chance),
        };
        let turn = |task: &str| CheckChange {
            slot: "S-1".into(),
            task: task.into(),
            excursion: "E-1".into(),
            gate: GateName::Arm,
            was: GateVerdict::Met,
            now: GateVerdict::Tight,
        };
        let mut effect = Effect {
            before: figures(42.0, 0.97),
            after: figures(31.0, 0.959),
            turned: vec![turn("T-1")],
            lost_paths: Vec::new(),
        };
        assert_eq!(
            in_short(&effect),
            "Time left at P80: 0:31 left, set tasks only · 0:11 with 1 pencilled, was 0:42 left, set \
             tasks only · 0:22 with 1 pencilled; with everything it ends inside its limit with a \
             chance of 96 %. One check changed: T-1 arm windows from met to tight."
        );
        effect.turned = ["T-1", "T-2", "T-3", "T-4", "T-5"].map(turn).to_vec();
        effect.after = effect.before;
        let said = in_short(&effect);
        assert!(said.contains("0:22 with 1 pencilled, as before;"), "{said}");
        assert!(
            said.contains("5 checks changed: T-1") && said.ends_with("; 2 more below."),
            "{said}"
        );
        assert_eq!(in_short(&Effect::default()), "No check changed.");
        let lost = Effect { lost_paths: vec!["S-9 loses its way.".into()], ..Effect::default() };
        assert_eq!(in_short(&lost), "No check changed. S-9 loses its way.");
    }
}
