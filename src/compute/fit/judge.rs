//! Judges cells: one, or all of them.

use super::constants::Constants;
use super::gates;
use super::place::{Base, Candidate, Found, Grade, NoPlace, Search};
use super::ready::{Plan, Practised, Ready, Sequence};
use super::reasons::{Reason, Unknown, index};
use super::snapshot::{Approach, ExcursionAt, Guard, SlotAt, Snapshot, Standing, TaskAt};
use super::verdict::{Cell, Judgement, Place};
use crate::timeline::Lanes;
use domain::words::GateVerdict::{CannotTell, Met, NotChecked, NotMet, Note, Tight};
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
        &self.cells[row * self.excursions + excursion]
    }

    /// A row's cells, excursion by excursion.
    pub fn row(&self, row: usize) -> &[Cell] {
        &self.cells[row * self.excursions..(row + 1) * self.excursions]
    }
}

/// What is asked of one cell; what is left out is chosen: the task's slot there as it stands, else
/// the first approach that is not shut and the best place.
#[derive(Debug, Clone, Default)]
pub struct Ask {
    /// A place in the task's list of approaches.
    pub approach: Option<usize>,
    /// Seat numbers; empty: any.
    pub seats: Vec<u8>,
    /// Right before that slot of the excursion; the count of its slots: after all of them.
    pub before_slot: Option<SlotAt>,
    /// The share to plan, 0 to 1.
    pub share: Option<f64>,
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

    fn say(&mut self, gate: GateName, verdict: GateVerdict, reason: Reason) {
        self.reasons.push((gate, verdict, reason));
        self.cell.say(gate, verdict, reason);
    }
}

