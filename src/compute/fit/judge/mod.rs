//! Judges cells: one, or all of them.

mod look;
mod question;
mod ways;

use crate::places::{ApproachAt, ExcursionAt, SlotAt, TaskAt};
use typed_index_collections::{TiSlice, TiVec};
pub(super) use ways::no_way;

use look::Looked;
use question::Question;
use ways::{losers, routes_alone};

use super::constants::Constants;
use super::gates;
use super::place::{Base, NoPlace, Search};
use super::ready::{Plan, Ready};
use super::reasons::{Reason, Unknown};
use super::shared::Shared;
use super::snapshot::{Guard, Snapshot, Standing};
use super::verdict::{Cell, Gates, Judgement, Marks, Place};
use domain::words::GateVerdict::{CannotTell, NotMet};
use domain::words::{GateName, GateVerdict};

/// Open items against coming excursions.
#[derive(Debug, Clone, PartialEq)]
pub struct Matrix {
    /// The rows: places in the snapshot's list of tasks.
    pub tasks: Vec<TaskAt>,
    pub excursions: usize,
    cells: Vec<Cell>,
}

impl Matrix {
    /// The cell of the row of that number.
    pub fn cell(&self, row: usize, excursion: ExcursionAt) -> &Cell {
        &self.row(row)[excursion]
    }

    /// A row's cells, excursion by excursion.
    pub fn row(&self, row: usize) -> &TiSlice<ExcursionAt, Cell> {
        TiSlice::from_ref(&self.cells[row * self.excursions..(row + 1) * self.excursions])
    }
}

/// What is asked of one cell; what is left out is chosen: the task's slot there as it stands, else
/// the first approach that is not shut and the best place.
#[derive(Debug, Clone, Default)]
pub struct Ask {
    pub approach: Option<ApproachAt>,
    /// Seat numbers; empty: any.
    pub seats: Vec<u8>,
    /// Right before that slot of the excursion; the count of its slots: after all of them.
    pub before_slot: Option<SlotAt>,
    /// The share to plan, 0 to 1.
    pub share: Option<f64>,
    /// Begun no earlier than that minute of elapsed time.
    pub begin: Option<f64>,
    /// Look for the best place even where the task has a slot there already.
    pub afresh: bool,
}

/// A cell with every reason of every gate.
#[derive(Debug, Clone, PartialEq)]
pub struct Explained {
    pub cell: Cell,
    pub reasons: Vec<(GateName, GateVerdict, Reason)>,
}

impl Explained {
    /// The first of a gate's reasons that gave it its verdict.
    pub fn reason(&self, gate: GateName) -> Reason {
        let verdict = self.cell.gate(gate);
        let says = self.reasons.iter().find(|(name, of, _)| *name == gate && *of == verdict);
        says.map_or(Reason::NotChecked, |(_, _, reason)| *reason)
    }
}

impl Judgement for Explained {
    fn wants_figures(&self) -> bool {
        true
    }

    fn not_met(&self) -> Gates {
        self.cell.not_met()
    }

    fn say(&mut self, gate: GateName, verdict: GateVerdict, reason: Reason) {
        self.reasons.push((gate, verdict, reason));
        self.cell.say(gate, verdict, reason);
    }
}

/// Holds every open item against every coming excursion.
pub fn matrix(snapshot: &Snapshot, constants: &Constants) -> Matrix {
    matrix_where(snapshot, constants, |_, _| true)
}

/// The same for some cells alone: an open item of which none is wanted has no row, and a cell that is
/// not wanted stays blank.
pub fn matrix_where(
    snapshot: &Snapshot,
    constants: &Constants,
    wanted: impl Fn(TaskAt, ExcursionAt) -> bool,
) -> Matrix {
    let mut fit = Fit::new(snapshot, constants);
    let excursions = snapshot.excursions.len();
    let row = |&(at, task): &(TaskAt, &Shared<super::snapshot::Task>)| {
        task.standing == Standing::Open
            && snapshot.excursions.keys().any(|excursion| wanted(at, excursion))
    };
    let tasks: Vec<TaskAt> =
        snapshot.tasks.iter_enumerated().filter(row).map(|(at, _)| at).collect();
    let mut cells = vec![Cell::default(); tasks.len() * excursions];
    // Column by column: an excursion's plan stays at hand for all tasks.
    for excursion in snapshot.excursions.keys() {
        for (row, &task) in tasks.iter().enumerate() {
            if !wanted(task, excursion) {
                continue;
            }
            let cell = &mut cells[row * excursions + usize::from(excursion)];
            (cell.approach, cell.place) = fit.judge(task, excursion, &Ask::default(), cell);
            cell.conclude();
        }
    }
    Matrix { tasks, excursions, cells }
}

