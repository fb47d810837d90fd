//! When each piece of work goes on in the draws in which the plan ends at a certain minute.

use super::draws::{Drawn, each, mean, mean_product};
use super::wide::Wide;
use super::{count, percentile, rank};

/// A plan on an excursion that ends at a certain minute.
#[derive(Debug, Clone, PartialEq)]
pub struct AtEnd {
    pub end: f64,
    /// The work of each stop: its minutes, and when it is done.
    pub works: Vec<(f64, f64)>,
}

/// Which end is asked for: the one that holds with a chance, or one that is given.
#[derive(Debug, Clone, Copy)]
pub enum WhichEnd {
    OfChance(f64),
    Minute(f64),
}

/// The plan on the days on which all work finds its windows.
#[derive(Debug, Clone, PartialEq)]
pub enum InWindows {
    /// These are all days.
    Always,
    /// They are too few to tell.
    Seldom,
    At(AtEnd),
}

/// Means over the draws, one batch after the other.
#[derive(Default)]
pub(super) struct Means {
    ends: Vec<f32>,
    batches: usize,
    /// From it the ends are counted, so that their squares stay small.
    from: f32,
    end: f64,
    square: f64,
    stops: Vec<[Moments; 2]>,
}

/// Means of a quantity and of its product with the end.
#[derive(Clone, Copy, Default)]
struct Moments {
    mean: f64,
    with_end: f64,
}

/// Takes a batch: the ends of the plan, and of each stop the minutes of its work and its end.
pub(super) struct Add<'a, I> {
    pub means: &'a mut Means,
    pub ends: &'a Drawn,
    pub stops: I,
}

impl<'d, I: Iterator<Item = [&'d Drawn; 2]>> Wide for Add<'_, I> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let Self { means, ends, stops } = self;
        if means.batches == 0 {
            means.from = ends[0];
        }
        means.batches += 1;
        means.ends.extend(ends);
        let from = means.from;
        let later = each(ends, |end| end - from);
        means.end += mean(&later);
        means.square += mean_product(&later, &later);
        for (stop, both) in stops.enumerate() {
            if stop == means.stops.len() {
                means.stops.push(<[Moments; 2]>::default());
            }
            for (moments, drawn) in means.stops[stop].iter_mut().zip(both) {
                moments.mean += mean(drawn);
                moments.with_end += mean_product(drawn, &later);
            }
        }
    }
}

/// Every draw of a plan: its end, and of each stop the minutes of its work and its end.
#[derive(Default)]
pub(super) struct All {
    ends: Vec<f32>,
    stops: Vec<[Vec<f32>; 2]>,
}

impl All {
    pub fn add(&mut self, ends: &Drawn, stops: &[[&Drawn; 2]]) {
        self.ends.extend(ends);
        self.stops.resize_with(stops.len(), Default::default);
        for (all, drawn) in self.stops.iter_mut().zip(stops) {
            for (all, drawn) in all.iter_mut().zip(drawn) {
                all.extend(*drawn);
            }
        }
    }

    /// The plan at the end that holds with that chance of the draws that end before `limit`, where
    /// at least so many do: each quantity by its mean over those that end about then.
    pub fn at_end_before(&self, limit: f64, chance: f64, least: usize) -> InWindows {
        let mut kept: Vec<usize> = (0..self.ends.len()).collect();
        kept.retain(|&draw| f64::from(self.ends[draw]) < limit);
        if kept.len() == self.ends.len() {
            return InWindows::Always;
        }
        if kept.len() < least {
            return InWindows::Seldom;
        }
        let [from, at, to] =
            [chance - NEAR, chance, chance + NEAR].map(|chance| rank(chance, kept.len()));
        let by_end = |a: &usize, b: &usize| self.ends[*a].total_cmp(&self.ends[*b]);
        kept.select_nth_unstable_by(to, by_end);
        let near = &mut kept[..=to];
        near.select_nth_unstable_by(from, by_end);
        let near = &mut near[from..];
        let (_, &mut end, _) = near.select_nth_unstable_by(at - from, by_end);
        let there = |drawn: &[f32]| {
            let sum: f64 = near.iter().map(|&draw| f64::from(drawn[draw])).sum();
            sum / count(near.len())
        };
        let works = self.stops.iter().map(|[minutes, done]| (there(minutes), there(done)));
        let end = f64::from(self.ends[end]);
        InWindows::At(AtEnd { end, works: works.collect() })
    }
}

/// Draws that end with chances this far apart end at about the same time.
const NEAR: f64 = 0.05;

impl Means {
    /// The plan at that end: each quantity by its regression on the end.
    // Source: linear regression by least squares, common practice.
    pub fn at_end(&self, which: WhichEnd) -> AtEnd {
        let end = match which {
            WhichEnd::OfChance(chance) => percentile(self.ends.iter().copied(), chance),
            WhichEnd::Minute(end) => end,
        };
        let batches = count(self.batches.max(1));
        let middle = self.end / batches;
        let variance = self.square / batches - middle * middle;
        let later = end - f64::from(self.from) - middle;
        let there = |moments: Moments| {
            let mean = moments.mean / batches;
            let together = moments.with_end / batches - mean * middle;
            let slope = if variance > 1e-6 { together / variance } else { 0.0 };
            (mean + slope * later).max(0.0)
        };
        let works = self.stops.iter().map(|&[minutes, done]| (there(minutes), there(done)));
        AtEnd { end, works: works.collect() }
    }
}
