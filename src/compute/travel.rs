//! Travel: the shortest minutes from every worksite to every other over the routes that can be
//! used, and by which worksites the way goes.

use crate::places::SiteAt;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// A way from one worksite to the next in one direction; worksites are counted from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Leg {
    pub from: SiteAt,
    pub to: SiteAt,
    pub minutes: u32,
}

const NO_WAY: u32 = u32::MAX;

/// Shortest minutes between all pairs of worksites, for one set of usable routes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Network {
    sites: usize,
    minutes: Vec<u32>,
    /// The worksite just before, on the way from the row's worksite to the column's.
    before: Vec<u32>,
}

impl Network {
    /// Legs that name a worksite beyond `sites` are left out. Ties go to the worksite that was
    /// entered first, so that the same record always gives the same way.
    pub fn new(sites: usize, legs: &[Leg]) -> Self {
        let mut out: Vec<Vec<(usize, u32)>> = vec![Vec::new(); sites];
        let there = |leg: &&Leg| usize::from(leg.from).max(leg.to.into()) < sites;
        for leg in legs.iter().filter(there) {
            out[usize::from(leg.from)].push((leg.to.into(), leg.minutes));
        }
        let mut network = Self {
            sites,
            minutes: vec![NO_WAY; sites * sites],
            before: vec![NO_WAY; sites * sites],
        };
        let mut heap = BinaryHeap::new();
        for from in 0..sites {
            network.fill_row(from, &out, &mut heap);
        }
        network
    }

    /// Dijkstra from one worksite (A note on two problems in connexion with graphs, 1959).
    fn fill_row(
        &mut self,
        from: usize,
        out: &[Vec<(usize, u32)>],
        heap: &mut BinaryHeap<Reverse<(u32, usize)>>,
    ) {
        let row = from * self.sites..(from + 1) * self.sites;
        let minutes = &mut self.minutes[row.clone()];
        let before = &mut self.before[row];
        minutes[from] = 0;
        heap.push(Reverse((0, from)));
        while let Some(Reverse((so_far, at))) = heap.pop() {
            if so_far > minutes[at] {
                continue;
            }
            for &(to, leg) in &out[at] {
                let there = so_far.saturating_add(leg);
                if there < minutes[to] {
                    minutes[to] = there;
                    before[to] = u32::try_from(at).unwrap_or(NO_WAY);
                    heap.push(Reverse((there, to)));
                }
            }
        }
    }

    fn cell(&self, from: SiteAt, to: SiteAt) -> usize {
        usize::from(from) * self.sites + usize::from(to)
    }

    /// Shortest minutes; `None` where there is no way.
    pub fn minutes(&self, from: SiteAt, to: SiteAt) -> Option<u32> {
        let there = *self.minutes.get(self.cell(from, to))?;
        (there != NO_WAY && usize::from(to) < self.sites).then_some(there)
    }

    /// The worksites passed from `from` to `to`, both named; `None` where there is no way.
    pub fn path(&self, from: SiteAt, to: SiteAt) -> Option<Vec<SiteAt>> {
        self.minutes(from, to)?;
        let mut path = vec![to];
        let mut at = to;
        while at != from {
            at = SiteAt(self.before[self.cell(from, at)]);
            path.push(at);
        }
        path.reverse();
        Some(path)
    }
}

#[cfg(test)]
mod tests {
    use super::{Leg, Network};
    use crate::places::SiteAt;
    use proptest::prelude::*;

    fn leg(from: SiteAt, to: SiteAt, minutes: u32) -> Leg {
        Leg { from, to, minutes }
    }

    #[test]
    fn the_way_there_and_the_way_back_may_differ() {
        let network = Network::new(
            3,
            &[
                leg(SiteAt(0), SiteAt(1), 4),
                leg(SiteAt(1), SiteAt(2), 3),
                leg(SiteAt(0), SiteAt(2), 9),
                leg(SiteAt(2), SiteAt(0), 5),
            ],
        );
        assert_eq!(network.minutes(SiteAt(0), SiteAt(2)), Some(7));
        assert_eq!(network.path(SiteAt(0), SiteAt(2)), Some(vec![SiteAt(0), SiteAt(1), SiteAt(2)]));
        assert_eq!(network.minutes(SiteAt(2), SiteAt(0)), Some(5));
        assert_eq!(network.minutes(SiteAt(2), SiteAt(1)), Some(9));
        assert_eq!(network.path(SiteAt(1), SiteAt(1)), Some(vec![SiteAt(1)]));
    }

