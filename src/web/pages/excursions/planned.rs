//! A planned excursion: its slots with their minutes and gates, what turned, what can be done.

use std::collections::BTreeMap;

use askama::Template;
use sqlx::SqliteConnection;

use super::facts::{self, Fact};
use super::sentences::{Piece, linked};
use super::slots::fields_of_new;
use crate::app::Failure;
use crate::app::fit::{self, Judged};
use crate::compute::fit::{
    Ask, Counting, PlannedExcursion, PlannedSlot, excursion_as_planned, margin, pet,
    unknown_sentence,
};
use crate::domain::cells::{Cells, FieldError};
use crate::domain::codes::{ExcursionCode, TaskCode};
use crate::domain::excursions::Excursion;
use crate::domain::kinds::Kind;
use crate::domain::repeat_guard::Approach;
use crate::domain::roles::{Action, may};
use crate::domain::slots::Slot;
use crate::domain::time::Day;
use crate::domain::units::Minutes;
use crate::domain::words::{DeferralReason, ExcursionState, GateName, GateVerdict, SlotState};
use crate::store::{register, slot_history, tasks};
use crate::web::addresses;
use crate::web::forms::{Choice, ErrorLine, ErrorSummary, FieldView};
use crate::web::frame::{Nav, PageFrame};
use crate::web::visitor::Viewer;

