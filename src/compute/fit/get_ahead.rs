//! What can still be done and brought home from where the crew stands now, with the minutes left,
//! the seats that are free and the tools in hand.

use super::constants::Constants;
use super::gates;
use super::judge::{Explained, Fit, first_free, no_way};
use super::place::{Found, Inside, chances, down, narrow, up};
use super::ready::Passable;
use super::reasons::{Reason, TimeFigures, Unknown};
use super::snapshot::{Approach, Snapshot, Standing};
use super::verdict::{Cell, Judgement as _, Place};
use crate::places::{ApproachAt, ExcursionAt, SiteAt, SlotAt, TaskAt, ToolAt};
use crate::timeline::{
    Added, Block, Finish, Frame, Gap, Lanes, MOST_LANES, Order, Simulated, State, Stop, Variation,
    simulate,
};
use domain::words::GateName;
use domain::words::GateVerdict::{CannotTell, Met, NotMet};

/// Where the crew stands on an excursion under way.
#[derive(Debug, Clone, PartialEq)]
pub struct Now {
    pub excursion: ExcursionAt,
    pub site: SiteAt,
    /// Minutes from now to the limit.
    pub left: f64,
    pub seats: usize,
    pub tools: Vec<ToolAt>,
}

/// Every open item that is not set on this very excursion, with its gates as they are now. An
/// error names what the excursion's record would have to say.
pub fn get_ahead(
    snapshot: &Snapshot,
    constants: &Constants,
    now: &Now,
) -> Result<Vec<(TaskAt, Explained)>, Unknown> {
    let at = now.excursion;
    let here = &snapshot.excursions[now.excursion];
    let limit = here.limit.ok_or(Unknown::Limit { excursion: at })?;
    let ingress = here.ingress.ok_or(Unknown::Ingress { excursion: at })?;
    let airlock = here.airlock.ok_or(Unknown::Airlock { excursion: at })?;
    let fit = Fit::new(snapshot, constants);
    let plan = &fit.ready.plans[now.excursion];
    let started = limit - now.left;
    // What was planned to be done by now has brought in its aids.
    let brought_in = match &fit.bases[now.excursion] {
        Ok(base) => &base.brought_in[..],
        Err(_) => &[],
    };
    let look = Look {
        frame: Frame { egress: started, ingress, airlock, ..plan.frame(&fit.ready) },
        routes: Passable::new(&fit.ready.aids, plan.sequence.first, brought_in),
        fit: &fit,
        now,
        limit,
    };
    let planned = |task: TaskAt| here.slots.iter().any(|slot| slot.set && slot.task == task);
    let looked_for =
        |task: &TaskAt| snapshot.tasks[*task].standing == Standing::Open && !planned(*task);
    Ok(snapshot.tasks.keys().filter(looked_for).map(|task| (task, look.judge(task))).collect())
}

struct Look<'a, 's> {
    fit: &'a Fit<'s>,
    now: &'a Now,
    /// From now on: its egress is the present minute.
    frame: Frame<'a>,
    /// Travel from now on.
    routes: Passable<'a>,
    limit: f64,
}

impl Look<'_, '_> {
    fn judge(&self, task: TaskAt) -> Explained {
        let ready = &self.fit.ready;
        let excursion = self.now.excursion;
        let chosen = self.approach(task);
        let approach = chosen.map(|at| &ready.snapshot.tasks[task].approaches[at]);
        let mut judge = Explained { cell: Cell::default(), reasons: Vec::new() };
        gates::approach(ready, task, chosen, &mut judge);
        gates::order(ready, task, excursion, &mut judge);
        self.tools(approach, &mut judge);
        gates::remedies(chosen.zip(approach), &mut judge);
        gates::rehearsal(ready, task, chosen, excursion, &mut judge);
        gates::back_inside(ready, task, excursion, &mut judge);
        gates::needed_by(ready, task, excursion, &mut judge);
        gates::bag(ready, &ready.plans[excursion], task, &mut judge);
        let found = self.found(task, chosen, &mut judge);
        gates::arm(ready, task, excursion, found.as_ref(), &mut judge);
        gates::lighting(ready, task, excursion, found.as_ref(), &mut judge);
        gates::inhibits(ready, task, excursion, found.as_ref(), &mut judge);
        let lanes = found.as_ref().map(|found| found.stop.lanes);
        gates::trained(ready, task, chosen, excursion, lanes, &mut judge);
        if let Some(found) = &found {
            let verdict = ready.constants.on_time(&found.figures);
            judge.say(GateName::Time, verdict, Reason::Time(found.figures));
            gates::bounds(ready, GateName::Time, verdict, &mut judge);
        }
        judge.cell.approach = chosen;
        judge.cell.place = found.map(|found| found.place);
        judge.cell.conclude();
        judge
    }

