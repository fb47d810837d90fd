//! The stops of an excursion and what ties them together in time: what needs what, aids that one
//! brings in and others travel over, tools that they pass on.

use super::{Passable, Ready};
use crate::fit::reasons::Unknown;
use crate::places::{SetAt, TaskAt, ToolAt};
use crate::timeline::{Block, Finish, Frame, NoWay, Order, Routes, State, Stop, later};

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

/// A stop that holds a tool, and from when until when.
#[derive(Debug, Clone, Copy)]
pub(in crate::fit) struct Held {
    pub place: usize,
    pub from: f64,
    pub until: f64,
}

impl Held {
    fn at(&self, minute: f64) -> bool {
        self.from <= minute && minute + ROUNDING < self.until
    }
}

/// Every stop's block, the end, and which stop waits for which.
type Ran = (Vec<Block>, Finish, Vec<(usize, usize)>);

/// Who holds a tool, of which there are that many, so that none is left for work between two
/// minutes: of those, whoever is done with it first.
pub(in crate::fit) fn in_the_way(
    count: usize,
    held: &(impl Iterator<Item = Held> + Clone),
    from: f64,
    until: f64,
) -> Option<Held> {
    let inside = |at: &f64| from < *at && *at + ROUNDING < until;
    let moments = std::iter::once(from).chain(held.clone().map(|held| held.from).filter(inside));
    let mut first: Option<Held> = None;
    for at in moments {
        let now = held.clone().filter(|held| held.at(at));
        if now.clone().count() >= count {
            let done = now.min_by(|a, b| a.until.total_cmp(&b.until));
            let sooner = |done: &Held| first.is_none_or(|first| done.until < first.until);
            first = done.filter(sooner).or(first);
        }
    }
    first
}

impl Ready<'_> {
    /// Whether two stops hold more of a tool at once than there are: one has to wait.
    pub fn clash(&self, uses: &[(ToolAt, usize)], blocks: &[Block]) -> bool {
        uses.iter().any(|&(tool, place)| {
            let block = &blocks[place];
            let held = held(uses, tool, blocks).filter(|held| held.place != place);
            in_the_way(self.count_of(tool), &held, block.start, block.end).is_some()
        })
    }

    /// Times a sequence until nothing in it moves any more: stops wait for tools that others hold,
    /// and routes are used while their aids are out. It fails at a stop, or past the last on the
    /// way home, that cannot be reached.
    pub fn settle(&self, frame: &Frame, sequence: &Sequence) -> Result<Settled, (usize, Unknown)> {
        let mut brought_in: Vec<(f64, TaskAt)> =
            sequence.brings_in.iter().map(|&(_, task)| (f64::INFINITY, task)).collect();
        // Each round moves a minute; a plan of a few stops takes a few.
        let mut rounds = sequence.stops.len() * sequence.stops.len() + 8;
        loop {
            let routes = Passable::new(&self.aids, sequence.first, &brought_in);
            let (blocks, finish, needs) = self
                .run(frame, sequence, &routes, &mut |_| {})
                .map_err(|(place, way)| (place, routes.reason(way.from, way.to)))?;
            let ends = sequence.brings_in.iter().map(|&(place, task)| (blocks[place].end, task));
            let now: Vec<(f64, TaskAt)> = ends.collect();
            let same = now.iter().zip(&brought_in).all(|(a, b)| (a.0 - b.0).abs() < ROUNDING);
            if same || rounds == 0 {
                return Ok(Settled { blocks, finish, needs, brought_in });
            }
            rounds -= 1;
            brought_in = now;
        }
    }

    /// Times a sequence over those routes. A stop waits for a tool that an earlier one in the
    /// order holds; with these pairs it gives all that a stop waits for. `each` is told where the
    /// lanes stand after every stop.
    pub fn run(
        &self,
        frame: &Frame,
        sequence: &Sequence,
        routes: &impl Routes,
        each: &mut impl FnMut(&State),
    ) -> Result<Ran, (usize, NoWay)> {
        let mut state = State::outside(frame);
        let mut needs = sequence.needs.clone();
        let mut blocks: Vec<Block> = Vec::with_capacity(sequence.stops.len());
        for (place, stop) in sequence.stops.iter().enumerate() {
            let order = sequence.order();
            let mut release = order.release(place, |first| blocks[first].end);
            let block = loop {
                let mut after = state;
                let gone = after.go(frame, (place, stop), routes, release, &mut |_| ());
                let block = gone.map_err(|no_way| (place, no_way))?;
                let Some(first) = self.waits_for(&sequence.uses, place, &block, &blocks) else {
                    state = after;
                    break block;
                };
                needs.push((first.place, place));
                release = later(release, first.until);
            };
            blocks.push(block);
            each(&state);
        }
        let home = sequence.stops.len();
        let finish = state.finish(frame, routes, &mut |_| ()).map_err(|no_way| (home, no_way))?;
        Ok((blocks, finish, needs))
    }

    /// An earlier stop that holds a tool which this one needs meanwhile.
    fn waits_for(
        &self,
        uses: &[(ToolAt, usize)],
        place: usize,
        block: &Block,
        earlier: &[Block],
    ) -> Option<Held> {
        uses.iter().filter(|(_, at)| *at == place).find_map(|&(tool, _)| {
            let held = held(uses, tool, earlier);
            in_the_way(self.count_of(tool), &held, block.start, block.end)
        })
    }
}

/// When a tool is held by the stops that were timed.
fn held<'a>(
    uses: &'a [(ToolAt, usize)],
    tool: ToolAt,
    blocks: &'a [Block],
) -> impl Iterator<Item = Held> + Clone + 'a {
    let of = move |&(other, place): &(ToolAt, usize)| {
        let block = blocks.get(place).filter(|_| other == tool)?;
        Some(Held { place, from: block.start, until: block.end })
    };
    uses.iter().filter_map(of)
}
