//! The stops of an excursion and what ties them together in time: what needs what, aids that one
//! brings in and others travel over, tools that they pass on.

use super::{Passable, Ready, SetAt};
use crate::fit::reasons::Unknown;
use crate::fit::snapshot::{TaskAt, ToolAt};
use crate::timeline::{Block, Finish, Frame, NoWay, Order, State, Stop};

/// Stops in their order.
#[derive(Debug, Clone, Default)]
pub(in crate::fit) struct Sequence {
    pub stops: Vec<Stop>,
    /// Stops of which the second has to wait for the first.
    pub needs: Vec<(usize, usize)>,
    /// The stops that bring in aids, with their tasks.
    pub brings_in: Vec<(usize, TaskAt)>,
    /// The stops that use tools of which there are fewer than lanes.
    pub uses: Vec<(ToolAt, usize)>,
    /// The aids in place when the excursion begins.
    pub first: SetAt,
}

/// A sequence timed with all that ties it together.
#[derive(Debug, Clone)]
pub(in crate::fit) struct Settled {
    pub blocks: Vec<Block>,
    pub finish: Finish,
    /// What each stop waits for, tools that come free among it.
    pub needs: Vec<(usize, usize)>,
    /// When the aids of each task are brought in.
    pub brought_in: Vec<(f64, TaskAt)>,
}

/// A task put into a sequence.
pub(in crate::fit) struct Insertion<'a> {
    pub stop: Stop,
    pub needs: &'a [usize],
    pub needed_by: &'a [usize],
    pub tools: &'a [ToolAt],
    /// The task, where it brings in aids.
    pub brings_in: Option<TaskAt>,
}

impl Sequence {
    pub fn order(&self) -> Order<'_> {
        Order { stops: &self.stops, needs: &self.needs }
    }

    /// The sequence with a task put in before the stop of that number.
    pub fn with(&self, position: usize, new: &Insertion) -> Self {
        let moved = |place: usize| place + usize::from(place >= position);
        let mut stops = self.stops.clone();
        stops.insert(position, new.stop);
        let before = self.needs.iter().map(|&(first, then)| (moved(first), moved(then)));
        let own = new.needs.iter().map(|&first| (moved(first), position));
        let after = new.needed_by.iter().map(|&then| (position, moved(then)));
        let brings_in = self.brings_in.iter().map(|&(place, task)| (moved(place), task));
        Self {
            stops,
            needs: before.chain(own).chain(after).collect(),
            brings_in: brings_in.chain(new.brings_in.map(|task| (position, task))).collect(),
            uses: self.uses_with(position, new.tools),
            first: self.first,
        }
    }

    /// The uses of tools with a task put in that uses those.
    pub fn uses_with(&self, position: usize, tools: &[ToolAt]) -> Vec<(ToolAt, usize)> {
        let moved = |place: usize| place + usize::from(place >= position);
        let uses = self.uses.iter().map(|&(tool, place)| (tool, moved(place)));
        uses.chain(tools.iter().map(|&tool| (tool, position))).collect()
    }
}

/// Less than this is rounding.
const ROUNDING: f64 = 1e-6;

impl Ready<'_> {
    /// Two stops that hold more of a tool at once than there are: the one that is later in the
    /// order has to wait for the other.
    pub fn clash(&self, uses: &[(ToolAt, usize)], blocks: &[Block]) -> Option<(usize, usize)> {
        uses.iter().find_map(|&(tool, place)| {
            let now = blocks[place].start;
            let holds = |&&(other, at): &&(ToolAt, usize)| {
                let block = &blocks[at];
                other == tool && block.start <= now && now + ROUNDING < block.end
            };
            let holding: Vec<usize> = uses.iter().filter(holds).map(|&(_, place)| place).collect();
            if holding.len() <= self.count_of(tool) {
                return None;
            }
            let waits = holding.iter().copied().max()?;
            let others = holding.into_iter().filter(|&other| other != waits);
            let first = others.min_by(|&a, &b| blocks[a].end.total_cmp(&blocks[b].end))?;
            Some((first, waits))
        })
    }

    /// Times a sequence until nothing in it moves any more: stops wait for tools that others hold,
    /// and routes are used while their aids are out. It fails at a stop, or past the last on the
    /// way home, that cannot be reached.
    pub fn settle(&self, frame: &Frame, sequence: &Sequence) -> Result<Settled, (usize, Unknown)> {
        let mut needs = sequence.needs.clone();
        let mut brought_in: Vec<(f64, TaskAt)> =
            sequence.brings_in.iter().map(|&(_, task)| (f64::INFINITY, task)).collect();
        // Each round adds a pair of stops or moves a minute; a plan of a few stops takes a few.
        let mut rounds = sequence.stops.len() * sequence.stops.len() + 8;
        loop {
            let order = Order { stops: &sequence.stops, needs: &needs };
            let routes = Passable::new(&self.aids, sequence.first, &brought_in);
            let (blocks, finish) = run(frame, order, &routes)
                .map_err(|(place, way)| (place, routes.reason(way.from, way.to)))?;
            let last_round = rounds == 0;
            rounds = rounds.saturating_sub(1);
            if let Some(pair) = self.clash(&sequence.uses, &blocks).filter(|_| !last_round) {
                needs.push(pair);
                continue;
            }
            let ends = sequence.brings_in.iter().map(|&(place, task)| (blocks[place].end, task));
            let now: Vec<(f64, TaskAt)> = ends.collect();
            let same = now.iter().zip(&brought_in).all(|(a, b)| (a.0 - b.0).abs() < ROUNDING);
            if same || last_round {
                return Ok(Settled { blocks, finish, needs, brought_in });
            }
            brought_in = now;
        }
    }
}

fn run(
    frame: &Frame,
    order: Order,
    routes: &Passable,
) -> Result<(Vec<Block>, Finish), (usize, NoWay)> {
    let mut state = State::outside(frame);
    let mut blocks: Vec<Block> = Vec::with_capacity(order.stops.len());
    for (place, stop) in order.stops.iter().enumerate() {
        let release = order.release(place, |first| blocks[first].end);
        let block = state.go(frame, (place, stop), routes, release, &mut |_| ());
        blocks.push(block.map_err(|no_way| (place, no_way))?);
    }
    let home = order.stops.len();
    let finish = state.finish(frame, routes, &mut |_| ()).map_err(|no_way| (home, no_way))?;
    Ok((blocks, finish))
}
