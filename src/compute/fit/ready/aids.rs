//! Which aids are in place at every moment of the plan, and the travel that leaves.

use std::cell::OnceCell;
use std::collections::BTreeSet;

use crate::compute::fit::reasons::{Unknown, index};
use crate::compute::fit::snapshot::{OutsideAt, Snapshot, TaskAt};
use crate::compute::travel::{Leg, Network};

/// A set of aids in place, by its place in the list of those that occur.
pub(in crate::compute::fit) type SetAt = usize;

pub(in crate::compute::fit) struct Aids {
    sets: Vec<(BTreeSet<OutsideAt>, OnceCell<Network>)>,
    /// The aids that each task brings in and some route needs; mostly none.
    pub brings_in: Vec<Vec<OutsideAt>>,
    legs: Vec<(Leg, Option<OutsideAt>)>,
    sites: usize,
}

/// The set in which every aid that exists is in place, and the one before the first excursion.
const EVERYTHING: SetAt = 0;

impl Aids {
    pub fn new(snapshot: &Snapshot) -> Self {
        let needed: BTreeSet<OutsideAt> = snapshot.routes.iter().filter_map(|r| r.aid).collect();
        let mut brings_in = vec![Vec::new(); snapshot.tasks.len()];
        for &at in &needed {
            if let Some(task) = snapshot.outside[at].brought_back_by {
                brings_in[task].push(at);
            }
        }
        let legs = snapshot.routes.iter().map(|route| {
            (Leg { from: route.from, to: route.to, minutes: route.minutes }, route.aid)
        });
        Self {
            sets: vec![(needed, OnceCell::new())],
            brings_in,
            legs: legs.collect(),
            sites: snapshot.sites.len(),
        }
    }

    /// The set before the first excursion.
    pub fn at_first(&mut self, snapshot: &Snapshot) -> SetAt {
        let mut aids = self.sets[EVERYTHING].0.clone();
        aids.retain(|&aid| snapshot.outside[aid].in_place);
        self.set(aids)
    }

    /// The place of a set of aids; new ones are added.
    fn set(&mut self, aids: BTreeSet<OutsideAt>) -> SetAt {
        if let Some(at) = self.sets.iter().position(|(known, _)| *known == aids) {
            return at;
        }
        self.sets.push((aids, OnceCell::new()));
        self.sets.len() - 1
    }

    /// The set that is left when a task has brought in its aids.
    pub fn without(&mut self, set: SetAt, task: TaskAt) -> SetAt {
        if self.brings_in[task].is_empty() {
            return set;
        }
        let mut aids = self.sets[set].0.clone();
        aids.retain(|aid| !self.brings_in[task].contains(aid));
        self.set(aids)
    }

    /// The sets on the way to each of these tasks, done one after the other, and after the last.
    pub fn along(&mut self, first: SetAt, tasks: impl Iterator<Item = TaskAt>) -> Vec<SetAt> {
        let mut sets = vec![first];
        let mut now = first;
        for task in tasks {
            now = self.without(now, task);
            sets.push(now);
        }
        sets
    }

    /// Travel while those aids are in place.
    pub fn network(&self, set: SetAt) -> &Network {
        let (aids, network) = &self.sets[set];
        network.get_or_init(|| {
            let usable = |aid: Option<OutsideAt>| aid.is_none_or(|aid| aids.contains(&aid));
            let legs: Vec<Leg> =
                self.legs.iter().filter(|(_, aid)| usable(*aid)).map(|(leg, _)| *leg).collect();
            Network::new(self.sites, &legs)
        })
    }

    /// Why there is no way: nothing is recorded, or an aid is not in place.
    pub fn no_way(&self, set: SetAt, from: usize, to: usize) -> Unknown {
        let (start, end) = (index(from), index(to));
        match self.missing(set, from, to) {
            Some(aid) => Unknown::WayWithoutAid { from: start, to: end, aid: index(aid) },
            None => Unknown::Way { from: start, to: end },
        }
    }

    /// The aid that stands in the way: on the shortest way over all aids, the first one that is
    /// not in place and that nothing goes round. `None` where no aid would help.
    fn missing(&self, set: SetAt, from: usize, to: usize) -> Option<OutsideAt> {
        let path = self.network(EVERYTHING).path(from, to)?;
        let shut = |pair: &&[usize]| self.network(set).minutes(pair[0], pair[1]).is_none();
        let pair = path.windows(2).find(shut)?;
        let between = self.legs.iter().filter(|(l, _)| l.from == pair[0] && l.to == pair[1]);
        between.min_by_key(|(leg, _)| leg.minutes)?.1
    }
}