    /// The first approach that may be set and whose tools are in hand; else the first that may.
    fn approach(&self, task: TaskAt) -> Option<ApproachAt> {
        use super::snapshot::Guard::{Free, Questioned};
        let snapshot = self.fit.ready.snapshot;
        let ways = &snapshot.tasks[task].approaches;
        let at_hand = |way: &Approach| {
            let may = matches!(way.guard, Free | Questioned);
            may && way.tools.iter().all(|tool| self.now.tools.contains(tool))
        };
        ways.position(at_hand).or_else(|| first_free(snapshot, task))
    }

    fn tools(&self, approach: Option<&Approach>, judge: &mut Explained) {
        let tools = approach.map_or(&[][..], |approach| &approach.tools);
        let all = if tools.is_empty() { Reason::NoToolsNamed } else { Reason::ToolsInHand };
        judge.say(GateName::Tools, Met, all);
        for &tool in tools.iter().filter(|tool| !self.now.tools.contains(tool)) {
            judge.say(GateName::Tools, NotMet, Reason::ToolNotInHand { tool });
        }
    }

    /// There, the work, and home, from now on.
    fn found(
        &self,
        task: TaskAt,
        chosen: Option<ApproachAt>,
        judge: &mut Explained,
    ) -> Option<Found> {
        let ready = &self.fit.ready;
        let mut known = true;
        let mut lacks = |what: Unknown| {
            known = false;
            judge.say(GateName::Time, CannotTell, Reason::Unknown(what));
        };
        let site = ready.site(task, &mut lacks);
        let share = ready.snapshot.tasks[task].share_left;
        let work = ready.work(task, chosen, share, &mut lacks);
        let takes = gates::seats_taken(ready, task, chosen);
        if takes.is_none() {
            lacks(Unknown::TaskSeats { task });
        }
        let takes = takes?.clamp(1, MOST_LANES);
        let there = gates::small(self.now.seats);
        if takes > self.now.seats {
            let few = Reason::SeatsTooFew { takes: gates::small(takes), there };
            judge.say(GateName::Seats, NotMet, few);
            judge.say(GateName::Time, CannotTell, few);
            return None;
        }
        let enough = Reason::SeatsEnough { takes: gates::small(takes), there };
        judge.say(GateName::Seats, Met, enough);
        if !known {
            return None;
        }
        let loser = self.fit.losers[task].get(self.now.excursion.next()).copied().flatten();
        if let Some((excursion, loser)) = loser {
            let aid = ready.aids.brings_in[task].first().copied().unwrap_or_default();
            let (task, excursion) = (loser, excursion);
            judge.say(GateName::Routes, NotMet, Reason::TakesWayFrom { aid, task, excursion });
        }
        let lanes = Lanes::up_to(takes);
        let stop = ready.stop_at((self.now.excursion, task, chosen), site, lanes, work);
        let frame = Frame { lanes: takes, ..self.frame };
        let mut state = State::standing_at(&frame, self.now.site);
        let timed = state
            .go(&frame, (0, &stop), &self.routes, 0.0, &mut |_| {})
            .and_then(|own| Ok((own, state.finish(&frame, &self.routes, &mut |_| {})?)));
        let (own, finish) = match timed {
            Ok(timed) => timed,
            Err(way) => {
                let unknown = self.routes.reason(way.from, way.to);
                no_way(ready, task, unknown, judge);
                judge.say(GateName::Time, CannotTell, Reason::Unknown(unknown));
                return None;
            }
        };
        let minutes = u16::try_from(up(own.travel)).unwrap_or(u16::MAX);
        judge.say(GateName::Routes, Met, Reason::WayFromHere { minutes });
        let (chance, inside, simulated) = self.chances(&frame, &stop, &own, &finish);
        let end = finish.end();
        let place = Place {
            lanes,
            before_slot: SlotAt::default(),
            start: own.start,
            end: own.end,
            begin: None,
            added: end - frame.egress,
            excursion_end: end,
            margin: self.limit - end,
            margin_to_plan: None,
            chance,
        };
        let figures = TimeFigures {
            needs: up(place.added),
            left: down(self.now.left),
            margin: down(place.margin),
            past_plan: 0,
            chance: narrow(chance),
            lanes,
        };
        Some(Found::of_get_ahead((place, figures), own, stop, finish, (inside, simulated)))
    }

    /// The chances to be home by the limit, and to be done while the windows are open.
    fn chances(
        &self,
        frame: &Frame,
        stop: &Stop,
        own: &Block,
        finish: &Finish,
    ) -> (f64, Inside, Simulated) {
        // The present minute is known.
        let known = self.fit.ready.constants.variation();
        let variation = Variation { egress: 0.0, ..known };
        let nothing_before = Order { stops: &[], needs: &[] };
        let simulated = simulate(frame, nothing_before, &[], finish, self.limit, variation);
        let mut ways_on = [Gap::default(); MOST_LANES];
        stop.lanes.each().for_each(|lane| ways_on[lane] = finish.way_home(lane));
        let added = Added {
            position: 0,
            stop,
            ways_there: own.gaps(),
            next: [0; MOST_LANES],
            ways_on,
            next_arm: 0,
            needs: &[],
            needed_by: &[],
        };
        let (chance, inside) = chances(&simulated, frame, &added, own, 0.0);
        (chance, inside, simulated)
    }
}
