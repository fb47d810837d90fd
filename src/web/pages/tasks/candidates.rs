//! The coming excursions on which a task could be put: each with its gates, and what can be done
//! there.

use crate::forms::{Choice, FieldView, Width};
use crate::pages::gates::{self, GateLine};
use crate::pages::slots::asked::{CellAt, show_approach};
use crate::pages::slots::fields::{WaiverView, reason, reason_of_move, waived};
use crate::pages::slots::form::Typed;
use crate::pages::worth::{self, OpeningLine};
use crate::visitor::Viewer;
use app::fit::Judged;
use app::whole_task::WholeTask;
use compute::fit::{self, ExcursionAt, Guard, margin, room_words};
use domain::cells::{Cells, FieldError};
use domain::repeat_guard::Approach;
use domain::roles::{Action, may};
use domain::slots::Slot;
use domain::time::Day;
use domain::verdicts::is_against;
use domain::words::{GateName, GateVerdict, SlotState, SlotVerdict, TaskState};

/// One coming excursion.
pub(crate) struct Candidate {
    pub excursion: String,
    pub day: Option<Day>,
    pub verdict: SlotVerdict,
    /// Left before the limit at P80 with the set tasks and this one.
    pub left: String,
    /// What the excursion has left as it is planned.
    pub room: String,
    pub why: String,
    /// The first one is shown open.
    pub open: bool,
    pub gates: Vec<GateLine>,
    /// What its value is there; empty where there is no place for it.
    pub worth: String,
    /// What would make it fit, where that was looked for.
    pub openings: Option<Vec<OpeningLine>>,
    /// `T-0142:E-37.2`, as the matrix names it.
    pub cell: String,
    pub held: Option<SlotHere>,
    pub plan: Option<Plan>,
    pub waiver: Option<WaiverView>,
}

/// The slot that stands there.
pub(crate) struct SlotHere {
    pub code: String,
    pub state: SlotState,
    pub waived: String,
    pub may_set: bool,
    pub take_off: Option<Vec<FieldView>>,
    pub move_away: Option<Vec<FieldView>>,
}

/// Pencils the task there, or sets it.
pub(crate) struct Plan {
    pub fields: Vec<FieldView>,
    pub before: String,
    pub may_set: bool,
}

pub(super) fn of(whole: &WholeTask, viewer: &Viewer) -> Vec<Candidate> {
    let rests = whole.standing.as_ref().is_some_and(|stand| stand.state == TaskState::Parked);
    let shown = CandidateContext { whole, viewer, rests };
    // What is set or pencilled is what a reader looks for first.
    let mut all: Vec<Candidate> = whole
        .fit
        .candidates
        .iter()
        .zip(&whole.fit.left)
        .map(|(cell, left)| shown.candidate(cell, *left))
        .collect();
    all.sort_by_key(|candidate| candidate.held.is_none());
    if let Some(first) = all.first_mut() {
        first.open = true;
    }
    all
}

struct CandidateContext<'a> {
    whole: &'a WholeTask,
    viewer: &'a Viewer,
    rests: bool,
}