/// Holds one task against one excursion, with every reason.
pub fn one_cell(
    snapshot: &Snapshot,
    constants: &Constants,
    task: TaskAt,
    excursion: ExcursionAt,
    ask: &Ask,
) -> Explained {
    explained(&mut Fit::new(snapshot, constants), task, excursion, ask)
}

/// Holds tasks against excursions, with every reason; what does not hang on the cell is worked out once.
pub fn some_cells(
    snapshot: &Snapshot,
    constants: &Constants,
    cells: &[(TaskAt, ExcursionAt)],
    ask: &Ask,
) -> Vec<Explained> {
    let mut fit = Fit::new(snapshot, constants);
    cells.iter().map(|&(task, excursion)| explained(&mut fit, task, excursion, ask)).collect()
}

fn explained(fit: &mut Fit<'_>, task: TaskAt, excursion: ExcursionAt, ask: &Ask) -> Explained {
    let mut explained = Explained { cell: Cell::default(), reasons: Vec::new() };
    let (approach, place) = fit.judge(task, excursion, ask, &mut explained);
    explained.cell.approach = approach;
    explained.cell.place = place;
    explained.cell.conclude();
    explained
}

pub(super) struct Fit<'s> {
    pub ready: Ready<'s>,
    /// Every excursion as planned, where it can be timed.
    pub bases: TiVec<ExcursionAt, Result<Base, Unknown>>,
    /// For each task that brings in an aid: the first excursion from each on that would lose
    /// its way, and the task set there.
    pub losers: TiVec<TaskAt, TiVec<ExcursionAt, Option<(ExcursionAt, TaskAt)>>>,
    search: Search,
}

impl<'s> Fit<'s> {
    pub fn new(snapshot: &'s Snapshot, constants: &Constants) -> Self {
        let ready = Ready::new(snapshot, constants);
        let bases: TiVec<ExcursionAt, Result<Base, Unknown>> =
            ready.plans.iter().map(|plan| base(&ready, plan)).collect();
        let losers = snapshot.tasks.keys().map(|task| losers(&ready, &bases, task)).collect();
        Self { ready, bases, losers, search: Search::default() }
    }

    fn judge(
        &mut self,
        task: TaskAt,
        excursion: ExcursionAt,
        ask: &Ask,
        judge: &mut impl Judgement,
    ) -> (Option<ApproachAt>, Option<Place>) {
        let snapshot = self.ready.snapshot;
        let slots = &snapshot.excursions[excursion].slots;
        let own = slots.position(|slot| slot.task == task);
        let kept = own.filter(|_| !ask.afresh);
        let approaches = &snapshot.tasks[task].approaches;
        let chosen = ask
            .approach
            .or(kept.and_then(|slot| slots[slot].approach))
            .filter(|&at| approaches.get(at).is_some())
            .or_else(|| first_free(snapshot, task));
        let approach = chosen.map(|at| &approaches[at]);
        gates::seats(&self.ready, task, chosen, excursion, judge);
        gates::approach(&self.ready, task, chosen, judge);
        gates::order(&self.ready, task, excursion, judge);
        gates::tools(&self.ready, approach, excursion, judge);
        gates::remedies(chosen.zip(approach), judge);
        gates::rehearsal(&self.ready, task, chosen, excursion, judge);
        if let Some(slot) = kept.map(|slot| &slots[slot]) {
            let then = (&slot.fallbacks[..], slot.seats.len());
            gates::fallbacks(&self.ready, task, excursion, then, judge);
        }
        gates::back_inside(&self.ready, task, excursion, judge);
        gates::needed_by(&self.ready, task, excursion, judge);
        let asked = Question { task, excursion, approach: chosen, ask, own, kept };
        (chosen, self.time(&asked, judge))
    }

