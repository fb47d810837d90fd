//! What a change of an excursion's slots does: to its margins, and to the gates of every slot that
//! stands anywhere. It is told at once and kept with the way back.

use async_recursion::async_recursion as boxed;
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use sqlx::SqliteConnection;

use super::undo::{Age, WayBack};
use crate::Failure;
use crate::fit::{self, Board};
use crate::outside;
use crate::work::Work;
use compute::fit::{Counting, ExcursionAt, Room, TaskAt, excursion_as_planned, room, seated};
use domain::codes::{ExcursionCode, SlotCode, TaskCode};
use domain::order_of_work::LostWay;
use domain::slots::Slot;
use domain::time::Moment;
use domain::verdicts::{has_turned, is_worse};
use domain::words::{GateName, GateVerdict};
use store::StoreError;
use store::lane_changes::{self, LaneChange};

/// What an excursion has left, and how likely it ends in time. Changes that were kept by an earlier
/// edition lack these figures.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Figures {
    /// Minutes left before the limit at P80: with the set tasks alone, and with the pencilled ones.
    pub set_only: Option<f64>,
    pub with_pencilled: Option<f64>,
    pub pencilled: usize,
    /// Chance to end inside the limit with everything that is set and pencilled.
    pub chance: Option<f64>,
}

impl Figures {
    pub const fn room(&self) -> Room {
        let Self { set_only, with_pencilled, pencilled, .. } = *self;
        Room { set_only, with_pencilled, pencilled }
    }
}

/// A gate of a slot that says something else than before.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CheckChange {
    pub slot: SlotCode,
    pub task: TaskCode,
    pub excursion: ExcursionCode,
    pub gate: GateName,
    pub was: GateVerdict,
    pub now: GateVerdict,
}

/// What a change did.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Effect {
    pub before: Figures,
    pub after: Figures,
    pub turned: Vec<CheckChange>,
    /// Set slots that lose their way by it, each in a sentence.
    pub lost_paths: Vec<String>,
}

/// What stood before a change.
#[derive(Debug)]
pub struct Before {
    seen: ExcursionSeen,
    slots: Vec<Slot>,
}

#[derive(Debug)]
struct ExcursionSeen {
    excursion: ExcursionCode,
    /// The excursion of which the figures are: another one where a slot moves there.
    of: ExcursionCode,
    figures: Figures,
    slots: BTreeMap<SlotCode, SlotSeen>,
    lost_paths: Vec<LostWay>,
}

#[derive(Debug)]
struct SlotSeen {
    task: TaskCode,
    excursion: ExcursionCode,
    gates: Vec<(GateName, GateVerdict)>,
}

/// The last change of an excursion's slots.
#[derive(Debug, Clone, PartialEq)]
pub struct Last {
    pub number: i64,
    pub at: Moment,
    pub who: String,
    pub words: String,
    pub effect: Effect,
    /// Nothing was changed since, so that it can be taken back.
    pub stands: bool,
    /// Taking it back takes a set slot off, which asks for the reason.
    pub asks_reason: bool,
}

/// Looks before a change is made to the slots of an excursion; its figures are those of the
/// excursion to which a slot moves, where one does.
#[boxed]
pub async fn look(
    work: &mut Work,
    excursion: &ExcursionCode,
    moves_to: Option<&ExcursionCode>,
) -> Result<Before, Failure> {
    let (seen, slots) = see(work.db(), excursion, moves_to.unwrap_or(excursion)).await?;
    Ok(Before { seen, slots })
}

/// Looks again after it, and keeps what it did. `subject` is the slot that was meant; others only
/// made room for it.
#[boxed]
pub async fn keep(
    work: &mut Work,
    before: Before,
    subject: Option<&SlotCode>,
    words: &str,
) -> Result<Last, Failure> {
    let excursion = before.seen.excursion.clone();
    let (seen, slots) = see(work.db(), &excursion, &before.seen.of).await?;
    let made = seen
        .slots
        .iter()
        .filter(|(code, slot)| {
            slot.excursion != excursion && !before.seen.slots.contains_key(*code)
        })
        .map(|(code, _)| code.clone())
        .collect();
    let way_back = WayBack::to(work.db(), before.slots, &slots, made, subject).await?;
    let effect = Effect {
        turned: turns(&before.seen, &seen),
        lost_paths: newly_lost(&before.seen, &seen),
        before: before.seen.figures,
        after: seen.figures,
    };
    let change = LaneChange {
        number: 0,
        at: work.now,
        who: work.actor.name.clone(),
        words: words.to_owned(),
        effect: written(&StoredEffect::of(&effect))?,
        way_back: written(&way_back)?,
    };
    let number = lane_changes::keep(work.db(), &excursion, &change).await?;
    let age = Age { made: work.now, now: work.now };
    let (stands, asks_reason) = way_back.stands(work.db(), &excursion, age).await?;
    let LaneChange { at, who, words, .. } = change;
    Ok(Last { number, at, who, words, effect, stands, asks_reason })
}