impl CandidateContext<'_> {
    fn candidate(&self, (at, judged): &(ExcursionAt, Judged), left: Option<f64>) -> Candidate {
        let at = *at;
        let excursion = &self.whole.fit.board.excursions[at];
        let code = excursion.code.0.clone();
        let cell = CellAt { task: self.whole.task.code.0.clone(), excursion: code.clone() };
        let held = self.whole.slots.iter().find(|(slot, _)| slot.excursion == code);
        let role = self.viewer.actor.role;
        let may_set = may(role, Action::SetSlot) && !self.rests;
        let against: Vec<GateName> = judged
            .verdicts()
            .into_iter()
            .filter(|(_, verdict)| is_against(*verdict))
            .map(|(gate, _)| gate)
            .collect();
        let is_set = held.is_some_and(|(slot, _)| slot.state == SlotState::Set);
        let place = code.as_str().to_lowercase();
        let waivable = may_set && !is_set;
        let waiver = waivable.then(|| WaiverView::against(&place, &against, &Typed::default()));
        Candidate {
            day: excursion.day,
            verdict: judged.verdict,
            left: left.map_or_else(|| "–".to_owned(), margin),
            room: self.whole.fit.rooms.get(at).map_or_else(String::new, room_words),
            why: why(judged),
            open: false,
            gates: gates::lines(judged),
            worth: self.worth(at, judged),
            openings: self
                .whole
                .fit
                .openings
                .iter()
                .find(|(there, _)| *there == at)
                .map(|(_, told)| worth::openings(told)),
            cell: cell.show(),
            plan: (held.is_none() && may(role, Action::Pencil) && !self.rests)
                .then(|| self.plan(at, judged, may_set)),
            held: held.map(|(slot, made_by)| self.held(slot, made_by, may_set)),
            waiver: waiver.flatten(),
            excursion: code.to_string(),
        }
    }

    fn worth(&self, at: ExcursionAt, judged: &Judged) -> String {
        let board = &self.whole.fit.board;
        let task = board.task_at(&self.whole.task.code.0);
        let (Some(task), Some(place)) = (task, judged.place) else { return String::new() };
        worth::here(&board.values.worth_with(&board.snapshot, task, at, place.chance))
    }

    fn plan(&self, at: ExcursionAt, judged: &Judged, may_set: bool) -> Plan {
        let excursion = &self.whole.fit.board.excursions[at];
        let place = excursion.code.0.as_str().to_lowercase();
        let all: Vec<String> = excursion.seats.numbers().map(|seat| format!("EV{seat}")).collect();
        let beside = self.place_beside_pencilled(at, judged);
        let best = beside.map(|place| {
            let lanes = place.lanes.each().filter_map(|lane| all.get(lane).cloned());
            lanes.collect::<Vec<_>>().join(", ")
        });
        let mut seats: Vec<Choice> = all.iter().map(|seat| Choice::new(seat, seat)).collect();
        if all.len() > 1 {
            seats.push(Choice::new(all.join(", "), all.join(" and ")));
        }
        let chosen = best.or_else(|| all.first().cloned()).unwrap_or_default();
        let by = judged.approach.clone().unwrap_or_default();
        let mut fields = vec![
            FieldView::new("approach", "Approach, best first")
                .choosing(self.approaches())
                .holding(show_approach(by.technique.as_ref(), by.side.as_ref())),
            FieldView::new("seats", "Seats").choosing(seats).holding(chosen).wide(Width::Small),
            FieldView::new("share", "% planned")
                .hinting("Left empty: all that is left.")
                .wide(Width::Small),
        ];
        for field in &mut fields {
            field.id = format!("{}-{place}", field.id);
        }
        let slots = &self.whole.fit.board.slots[at];
        let before = beside.and_then(|place| slots.get(place.before_slot));
        let before = before.map_or_else(String::new, |slot| slot.code.0.to_string());
        Plan { fields, before, may_set }
    }

    /// Where it would go beside the pencilled tasks, for the seats that the form offers first.
    fn place_beside_pencilled(&self, at: ExcursionAt, judged: &Judged) -> Option<fit::Place> {
        judged.place?;
        let board = &self.whole.fit.board;
        let task = board.task_at(&self.whole.task.code.0)?;
        let ask = fit::Ask { approach: judged.approach_at, ..fit::Ask::default() };
        board.place_beside_pencilled(task, at, &ask).or(judged.place)
    }

    fn approaches(&self) -> Vec<Choice> {
        let at = self.whole.fit.board.task_at(&self.whole.task.code.0);
        let ways: &[fit::Approach] =
            at.map_or(&[], |at| &self.whole.fit.board.snapshot.tasks[at].approaches.raw);
        let choice = |way: &fit::Approach| {
            let approach = Approach { technique: way.technique.clone(), side: way.side.clone() };
            let stands = match way.guard {
                Guard::Free => "",
                Guard::Questioned => " · questioned",
                Guard::Blocked => " · blocked",
                Guard::NotRecorded => " · cannot tell",
                Guard::Drafted => " · drafted",
                Guard::Withdrawn => " · withdrawn",
            };
            let value = show_approach(way.technique.as_ref(), way.side.as_ref());
            Choice::new(value, format!("{approach}{stands}"))
        };
        let mut choices: Vec<Choice> = ways.iter().map(choice).collect();
        if choices.iter().all(|choice| choice.value != ",") {
            choices.push(Choice::new(",", "not chosen yet"));
        }
        choices
    }

    fn held(&self, slot: &Slot, made_by: &str, may_set: bool) -> SlotHere {
        let role = self.viewer.actor.role;
        let is_set = slot.state == SlotState::Set;
        let own = made_by == self.viewer.actor.name;
        let may_take_off = may(
            role,
            match slot.state {
                SlotState::Set => Action::DeferBeforeLaunch,
                _ if own => Action::WithdrawOwnPencil,
                _ => Action::WithdrawAnyPencil,
            },
        );
        SlotHere {
            code: slot.code.0.to_string(),
            state: slot.state,
            waived: waived(slot),
            may_set: may_set && !is_set,
            take_off: may_take_off
                .then(|| if is_set { why_it_leaves(slot, "off", reason) } else { Vec::new() }),
            move_away: may_take_off.then(|| self.away(slot)).filter(|fields| !fields.is_empty()),
        }
    }

    fn away(&self, slot: &Slot) -> Vec<FieldView> {
        let others: Vec<Choice> = self
            .whole
            .fit
            .board
            .excursions
            .iter()
            .map(|excursion| excursion.code.0.as_str())
            .filter(|code| *code != slot.excursion.as_str())
            .map(|code| Choice::new(code, code))
            .collect();
        if others.is_empty() {
            return Vec::new();
        }
        let mut to = FieldView::new("to", "To excursion").choosing(others).wide(Width::Small);
        to.id = format!("f-to-{}", slot.code.0);
        let mut fields = vec![to];
        if slot.state == SlotState::Set {
            fields.extend(why_it_leaves(slot, "away", reason_of_move));
        }
        fields
    }
}

/// Why a set slot leaves its excursion; `form` tells the forms of the page apart.
fn why_it_leaves(
    slot: &Slot,
    form: &str,
    fields: fn(&str, &Cells, &[FieldError]) -> [FieldView; 2],
) -> Vec<FieldView> {
    fields(&format!("{form}-{}", slot.code.0), &Cells::default(), &[]).to_vec()
}

/// What decides, in the words of the checks of the worst verdict; the notes where all are met.
fn why(judged: &Judged) -> String {
    let order =
        [GateVerdict::NotMet, GateVerdict::CannotTell, GateVerdict::Tight, GateVerdict::Note];
    for verdict in order {
        let named: Vec<&str> = judged
            .gates
            .iter()
            .filter(|gate| gate.verdict == verdict)
            .map(|gate| gates::in_a_word(gate.gate))
            .collect();
        if !named.is_empty() {
            return format!("{verdict}: {}", named.join(", "));
        }
    }
    String::new()
}