/// Holds every open item against every coming excursion.
pub fn matrix(snapshot: &Snapshot, constants: &Constants) -> Matrix {
    let mut fit = Fit::new(snapshot, constants);
    let row = |&(_, task): &(TaskAt, &super::snapshot::Task)| task.standing == Standing::Open;
    let tasks: Vec<TaskAt> =
        snapshot.tasks.iter().enumerate().filter(row).map(|(at, _)| at).collect();
    let excursions = snapshot.excursions.len();
    let mut cells = vec![Cell::default(); tasks.len() * excursions];
    // Column by column: an excursion's plan stays at hand for all tasks.
    for excursion in 0..excursions {
        for (row, &task) in tasks.iter().enumerate() {
            let cell = &mut cells[row * excursions + excursion];
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
    let mut fit = Fit::new(snapshot, constants);
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
    pub bases: Vec<Result<Base, Unknown>>,
    /// For each task that brings in an aid: the first excursion from each on that would lose
    /// its way, and the task set there.
    pub losers: Vec<Vec<Option<(ExcursionAt, TaskAt)>>>,
    search: Search,
}

impl<'s> Fit<'s> {
    pub fn new(snapshot: &'s Snapshot, constants: &Constants) -> Self {
        let ready = Ready::new(snapshot, constants);
        let bases: Vec<Result<Base, Unknown>> =
            ready.plans.iter().map(|plan| base(&ready, plan)).collect();
        let losers = (0..snapshot.tasks.len()).map(|task| losers(&ready, &bases, task)).collect();
        Self { ready, bases, losers, search: Search::default() }
    }

    fn judge(
        &mut self,
        task: TaskAt,
        excursion: ExcursionAt,
        ask: &Ask,
        judge: &mut impl Judgement,
    ) -> (Option<usize>, Option<Place>) {
        let snapshot = self.ready.snapshot;
        let slots = &snapshot.excursions[excursion].slots;
        let own = slots.iter().position(|slot| slot.task == task);
        let kept = own.filter(|_| !ask.afresh);
        let approaches = &snapshot.tasks[task].approaches;
        let chosen = ask
            .approach
            .or(kept.and_then(|slot| slots[slot].approach))
            .filter(|&at| at < approaches.len())
            .or_else(|| first_free(snapshot, task));
        let approach = chosen.map(|at| &approaches[at]);
        gates::seats(&self.ready, task, chosen, excursion, judge);
        gates::approach(&self.ready, task, chosen, judge);
        gates::order(&self.ready, task, excursion, judge);
        gates::tools(&self.ready, approach, excursion, judge);
        gates::remedies(chosen.zip(approach), judge);
        gates::rehearsal(&self.ready, task, chosen, excursion, judge);
        gates::back_inside(&self.ready, task, excursion, judge);
        gates::needed_by(&self.ready, task, excursion, judge);
        let asked = Asked { task, excursion, approach: chosen, ask, own, kept };
        (chosen, self.time(&asked, judge))
    }

    /// The time gate and the routes gate, which rest on the place in the lanes.
    fn time(&mut self, asked: &Asked, judge: &mut impl Judgement) -> Option<Place> {
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
            let aid = index(ready.aids.brings_in[asked.task].first().copied().unwrap_or_default());
            let (task, excursion) = (index(loser), index(excursion));
            judge.say(GateName::Routes, NotMet, Reason::TakesWayFrom { aid, task, excursion });
        }
        let found = match (base, &candidate) {
            (Ok(base), Some(candidate)) => {
                let at = Looked { ready, plan, base, candidate, asked };
                let found = at.find(&mut self.search);
                found.map_err(|why| no_place(ready, asked.task, why, judge)).ok()
            }
            (Err(unknown), _) => {
                judge.say(GateName::Time, CannotTell, Reason::Unknown(*unknown));
                None
            }
            (Ok(_), None) => None,
        };
        gates::bag(ready, plan, asked.task, judge);
        if let (Some(found), Ok(base), Some(candidate)) = (found, base, &candidate) {
            let at = Looked { ready, plan, base, candidate, asked };
            at.checks(&found, judge);
            at.time(&found, judge);
            Some(found.place)
        } else {
            without_place(ready, plan, asked, judge);
            None
        }
    }

    /// A later excursion on which a set slot would lose its way.
    fn loser(&self, asked: &Asked) -> Option<(ExcursionAt, TaskAt)> {
        self.losers[asked.task].get(asked.excursion + 1).copied().flatten()
    }
}

/// A task with the plan in which it is looked for.
struct Looked<'a, 's> {
    ready: &'a Ready<'s>,
    plan: &'a Plan,
    base: &'a Base,
    candidate: &'a Candidate,
    asked: &'a Asked<'a>,
}

/// Where the earliest end has less of a chance than this, and lies past the limit at the mean, a
/// later one with a chance of one half is not looked for. At 0.35 some that wait for the arm were
/// passed over.
const HOPELESS: f64 = 0.01;

/// Where the earliest end is tight by more than this, a later one is not looked for.
const NEAR: f64 = 0.1;

impl Looked<'_, '_> {
    /// The best place; where a check fails there, the best of all that pass.
    fn find(&self, search: &mut Search) -> Result<Found, NoPlace> {
        let Self { ready, plan, base, candidate, .. } = *self;
        let mut clash = None;
        if !base.tied && !candidate.brings_in {
            let found = search.best(ready, plan, base, candidate)?;
            let hopeless = found.place.chance < HOPELESS && found.place.margin < 0.0;
            let pair = self.clash(&found);
            let time = self.time_grade(&found);
            let far = found.place.chance < ready.constants.met_from - NEAR;
            let enough = time == Grade::Passes || (time == Grade::Tight && far);
            let passes = || enough && self.checks_grade(&found) == Grade::Passes;
            if pair.is_none() && (hopeless || passes()) {
                return Ok(found);
            }
            clash = pair.and_then(|pair| self.rival(found.position, pair));
        }
        let mut found = Search::complete(ready, plan, base, candidate, |found| self.grade(found))?;
        if found.waits_for.is_none() && self.grade(&found) == Grade::Fails {
            // With one more of the tool the first place would do.
            found.waits_for = clash;
        }
        Ok(found)
    }

    /// Two stops, the task counted among them, of which one has to wait for a tool of the other.
    fn clash(&self, found: &Found) -> Option<(usize, usize)> {
        let Self { ready, plan, base, candidate, .. } = *self;
        let uses = plan.sequence.uses_with(found.position, &candidate.tools);
        let twice = |&(tool, at): &(usize, usize)| {
            uses.iter().any(|&(other, place)| other == tool && place != at)
        };
        let shared = uses.iter().any(twice);
        if shared { ready.clash(&uses, found.blocks(ready, plan, base, candidate)) } else { None }
    }

    /// The tool and the task with which this one clashes.
    fn rival(&self, position: usize, (first, then): (usize, usize)) -> Option<(usize, TaskAt)> {
        let Self { ready, plan, candidate, .. } = *self;
        let other = if first == position { then } else { first };
        let place = if other > position { other - 1 } else { other };
        let mut held = plan.sequence.uses.iter().filter(|(_, at)| *at == place);
        let tool = held.find(|(tool, _)| candidate.tools.contains(tool))?.0;
        let among = first == position || then == position;
        among.then(|| (tool, ready.task_of(plan, place)))
    }

    /// What the checks say of a place that may say otherwise of another.
    fn grade(&self, found: &Found) -> Grade {
        self.checks_grade(found).max(self.time_grade(found))
    }

    fn time_grade(&self, found: &Found) -> Grade {
        match self.ready.constants.by_chance(found.place.chance) {
            NotMet | CannotTell => Grade::Fails,
            Tight => Grade::Tight,
            Met | Note | NotChecked => Grade::Passes,
        }
    }

    /// The same, the chance to end in time left out.
    fn checks_grade(&self, found: &Found) -> Grade {
        let mut cell = Cell::default();
        self.checks(found, &mut cell);
        if cell.gates().any(|(_, verdict)| verdict == NotMet) {
            return Grade::Fails;
        }
        let tight = |gate| cell.gate(gate) == Tight;
        let elsewhere = [GateName::Arm, GateName::Lighting, GateName::Supplies, GateName::Time];
        if elsewhere.into_iter().any(tight) { Grade::Tight } else { Grade::Passes }
    }

    /// The checks that rest on the place in the lanes, the chance to end in time left out.
    fn checks(&self, found: &Found, judge: &mut impl Judgement) {
        let Self { ready, plan, base, candidate, asked } = *self;
        let Asked { task, excursion, approach, .. } = *asked;
        gates::arm(ready, task, excursion, Some(found), judge);
        gates::lighting(ready, task, excursion, Some(found), judge);
        gates::supplies(ready, plan, base, candidate, found, judge);
        gates::inhibits(ready, task, excursion, Some(found), judge);
        gates::trained(ready, task, approach, excursion, Some(found.stop.lanes), judge);
        gates::pushes(ready, plan, base, candidate, found, judge);
    }

    /// The chance to end in time; and the tool or the inhibit that it waits for too long.
    fn time(&self, found: &Found, judge: &mut impl Judgement) {
        let verdict = self.ready.constants.on_time(&found.figures);
        judge.say(GateName::Time, verdict, Reason::Time(found.figures));
        gates::bounds(self.ready, GateName::Time, verdict, judge);
        if verdict != NotMet {
            return;
        }
        let Asked { task, excursion, .. } = *self.asked;
        gates::late_inhibits(self.ready, task, excursion, found, judge);
        if let Some((tool, task)) = found.waits_for {
            let reason = Reason::ToolInOtherHands { tool: index(tool), task: index(task) };
            judge.say(GateName::Tools, NotMet, reason);
        }
    }
}

/// What the checks say that rest on a place, where there is none.
fn without_place(ready: &Ready, plan: &Plan, asked: &Asked, judge: &mut impl Judgement) {
    let Asked { task, excursion, approach, .. } = *asked;
    gates::arm(ready, task, excursion, None, judge);
    gates::lighting(ready, task, excursion, None, judge);
    gates::supplies_without_place(ready, plan, task, judge);
    gates::inhibits(ready, task, excursion, None, judge);
    gates::trained(ready, task, approach, excursion, None, judge);
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

/// One question: a task, an excursion, and what is fixed.
struct Asked<'a> {
    task: TaskAt,
    excursion: ExcursionAt,
    approach: Option<usize>,
    ask: &'a Ask,
    /// The task's own slot there.
    own: Option<SlotAt>,
    /// The same, where the task is asked about as it stands in it.
    kept: Option<SlotAt>,
}

impl Asked<'_> {
    fn used<'r>(&self, ready: &'r Ready) -> Option<&'r Approach> {
        self.approach.map(|at| &ready.snapshot.tasks[self.task].approaches[at])
    }

    /// The task with all that its place depends on; `None`, with the reasons said, where
    /// something is not known.
    fn candidate(
        &self,
        ready: &Ready,
        plan: &Plan,
        judge: &mut impl Judgement,
    ) -> Option<Candidate> {
        let snapshot = ready.snapshot;
        let slot = self.kept.map(|slot| &snapshot.excursions[self.excursion].slots[slot]);
        let mut known = true;
        let mut lacks = |what: Unknown| {
            known = false;
            judge.say(GateName::Time, CannotTell, Reason::Unknown(what));
        };
        for &what in &plan.unknown {
            lacks(what);
        }
        let site = ready.site(self.task, &mut lacks);
        let share = self.ask.share.or(slot.and_then(|slot| slot.share));
        let share = share.unwrap_or(snapshot.tasks[self.task].share_left);
        let work = ready.work(self.task, self.approach, share, &mut lacks);
        let takes = gates::seats_taken(ready, self.task, self.approach);
        if takes.is_none() {
            lacks(Unknown::TaskSeats { task: index(self.task) });
        }
        let seats = match slot {
            Some(slot) if self.ask.seats.is_empty() => &slot.seats,
            Some(_) | None => &self.ask.seats,
        };
        let lanes = ready.lanes(self.excursion, seats);
        if lanes.is_none() && !seats.is_empty() {
            let (excursion, task) = (index(self.excursion), index(self.task));
            lacks(Unknown::SlotSeats { excursion, task });
        }
        let takes = takes.unwrap_or(1);
        if let Some(chosen) = lanes.map(Lanes::count).filter(|&chosen| chosen < takes) {
            let (takes, chosen) = (gates::small(takes), gates::small(chosen));
            judge.say(GateName::Seats, NotMet, Reason::SeatsChosen { takes, chosen });
        }
        if lanes.is_none() && takes > plan.lanes {
            // The seats gate has said it; no place can be looked for.
            judge.say(GateName::Time, CannotTell, seats_too_few(takes, plan.lanes));
            return None;
        }
        let (earliest, latest) = self.bounds(ready, plan);
        known.then(|| Candidate {
            task: self.task,
            stop: ready.stop_at(
                (self.excursion, self.task, self.approach),
                site,
                Lanes::default(),
                work,
            ),
            seats: takes,
            lanes,
            apt: self.apt(ready, plan.lanes),
            earliest,
            latest,
            needs: stops_of(ready, plan, &snapshot.tasks[self.task].needs),
            needed_by: stops_of(ready, plan, &ready.needed_by[self.task]),
            brings_in: !ready.aids.brings_in[self.task].is_empty(),
            tools: ready.scarce_tools(self.task, self.approach, plan.lanes).collect(),
        })
    }

    /// Where the technique demands training, the lanes of those who have it; else all of them.
    fn apt(&self, ready: &Ready, lanes: usize) -> Lanes {
        let all = Lanes::up_to(lanes);
        let Some(at) =
            self.approach.filter(|_| self.used(ready).is_some_and(|by| by.training_demanded))
        else {
            return all;
        };
        let crew = &ready.snapshot.excursions[self.excursion].seat_crew;
        let has = |lane: usize| {
            let who = crew.get(lane).copied().flatten();
            who.is_some_and(|who| *ready.trained(self.task, at, who) != Practised::Never)
        };
        all.each().filter(|&lane| has(lane)).fold(Lanes::default(), Lanes::and)
    }

    /// The positions in the order that keep what it needs before it and what needs it after it,
    /// and that were asked for. None are left where the first is greater than the last.
    fn bounds(&self, ready: &Ready, plan: &Plan) -> (usize, usize) {
        let stop = |&task: &TaskAt| plan.stop_of(ready.snapshot, task);
        let needs = ready.snapshot.tasks[self.task].needs.iter();
        let after = needs.filter_map(stop).map(|stop| stop + 1).max().unwrap_or(0);
        let needed_by = ready.needed_by[self.task].iter();
        let before = needed_by.filter_map(stop).min().unwrap_or(plan.slots.len());
        let Some(slot) = self.ask.before_slot.or(self.kept) else { return (after, before) };
        let position = plan.slots.iter().filter(|&&other| other < slot).count();
        (after.max(position), before.min(position))
    }
}

