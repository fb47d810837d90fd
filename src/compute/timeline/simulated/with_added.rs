//! A plan with one more task in it, in the draws of one batch: the stops behind the task are timed
//! again, those before it go as they did.

use super::added::Question;
use super::batch::Batch;
use super::draws::{BATCH, Drawn, normals_of_added, raise, raise_by};
use super::given::Given;
use super::stretches::work_ends;
use super::wide::Wide;

pub(super) struct WithAdded<'a> {
    pub question: &'a Question<'a>,
    pub given: &'a Given,
    pub drawn: &'a Batch,
    pub batch: usize,
}

/// One run through the plan with the task.
pub(super) struct RunWith {
    /// When the last lane is inside.
    pub inside: Drawn,
    /// When the work of each stop ends; then egress, and at last the added work.
    pub ends: Vec<Drawn>,
    /// The minutes of the added work.
    pub own_work: Drawn,
}

impl Wide for WithAdded<'_> {
    type Output = RunWith;

    #[inline(always)]
    fn call(self) -> RunWith {
        let Self { question, given, drawn, batch } = self;
        let (added, shared) = (question.added, &drawn.shared);
        let count = given.stops.len();
        // The ends of the stops, egress, and at last those of the added task.
        let own = count + 1;
        let mut ends = drawn.ends.clone();
        let own_work = question.own_work(drawn, normals_of_added(batch));
        ends.push(question.own_ends(drawn, &own_work));
        let mut before = *question.before;
        for lane in added.stop.lanes.each() {
            before.lanes[lane] = own;
        }
        if added.stop.arm {
            before.arm = own;
        }
        for (place, stop) in given.stops.iter().enumerate().skip(added.position) {
            let mut ready = [0.0; BATCH];
            for lane in stop.lanes.each() {
                let from = before.lanes[lane];
                let gaps = if from == own { &added.ways_on } else { &given.gaps[place] };
                raise_by(&mut ready, &ends[from], gaps[lane], shared);
                before.lanes[lane] = place;
            }
            for (first, _) in given.needs.iter().filter(|(_, then)| *then == place) {
                raise(&mut ready, &ends[*first]);
            }
            if added.needed_by.contains(&place) {
                raise(&mut ready, &ends[own]);
            }
            if stop.arm {
                raise(&mut ready, &ends[before.arm]);
                before.arm = place;
            }
            ends[place] = work_ends(given.open[place].as_ref(), &ready, &drawn.works[place]);
        }
        let mut inside = [0.0; BATCH];
        for lane in 0..given.lanes {
            let from = before.lanes[lane];
            let gaps = if from == own { &added.ways_on } else { &given.home };
            raise_by(&mut inside, &ends[from], gaps[lane], shared);
        }
        for (inside, ingress) in inside.iter_mut().zip(&shared.ingress) {
            *inside += ingress;
        }
        RunWith { inside, ends, own_work }
    }
}
