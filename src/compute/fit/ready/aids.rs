//! Which aids are in place at every minute of an excursion, and the travel that leaves.

use crate::places::{OutsideAt, SetAt, SiteAt, TaskAt};
use std::cell::{Cell, RefCell};
use std::collections::BTreeSet;
use std::rc::Rc;
use typed_index_collections::{TiVec, ti_vec};

use crate::fit::reasons::Unknown;
use crate::fit::snapshot::Snapshot;
use crate::timeline::Routes;
use crate::travel::{Leg, Network};

pub(in crate::fit) struct Aids {
    sets: RefCell<TiVec<SetAt, Set>>,
    /// The aids that each task brings in and some route needs; mostly none.
    pub brings_in: TiVec<TaskAt, Vec<OutsideAt>>,
    legs: Vec<(Leg, Option<OutsideAt>)>,
    sites: usize,
}

struct Set {
    aids: BTreeSet<OutsideAt>,
    /// Travel while those are in place, once somebody asks.
    network: Option<Rc<Network>>,
}

/// The set in which every aid that exists is in place.
const EVERYTHING: SetAt = SetAt(0);

impl Aids {
    pub fn new(snapshot: &Snapshot) -> Self {
        let needed: BTreeSet<OutsideAt> = snapshot.routes.iter().filter_map(|r| r.aid).collect();
        let mut brings_in = ti_vec![Vec::new(); snapshot.tasks.len()];
        for &at in &needed {
            if let Some(task) = snapshot.outside[at].brought_back_by {
                brings_in[task].push(at);
            }
        }
        let legs = snapshot.routes.iter().map(|route| {
            (Leg { from: route.from, to: route.to, minutes: route.minutes }, route.aid)
        });
        Self {
            sets: RefCell::new(ti_vec![Set { aids: needed, network: None }]),
            brings_in,
            legs: legs.collect(),
            sites: snapshot.sites.len(),
        }
    }

    /// The set before the first excursion.
    pub fn at_first(&self, snapshot: &Snapshot) -> SetAt {
        let mut aids = self.sets.borrow()[EVERYTHING].aids.clone();
        aids.retain(|&aid| snapshot.outside[aid].in_place);
        self.set(aids)
    }

    /// The place of a set of aids; new ones are added.
    fn set(&self, aids: BTreeSet<OutsideAt>) -> SetAt {
        let mut sets = self.sets.borrow_mut();
        if let Some(at) = sets.position(|known| known.aids == aids) {
            return at;
        }
        sets.push_and_get_key(Set { aids, network: None })
    }

    /// The set that is left when a task has brought in its aids.
    pub fn without(&self, set: SetAt, task: TaskAt) -> SetAt {
        if self.brings_in[task].is_empty() {
            return set;
        }
        let mut aids = self.sets.borrow()[set].aids.clone();
        aids.retain(|aid| !self.brings_in[task].contains(aid));
        self.set(aids)
    }

    /// Travel while those aids are in place.
    pub fn network(&self, set: SetAt) -> Rc<Network> {
        let mut sets = self.sets.borrow_mut();
        let Set { aids, network } = &mut sets[set];
        let made = network.get_or_insert_with(|| {
            let usable = |aid: Option<OutsideAt>| aid.is_none_or(|aid| aids.contains(&aid));
            let legs: Vec<Leg> =
                self.legs.iter().filter(|(_, aid)| usable(*aid)).map(|(leg, _)| *leg).collect();
            Rc::new(Network::new(self.sites, &legs))
        });
        Rc::clone(made)
    }

    /// Why there is no route: nothing is recorded, or an aid is not in place.
    pub fn no_way(&self, set: SetAt, from: SiteAt, to: SiteAt) -> Unknown {
        let (start, end) = (from, to);
        match self.missing(set, from, to) {
            Some(aid) => Unknown::WayWithoutAid { from: start, to: end, aid },
            None => Unknown::Way { from: start, to: end },
        }
    }

    /// The aid that is lacking: on the shortest route over all aids, the first one that is not in
    /// place and that nothing goes round. `None` where no aid would help.
    fn missing(&self, set: SetAt, from: SiteAt, to: SiteAt) -> Option<OutsideAt> {
        let path = self.network(EVERYTHING).path(from, to)?;
        let left = self.network(set);
        let shut = |pair: &&[SiteAt]| left.minutes(pair[0], pair[1]).is_none();
        let pair = path.windows(2).find(shut)?;
        let between = self.legs.iter().filter(|(l, _)| l.from == pair[0] && l.to == pair[1]);
        between.min_by_key(|(leg, _)| leg.minutes)?.1
    }
}

/// Less than this is rounding.
const ROUNDING: f64 = 1e-6;

/// Travel on an excursion on which aids are brought in: a route is usable while its aid is out.
pub(in crate::fit) struct Passable<'a> {
    aids: &'a Aids,
    first: SetAt,
    /// When each of these tasks has brought in its aids.
    brought_in: &'a [(f64, TaskAt)],
    /// The aids that were in place when travel was last asked for.
    asked: Cell<SetAt>,
}

impl<'a> Passable<'a> {
    pub fn new(aids: &'a Aids, first: SetAt, brought_in: &'a [(f64, TaskAt)]) -> Self {
        Self { aids, first, brought_in, asked: Cell::new(first) }
    }

    /// The aids that stay in place until that minute.
    pub fn until(&self, minute: f64) -> SetAt {
        let gone = self.brought_in.iter().filter(|(at, _)| *at + ROUNDING < minute);
        gone.fold(self.first, |set, (_, task)| self.aids.without(set, *task))
    }

    /// The travel of a lane that leaves then, and the aids in place until it arrives.
    pub fn leg(&self, from: SiteAt, to: SiteAt, leaves: f64, slow: f64) -> (SetAt, Option<f64>) {
        let mut set = self.until(leaves);
        loop {
            let minutes = self.aids.network(set).minutes(from, to);
            let minutes = minutes.map(|minutes| f64::from(minutes) * slow);
            let left = minutes.map_or(set, |minutes| self.until(leaves + minutes));
            if left == set {
                return (set, minutes);
            }
            set = left;
        }
    }

    /// Why the travel that was last asked for is not possible.
    pub fn reason(&self, from: SiteAt, to: SiteAt) -> Unknown {
        self.aids.no_way(self.asked.get(), from, to)
    }
}

impl Routes for Passable<'_> {
    fn travel(&self, from: SiteAt, to: SiteAt, leaves: f64, slow: f64) -> Option<f64> {
        let (set, minutes) = self.leg(from, to, leaves, slow);
        self.asked.set(set);
        minutes
    }
}