fn seats_too_few(takes: usize, there: usize) -> Reason {
    Reason::SeatsTooFew { takes: gates::small(takes), there: gates::small(there) }
}

fn base(ready: &Ready, plan: &Plan) -> Result<Base, Unknown> {
    match plan.unknown.first() {
        Some(&unknown) => Err(unknown),
        None => Base::of(ready, plan).map_err(|(_, unknown)| unknown),
    }
}

/// The first approach that may be set; the first of all where none may.
pub(super) fn first_free(snapshot: &Snapshot, task: TaskAt) -> Option<usize> {
    let approaches = &snapshot.tasks[task].approaches;
    let may = |guard: Guard| match guard {
        Guard::Free | Guard::InQuestion | Guard::NotRecorded => true,
        Guard::Shut | Guard::Drafted | Guard::Withdrawn => false,
    };
    let free = approaches.iter().position(|approach| may(approach.guard));
    free.or(if approaches.is_empty() { None } else { Some(0) })
}

fn stops_of(ready: &Ready, plan: &Plan, tasks: &[TaskAt]) -> Vec<usize> {
    tasks.iter().filter_map(|&task| plan.stop_of(ready.snapshot, task)).collect()
}

/// Whether there is a way from the airlock to the task's worksite and back when the excursion
/// begins.
fn routes_alone(ready: &Ready, plan: &Plan, asked: &Asked, judge: &mut impl Judgement) {
    let here = &ready.snapshot.excursions[asked.excursion];
    let mut lacks = |what| judge.say(GateName::Routes, CannotTell, Reason::Unknown(what));
    let Some(airlock) = here.airlock else {
        return lacks(Unknown::Airlock { excursion: index(asked.excursion) });
    };
    let Some(site) = ready.snapshot.tasks[asked.task].site else {
        return lacks(Unknown::Site { task: index(asked.task) });
    };
    let set = plan.sequence.first;
    let network = ready.aids.network(set);
    let (out, home) = (network.minutes(airlock, site), network.minutes(site, airlock));
    match (out, home) {
        (Some(out), Some(_)) => {
            let minutes = u16::try_from(out).unwrap_or(u16::MAX);
            judge.say(GateName::Routes, Met, Reason::WayThere { minutes });
        }
        (None, _) => no_way(ready, asked.task, ready.aids.no_way(set, airlock, site), judge),
        (Some(_), None) => no_way(ready, asked.task, ready.aids.no_way(set, site, airlock), judge),
    }
}