#[expect(clippy::struct_excessive_bools, reason = "each shows or hides a part of the page")]
#[derive(Template)]
#[template(path = "excursions/planned.html")]
pub(crate) struct PlannedPage {
    page: PageFrame,
    summary: ErrorSummary,
    code: String,
    address: String,
    flight: Option<String>,
    day: Option<Day>,
    lead: String,
    facts: Vec<Fact>,
    slots: Vec<SlotView>,
    /// What keeps the excursion from being timed.
    unknown: Vec<Vec<Piece>>,
    turned: Vec<TurnedView>,
    ends: Vec<(&'static str, String)>,
    new: Vec<FieldView>,
    gates: Vec<&'static str>,
    reasons: Vec<Choice>,
    others: Vec<Choice>,
    notes: String,
    may_pencil: bool,
    may_set: bool,
    may_call_off: bool,
    may_keep: bool,
}

struct SlotView {
    number: usize,
    code: String,
    task: String,
    title: String,
    approach: String,
    seats: String,
    pet: String,
    travel: String,
    work: String,
    latest: String,
    state: SlotState,
    verdict: Option<crate::domain::words::SlotVerdict>,
    /// The worst gates first; a gate that is met stands at the end.
    gates: Vec<GateView>,
    against: Vec<&'static str>,
    waiver: Option<String>,
    is_set: bool,
    first: bool,
    last: bool,
    version: i64,
    fields: Vec<FieldView>,
}

struct GateView {
    gate: GateName,
    verdict: GateVerdict,
    reasons: Vec<Vec<Piece>>,
}

struct TurnedView {
    task: String,
    slot: String,
    gate: GateName,
    was: GateVerdict,
    now: GateVerdict,
    since: String,
    reasons: Vec<Vec<Piece>>,
}

/// What was typed into the form for a new slot, and what is wrong with it.
#[derive(Debug, Default)]
pub(super) struct Typed {
    pub cells: Cells,
    pub errors: Vec<FieldError>,
    /// A refusal that concerns the whole form.
    pub refused: Option<String>,
}

pub(super) async fn page(
    db: &mut SqliteConnection,
    viewer: &Viewer,
    excursion: Excursion,
    typed: &Typed,
) -> Result<PlannedPage, Failure> {
    let code = excursion.code.0.clone();
    let chosen = TaskCode::from(typed.cells.get("task"));
    let wanted: Vec<TaskCode> = (!chosen.is_blank()).then_some(chosen).into_iter().collect();
    let board = fit::board(db, &wanted).await?;
    let column = board.excursion_at(&code);
    let here: Vec<Slot> = column.map(|at| board.slots[at].clone()).unwrap_or_default();
    let counting = Counting::SetAndPencilled;
    let timed =
        column.map(|at| excursion_as_planned(&board.snapshot, at, counting, &board.constants));
    let titles = titles(db, &here).await?;
    let (mut slots, mut turned) = (Vec::new(), Vec::new());
    for (at, slot) in here.iter().enumerate() {
        let judged = board.judge(&slot.task, &code, &Ask::default());
        if let Some(judged) = judged.as_ref().filter(|_| slot.state == SlotState::Set) {
            turned.extend(turned_gates(db, slot, judged).await?);
        }
        let version = version_of(db, Kind::Slot, slot.code.0.as_str()).await?;
        let title = titles.get(&slot.task).cloned().unwrap_or_default();
        let placed = timed.as_ref().and_then(|timed| placed(timed, at));
        let mut view = slot_view(slot, title, placed, judged, version);
        (view.number, view.first, view.last) = (at + 1, at == 0, at + 1 == here.len());
        view.fields = super::slots::fields_of(slot);
        slots.push(view);
    }
    let role = viewer.actor.role;
    let new = fields_of_new(db, &board, &typed.cells, &typed.errors).await?;
    let summary = match &typed.refused {
        Some(words) => ErrorSummary {
            heading: "It was not added".to_owned(),
            lines: vec![ErrorLine { target: "add".to_owned(), words: words.clone() }],
        },
        None => ErrorSummary::of(&typed.errors, &new),
    };
    let version = version_of(db, Kind::Excursion, code.as_str()).await?;
    let others = board
        .excursions
        .iter()
        .filter(|other| other.code.0 != code)
        .map(|other| Choice::new(other.code.0.as_str(), other.code.0.as_str()))
        .collect();
    Ok(PlannedPage {
        page: viewer
            .frame(format!("Excursion {code}"), Nav::Flights)
            .with_verdicts()
            .of_version(version)
            .refusing(!summary.is_empty()),
        summary,
        lead: lead(&slots, timed.as_ref(), &turned),
        facts: facts::of(&excursion, true),
        unknown: timed
            .iter()
            .flat_map(|timed| &timed.unknown)
            .map(|unknown| linked(&unknown_sentence(&board.snapshot, unknown)))
            .collect(),
        ends: timed.as_ref().map(ends).unwrap_or_default(),
        slots,
        turned,
        new,
        gates: GateName::WORDS.to_vec(),
        reasons: DeferralReason::WORDS.iter().map(|word| Choice::new(*word, *word)).collect(),
        others,
        notes: excursion.notes.0,
        may_pencil: may(role, Action::Pencil),
        may_set: may(role, Action::SetSlot),
        may_call_off: may(role, Action::CallOff),
        may_keep: may(role, Action::KeepExcursions),
        address: super::address(&code),
        flight: excursion.flight.map(|flight| flight.as_str().to_owned()),
        day: excursion.day,
        code: code.as_str().to_owned(),
    })
}

async fn version_of(db: &mut SqliteConnection, kind: Kind, code: &str) -> Result<i64, Failure> {
    Ok(register::find(db, kind, code).await?.map_or(0, |row| row.version))
}

async fn titles(
    db: &mut SqliteConnection,
    slots: &[Slot],
) -> Result<BTreeMap<TaskCode, String>, Failure> {
    let codes: Vec<TaskCode> = slots.iter().map(|slot| slot.task.clone()).collect();
    let found = tasks::these(db, &codes).await?;
    Ok(found.into_iter().map(|task| (task.code.0, task.title.0)).collect())
}

/// Where a slot of the snapshot stands in time.
fn placed(timed: &PlannedExcursion, slot: usize) -> Option<PlannedSlot> {
    timed.timing.as_ref()?.slots.iter().find(|placed| placed.slot == slot).copied()
}

fn slot_view(
    slot: &Slot,
    title: String,
    placed: Option<PlannedSlot>,
    judged: Option<Judged>,
    version: i64,
) -> SlotView {
    let unknown = || "unknown".to_owned();
    let approach = Approach { technique: slot.technique.clone(), side: slot.side.clone() };
    let approach = if approach == Approach::default() {
        "no approach chosen".to_owned()
    } else {
        approach.to_string()
    };
    let mut gates: Vec<GateView> = judged
        .iter()
        .flat_map(|judged| &judged.gates)
        .map(|gate| GateView {
            gate: gate.gate,
            verdict: gate.verdict,
            reasons: gate.reasons.iter().map(|parts| linked(parts)).collect(),
        })
        .collect();
    gates.sort_by_key(|gate| std::cmp::Reverse(weight(gate.verdict)));
    let against = gates
        .iter()
        .filter(|gate| weight(gate.verdict) >= weight(GateVerdict::CannotTell))
        .map(|gate| gate.gate.word())
        .collect();
    SlotView {
        number: 0,
        code: slot.code.0.as_str().to_owned(),
        task: slot.task.as_str().to_owned(),
        title,
        approach,
        seats: if slot.seats.is_empty() { unknown() } else { slot.seats.names() },
        pet: placed.map_or_else(unknown, |p| format!("{}–{}", pet(p.start), pet(p.end))),
        travel: placed.map_or_else(unknown, |p| clock(p.travel)),
        work: placed.map_or_else(unknown, |p| clock(p.work.mean)),
        latest: placed.and_then(|p| p.latest_start).map_or_else(unknown, |at| {
            if at < 0.0 { "none left".to_owned() } else { pet(at).to_string() }
        }),
        state: slot.state,
        verdict: judged.map(|judged| judged.verdict),
        gates,
        against,
        waiver: slot.waiver.as_ref().map(|waiver| {
            let gates = slot.waived_gate.as_ref().map_or("", |gates| gates.as_str());
            format!("{gates}: {waiver}")
        }),
        is_set: slot.state == SlotState::Set,
        first: false,
        last: false,
        version,
        fields: Vec::new(),
    }
}

fn clock(minutes: f64) -> String {
    Minutes(pet(minutes).0).clock()
}

const fn weight(verdict: GateVerdict) -> u8 {
    match verdict {
        GateVerdict::NotChecked => 0,
        GateVerdict::Met => 1,
        GateVerdict::Tight => 2,
        GateVerdict::CannotTell => 3,
        GateVerdict::NotMet => 4,
    }
}

/// The gates that say something else than when the slot was set. A gate that was not checked then,
/// or is not now, has not turned.
async fn turned_gates(
    db: &mut SqliteConnection,
    slot: &Slot,
    judged: &Judged,
) -> Result<Vec<TurnedView>, Failure> {
    let then = slot_history::gates_of(db, &slot.code.0).await?;
    let turned = judged.gates.iter().filter_map(|now| {
        let was = then.iter().find(|was| was.gate == now.gate)?;
        let checked = |verdict: GateVerdict| verdict != GateVerdict::NotChecked;
        let differs = was.verdict != now.verdict;
        (differs && checked(was.verdict) && checked(now.verdict)).then(|| TurnedView {
            task: slot.task.as_str().to_owned(),
            slot: slot.code.0.as_str().to_owned(),
            gate: now.gate,
            was: was.verdict,
            now: now.verdict,
            since: was.at.to_the_minute(),
            reasons: now.reasons.iter().map(|parts| linked(parts)).collect(),
        })
    });
    Ok(turned.collect())
}

fn ends(timed: &PlannedExcursion) -> Vec<(&'static str, String)> {
    let Some(timing) = &timed.timing else { return Vec::new() };
    // Nothing that is worked out from estimates is certain.
    let per_cent = |chance: f64| match chance {
        chance if chance > 0.99 => "over 99 %".to_owned(),
        chance if chance < 0.01 => "under 1 %".to_owned(),
        chance => format!("{:.0} %", chance * 100.0),
    };
    let mut ends = vec![("Ends at", pet(timing.end).to_string())];
    ends.extend(timing.margin_to_plan.map(|minutes| ("Margin to plan", margin(minutes))));
    ends.extend(timing.margin.map(|minutes| ("Margin to limit", margin(minutes))));
    ends.extend(timing.chance_of_plan.map(|chance| ("Ends inside plan", per_cent(chance))));
    ends.extend(timing.chance.map(|chance| ("Ends inside limit", per_cent(chance))));
    ends
}

fn lead(slots: &[SlotView], timed: Option<&PlannedExcursion>, turned: &[TurnedView]) -> String {
    let set = slots.iter().filter(|slot| slot.is_set).count();
    let tasks = |n: usize, word: &str| match n {
        0 => format!("No task is {word}"),
        1 => format!("One task is {word}"),
        n => format!("{n} tasks are {word}"),
    };
    let mut words = tasks(set, "set");
    if slots.len() > set {
        words = format!("{words}, {} pencilled", slots.len() - set);
    }
    words.push('.');
    if let Some(timing) = timed.and_then(|timed| timed.timing.as_ref())
        && !slots.is_empty()
    {
        let inside = timing.margin.map_or_else(String::new, |minutes| {
            if minutes < 0.0 {
                format!(", {} past the limit", clock(-minutes))
            } else {
                format!(", {} inside the limit", clock(minutes))
            }
        });
        words = format!("{words} It ends at {}{inside}.", pet(timing.end));
    }
    match turned.len() {
        0 => words,
        1 => format!("{words} One gate has turned since its slot was set."),
        n => format!("{words} {n} gates have turned since their slots were set."),
    }
}

/// The excursion as it stands, for a form that was refused.
pub(super) async fn planned(
    db: &mut SqliteConnection,
    code: &ExcursionCode,
) -> Result<Excursion, Failure> {
    use crate::store::Kept as _;
    let found = Excursion::find(db, code.as_str()).await?;
    let found = found.ok_or_else(|| Failure::NotFound(Kind::Excursion, code.to_string()))?;
    if found.state == Some(ExcursionState::Planned) {
        Ok(found)
    } else {
        Err(Failure::Refused(format!("{code} is not planned any more.")))
    }
}

impl PlannedPage {
    fn edit(&self) -> String {
        format!("{}/edit", addresses::within("excursions", &self.code))
    }
}

impl SlotView {
    fn waiver_id(&self) -> String {
        format!("waiver-set-{}", self.code)
    }

    fn change_id(&self) -> String {
        format!("waiver-change-{}", self.code)
    }
}