/// The last change of an excursion, as it is shown.
#[boxed]
pub async fn last(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
    now: Moment,
) -> Result<Option<Last>, Failure> {
    let Some(change) = lane_changes::last(db, excursion).await? else { return Ok(None) };
    let kept: StoredEffect = read(&change.effect)?;
    let way_back: WayBack = read(&change.way_back)?;
    let (stands, asks_reason) =
        way_back.stands(db, excursion, Age { made: change.at, now }).await?;
    Ok(Some(Last {
        number: change.number,
        at: change.at,
        who: change.who,
        words: change.words,
        effect: kept.effect(),
        stands,
        asks_reason,
    }))
}

/// Judging takes the processor and no connection, so that other requests go on meanwhile.
async fn see(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
    of: &ExcursionCode,
) -> Result<(ExcursionSeen, Vec<Slot>), Failure> {
    let board = fit::board(db, &[]).await?;
    let lost_paths = outside::lost_paths(db).await?;
    let (excursion, of) = (excursion.clone(), of.clone());
    let stopped = |cause| StoreError::Unusable(format!("judging the slots stopped: {cause}"));
    let all = move || {
        let at = board.excursion_at(&excursion);
        let here = at.map(|at| board.slots[at].raw.clone()).unwrap_or_default();
        let figures = board.excursion_at(&of).map(|at| figures(&board, at)).unwrap_or_default();
        (ExcursionSeen { slots: judged(&board), of, figures, excursion, lost_paths }, here)
    };
    Ok(tokio::task::spawn_blocking(all).await.map_err(stopped)?)
}

fn figures(board: &Board, at: ExcursionAt) -> Figures {
    let snapshot = seated(&board.snapshot, at, &board.constants);
    let Room { set_only, with_pencilled, pencilled } = room(&snapshot, at, &board.constants);
    let planned = excursion_as_planned(&snapshot, at, Counting::SetAndPencilled, &board.constants);
    let chance = planned.timing.and_then(|timing| timing.chance);
    Figures { set_only, with_pencilled, pencilled, chance }
}

/// Every slot of the coming excursions with its gates.
fn judged(board: &Board) -> BTreeMap<SlotCode, SlotSeen> {
    let matrix = board.own_cells(|_| true);
    let rows: BTreeMap<TaskAt, usize> =
        matrix.tasks.iter().enumerate().map(|(row, &task)| (task, row)).collect();
    let mut seen = BTreeMap::new();
    for (column, slots) in board.slots.iter_enumerated() {
        for slot in slots {
            let row = board.task_at(&slot.task).and_then(|task| rows.get(&task));
            let gates = row.map(|row| matrix.cell(*row, column).gates().collect());
            let slot_seen = SlotSeen {
                task: slot.task.clone(),
                excursion: slot.excursion.clone(),
                gates: gates.unwrap_or_default(),
            };
            seen.insert(slot.code.0.clone(), slot_seen);
        }
    }
    seen
}

/// The gates of every slot of the coming excursions.
#[derive(Debug)]
pub struct Gates(BTreeMap<SlotCode, SlotSeen>);

impl Gates {
    /// The gates that are worse than before.
    pub(crate) fn worse_than(&self, before: &Self) -> Vec<CheckChange> {
        turned_between(&before.0, &self.0, is_worse)
    }
}

/// Judges every slot of the coming excursions.
#[boxed]
pub(crate) async fn gates(db: &mut SqliteConnection) -> Result<Gates, Failure> {
    let board = fit::board(db, &[]).await?;
    let stopped = |cause| StoreError::Unusable(format!("judging the slots stopped: {cause}"));
    Ok(tokio::task::spawn_blocking(move || Gates(judged(&board))).await.map_err(stopped)?)
}

fn turns(before: &ExcursionSeen, after: &ExcursionSeen) -> Vec<CheckChange> {
    turned_between(&before.slots, &after.slots, has_turned)
}

/// The gates of slots that stand in both, where `counts` says that the verdict turned. A slot that
/// moved has another code on its new excursion; it is held against the one that it was.
fn turned_between(
    before: &BTreeMap<SlotCode, SlotSeen>,
    after: &BTreeMap<SlotCode, SlotSeen>,
    counts: impl Fn(GateVerdict, GateVerdict) -> bool,
) -> Vec<CheckChange> {
    let mut turned = Vec::new();
    for (code, slot) in after {
        let moved = || {
            let left = |(code, then): &(&SlotCode, &SlotSeen)| {
                then.task == slot.task && !after.contains_key(*code)
            };
            before.iter().find(left).map(|(_, then)| then)
        };
        let Some(then) = before.get(code).or_else(moved) else { continue };
        for (&(gate, was), &(_, now)) in then.gates.iter().zip(&slot.gates) {
            if counts(was, now) {
                turned.push(CheckChange {
                    slot: code.clone(),
                    task: slot.task.clone(),
                    excursion: slot.excursion.clone(),
                    gate,
                    was,
                    now,
                });
            }
        }
    }
    turned
}