pub(super) fn no_way(ready: &Ready, task: TaskAt, unknown: Unknown, judge: &mut impl Judgement) {
    let (verdict, reason) = match (unknown, ready.snapshot.tasks[task].site) {
        (Unknown::WayWithoutAid { aid, .. }, Some(site)) => {
            (NotMet, Reason::WayNeedsAid { site: index(site), aid })
        }
        (unknown, _) => (CannotTell, Reason::Unknown(unknown)),
    };
    judge.say(GateName::Routes, verdict, reason);
}

/// For every excursion: the first from there on whose plan could not be flown without the aids
/// that the task brings in, and the task set there.
fn losers(
    ready: &Ready,
    bases: &[Result<Base, Unknown>],
    task: TaskAt,
) -> Vec<Option<(ExcursionAt, TaskAt)>> {
    if ready.aids.brings_in[task].is_empty() {
        return Vec::new();
    }
    let mut first = None;
    let mut losers = vec![None; ready.plans.len()];
    for (excursion, plan) in ready.plans.iter().enumerate().rev() {
        let first_set = ready.aids.without(plan.sequence.first, task);
        let without = Sequence { first: first_set, ..plan.sequence.clone() };
        let settled = bases[excursion].as_ref().map(|_| ready.settle(&plan.frame(ready), &without));
        if let Ok(Err((place, _))) = settled {
            let stop = place.min(plan.slots.len().saturating_sub(1));
            first = (!plan.slots.is_empty()).then(|| (excursion, ready.task_of(plan, stop)));
        }
        losers[excursion] = first;
    }
    losers
}