    /// The time gate and the routes gate, which rest on the place in the lanes.
    fn time(&mut self, asked: &Question, judge: &mut impl Judgement) -> Option<Place> {
        let ready = &self.ready;
        // A slot that is set stands in the plan itself: it is taken out and looked at anew.
        let without = asked.own.and_then(|slot| ready.plan_without(asked.excursion, slot));
        let without = without.as_ref();
        let own_base = without.map(|plan| base(ready, plan));
        let plan = without.unwrap_or(&ready.plans[asked.excursion]);
        let base = own_base.as_ref().unwrap_or(&self.bases[asked.excursion]);
        let candidate = asked.candidate(ready, plan, judge);
        routes_alone(ready, plan, asked, judge);
        if let Some((excursion, loser)) = self.loser(asked) {
            let aid = ready.aids.brings_in[asked.task].first().copied().unwrap_or_default();
            let (task, excursion) = (loser, excursion);
            judge.say(GateName::Routes, NotMet, Reason::TakesWayFrom { aid, task, excursion });
        }
        let found = match (base, &candidate) {
            (Ok(base), Some(candidate)) => {
                let at = Looked { ready, plan, base, candidate, asked };
                let refused = refused(ready, asked, judge);
                let found = at.find(&mut self.search, refused, asked.is_brief(judge));
                found.map_err(|why| no_place(ready, asked.task, why, judge)).ok()
            }
            (Err(unknown), _) => {
                judge.say(GateName::Time, CannotTell, Reason::Unknown(*unknown));
                None
            }
            (Ok(_), None) => None,
        };
        gates::bag(ready, plan, asked.task, judge);
        if let (Some(searched), Ok(base), Some(candidate)) = (found, base, &candidate) {
            let at = Looked { ready, plan, base, candidate, asked };
            at.tell(&searched, asked.is_brief(judge), judge);
            Some(searched.found.place)
        } else {
            without_place(ready, plan, asked, judge);
            None
        }
    }

    /// A later excursion on which a set slot would lose its way.
    fn loser(&self, asked: &Question) -> Option<(ExcursionAt, TaskAt)> {
        self.losers[asked.task].get(asked.excursion.next()).copied().flatten()
    }
}

/// The checks that fail wherever the task goes: those that were not met before a place was looked
/// for, and those that are not met without one.
fn refused(ready: &Ready, asked: &Question, judge: &impl Judgement) -> Gates {
    let Question { task, excursion, .. } = *asked;
    let mut anywhere = Marks::default();
    gates::lighting(ready, task, excursion, None, &mut anywhere);
    gates::inhibits(ready, task, excursion, None, &mut anywhere);
    anywhere.not_met.or(judge.not_met())
}

/// What the checks say that rest on a place, where there is none.
fn without_place(ready: &Ready, plan: &Plan, asked: &Question, judge: &mut impl Judgement) {
    let Question { task, excursion, approach, .. } = *asked;
    gates::arm(ready, task, excursion, None, judge);
    gates::lighting(ready, task, excursion, None, judge);
    gates::supplies_without_place(ready, plan, task, judge);
    gates::inhibits(ready, task, excursion, None, judge);
    gates::trained(ready, task, approach, excursion, None, judge);
    gates::fallbacks_trained(ready, task, asked.fallbacks(ready), excursion, None, judge);
}

fn no_place(ready: &Ready, task: TaskAt, why: NoPlace, judge: &mut impl Judgement) {
    let reason = match why {
        NoPlace::Order => {
            judge.say(GateName::Order, NotMet, Reason::NoPlaceInOrder);
            Reason::NoPlaceInOrder
        }
        NoPlace::Way(unknown) => {
            no_way(ready, task, unknown, judge);
            Reason::Unknown(unknown)
        }
    };
    judge.say(GateName::Time, CannotTell, reason);
}

fn base(ready: &Ready, plan: &Plan) -> Result<Base, Unknown> {
    match plan.unknown.first() {
        Some(&unknown) => Err(unknown),
        None => Base::of(ready, plan).map_err(|(_, unknown)| unknown),
    }
}

/// The first approach that may be set; the first of all where none may.
pub(super) fn first_free(snapshot: &Snapshot, task: TaskAt) -> Option<ApproachAt> {
    let approaches = &snapshot.tasks[task].approaches;
    let may = |guard: Guard| match guard {
        Guard::Free | Guard::Questioned | Guard::NotRecorded => true,
        Guard::Blocked | Guard::Drafted | Guard::Withdrawn => false,
    };
    let free = approaches.position(|approach| may(approach.guard));
    free.or(if approaches.is_empty() { None } else { Some(ApproachAt::default()) })
}