fn newly_lost(before: &ExcursionSeen, after: &ExcursionSeen) -> Vec<String> {
    let is_new = |now: &&LostWay| !before.lost_paths.iter().any(|then| then.is_same(now));
    after.lost_paths.iter().filter(is_new).map(LostWay::to_string).collect()
}

/// An effect as it is kept, in the record's own words.
#[derive(Debug, Serialize, Deserialize)]
struct StoredEffect {
    before: Figures,
    after: Figures,
    turned: Vec<StoredChange>,
    #[serde(default)]
    lost_paths: Vec<String>,
}

#[derive(Debug, Serialize, Deserialize)]
struct StoredChange {
    slot: SlotCode,
    task: TaskCode,
    excursion: ExcursionCode,
    gate: String,
    was: String,
    now: String,
}

impl StoredEffect {
    fn of(effect: &Effect) -> Self {
        let turn = |turn: &CheckChange| StoredChange {
            slot: turn.slot.clone(),
            task: turn.task.clone(),
            excursion: turn.excursion.clone(),
            gate: turn.gate.word().to_owned(),
            was: turn.was.word().to_owned(),
            now: turn.now.word().to_owned(),
        };
        Self {
            before: effect.before,
            after: effect.after,
            turned: effect.turned.iter().map(turn).collect(),
            lost_paths: effect.lost_paths.clone(),
        }
    }

    fn effect(self) -> Effect {
        let turn = |turn: StoredChange| {
            Some(CheckChange {
                gate: GateName::read(&turn.gate)?,
                was: GateVerdict::read(&turn.was)?,
                now: GateVerdict::read(&turn.now)?,
                slot: turn.slot,
                task: turn.task,
                excursion: turn.excursion,
            })
        };
        let turned = self.turned.into_iter().filter_map(turn).collect();
        Effect { before: self.before, after: self.after, turned, lost_paths: self.lost_paths }
    }
}

pub(super) fn written(value: &impl Serialize) -> Result<String, Failure> {
    serde_json::to_string(value).map_err(|cause| unreadable(&cause))
}

pub(super) fn read<'t, T: Deserialize<'t>>(text: &'t str) -> Result<T, Failure> {
    serde_json::from_str(text).map_err(|cause| unreadable(&cause))
}

fn unreadable(cause: &serde_json::Error) -> Failure {
    Failure::Internal(StoreError::Corrupt { table: "lane_change", why: cause.to_string() })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(gates: &[(GateName, GateVerdict)]) -> ExcursionSeen {
        let slot = SlotSeen {
            task: TaskCode::from("T-1"),
            excursion: ExcursionCode::from("E-1"),
            gates: gates.to_vec(),
        };
        ExcursionSeen {
            excursion: ExcursionCode::from("E-1"),
            of: ExcursionCode::from("E-1"),
            figures: Figures::default(),
            slots: BTreeMap::from([(SlotCode::from("S-1"), slot)]),
            lost_paths: Vec::new(),
        }
    }

    #[test]
    fn a_gate_turns_only_between_two_verdicts_that_were_checked() {
        use GateName::{Arm, Supplies, Time, Trained};
        use GateVerdict::{CannotTell, Met, NotChecked, NotMet};
        let before = seen(&[(Time, Met), (Arm, Met), (Supplies, NotChecked), (Trained, NotMet)]);
        let after =
            seen(&[(Time, NotMet), (Arm, Met), (Supplies, CannotTell), (Trained, NotChecked)]);
        let turned = turns(&before, &after);
        let told: Vec<_> = turned.iter().map(|turn| (turn.gate, turn.was, turn.now)).collect();
        assert_eq!(told, [(Time, Met, NotMet)]);
    }

    #[test]
    fn what_was_kept_is_read_again() {
        let effect = Effect {
            before: Figures { set_only: Some(22.5), ..Figures::default() },
            after: Figures { chance: Some(0.96), ..Figures::default() },
            turned: vec![CheckChange {
                slot: SlotCode::from("S-1"),
                task: TaskCode::from("T-1"),
                excursion: ExcursionCode::from("E-1"),
                gate: GateName::Arm,
                was: GateVerdict::Met,
                now: GateVerdict::Tight,
            }],
            lost_paths: vec!["S-1 brings O-1 in.".to_owned()],
        };
        let text = written(&StoredEffect::of(&effect)).unwrap();
        assert_eq!(read::<StoredEffect>(&text).unwrap().effect(), effect);
    }
}