    #[test]
    fn where_there_is_no_way_it_is_unknown() {
        let network =
            Network::new(3, &[leg(SiteAt(0), SiteAt(1), 4), leg(SiteAt(7), SiteAt(1), 1)]);
        assert_eq!(network.minutes(SiteAt(1), SiteAt(0)), None);
        assert_eq!(network.path(SiteAt(0), SiteAt(2)), None);
        assert_eq!(network.minutes(SiteAt(0), SiteAt(3)), None);
    }

    #[test]
    fn a_way_of_no_minutes_is_a_way() {
        let network =
            Network::new(2, &[leg(SiteAt(0), SiteAt(1), 0), leg(SiteAt(1), SiteAt(0), 0)]);
        assert_eq!(network.minutes(SiteAt(0), SiteAt(1)), Some(0));
        assert_eq!(network.path(SiteAt(0), SiteAt(1)), Some(vec![SiteAt(0), SiteAt(1)]));
    }

    #[test]
    fn a_thousand_random_graphs_agree_with_the_reference() {
        // Source: NetworkX 3.6.1, all_pairs_dijkstra_path_length; tests/reference/travel.py
        #[derive(serde::Deserialize)]
        struct Graph {
            n: usize,
            legs: Vec<(usize, usize, u32)>,
            min: Vec<i64>,
        }
        #[derive(serde::Deserialize)]
        struct File {
            graphs: Vec<Graph>,
        }
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/travel.json");
        let file: File = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
        assert_eq!(file.graphs.len(), 1_000);
        for graph in file.graphs {
            let legs: Vec<Leg> =
                graph.legs.iter().map(|&(a, b, m)| leg(a.into(), b.into(), m)).collect();
            let network = Network::new(graph.n, &legs);
            let ours: Vec<i64> = (0..graph.n * graph.n)
                .map(|at| {
                    network
                        .minutes((at / graph.n).into(), (at % graph.n).into())
                        .map_or(-1, i64::from)
                })
                .collect();
            assert_eq!(ours, graph.min, "{legs:?}");
        }
    }

    proptest! {
        #[test]
        fn no_detour_is_shorter(legs in prop::collection::vec((0..8_usize, 0..8_usize, 0..40_u32), 0..40)) {
            let legs: Vec<Leg> = legs.into_iter().map(|(a, b, m)| leg(a.into(), b.into(), m)).collect();
            let network = Network::new(8, &legs);
            for from in 0..8 {
                for over in 0..8 {
                    for to in 0..8 {
                        if let (Some(first), Some(second)) =
                            (network.minutes(SiteAt(from), SiteAt(over)), network.minutes(SiteAt(over), SiteAt(to)))
                        {
                            prop_assert!(network.minutes(SiteAt(from), SiteAt(to)).unwrap() <= first + second);
                        }
                    }
                }
            }
        }

        #[test]
        fn a_path_adds_up_to_its_minutes(legs in prop::collection::vec((0..8_usize, 0..8_usize, 0..40_u32), 0..40)) {
            let legs: Vec<Leg> = legs.into_iter().map(|(a, b, m)| leg(a.into(), b.into(), m)).collect();
            let network = Network::new(8, &legs);
            for from in 0..8 {
                for to in 0..8 {
                    let Some(path) = network.path(SiteAt(from), SiteAt(to)) else { continue };
                    let sum: u32 = path
                        .windows(2)
                        .map(|pair| {
                            legs.iter()
                                .filter(|l| l.from == pair[0] && l.to == pair[1])
                                .map(|l| l.minutes)
                                .min()
                                .unwrap()
                        })
                        .sum();
                    prop_assert_eq!(Some(sum), network.minutes(SiteAt(from), SiteAt(to)));
                }
            }
        }

        #[test]
        fn a_worksite_that_nobody_passes_changes_nothing(legs in prop::collection::vec((0..6_usize, 0..6_usize, 0..40_u32), 0..30)) {
            // The last worksite has a way in and a way out that cost more than any way without it.
            let mut legs: Vec<Leg> = legs.into_iter().map(|(a, b, m)| leg(a.into(), b.into(), m)).collect();
            let without = Network::new(6, &legs);
            legs.push(leg(SiteAt(0), SiteAt(6), 5_000));
            let with = Network::new(7, &legs);
            for from in 0..6 {
                for to in 0..6 {
                    prop_assert_eq!(without.minutes(SiteAt(from), SiteAt(to)), with.minutes(SiteAt(from), SiteAt(to)));
                    prop_assert_eq!(without.path(SiteAt(from), SiteAt(to)), with.path(SiteAt(from), SiteAt(to)));
                }
            }
        }
    }
}
