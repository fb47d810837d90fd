//! Open work that still fits into what is left of the day.

use super::batch::{BATCH, Drawn};
use super::crew::of;
use super::outlook::{Item, Outlook};
use super::{Task, Ways};

/// The best place of a task in what is left of the day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GetAhead {
    /// The task that it goes before; `None`: after all others.
    pub before: Option<usize>,
    /// Median start, in minutes of elapsed time.
    pub start: f64,
    /// Median minutes from the start of its work to its end.
    pub minutes: f64,
    /// The chance that the excursion with it ends inside its limit.
    pub chance: f64,
}

impl<W: Ways> Outlook<'_, W> {
    /// The place at which a task leaves the excursion the best chance to end inside its limit,
    /// beside what is kept; `None` where no place leaves that chance. Its lanes are those of its
    /// stop.
    pub fn get_ahead(&self, task: &Task, dropped: &[usize], bound: f64) -> Option<GetAhead> {
        let kept = self.items().into_iter().filter(|item| !dropped.contains(&item.at));
        let kept: Vec<Item> = kept.collect();
        let (at, number) = (self.day.tasks.len(), self.batches.len());
        let first: Vec<Drawn> = vec![self.batches[0].draw(at, task, None)];
        let running = self.day.running().count();
        let with = |works: &[Drawn], place: usize, of: &dyn Fn(&[Item]) -> Option<f64>| {
            let mut items: Vec<Item> = kept.clone();
            items.insert(place, Item { at, share: 1.0, added: Some((task, works)) });
            of(&items)
        };
        let screened = (running..=kept.len()).filter_map(|place| {
            let chance = with(&first, place, &|items| {
                self.inside(0, items).ok().map(|inside| of(inside) / of(BATCH))
            })?;
            Some((place, chance))
        });
        let (place, chance) = screened.max_by(|a, b| a.1.total_cmp(&b.1))?;
        if chance < bound - 0.06 {
            return None;
        }
        let works: Vec<Drawn> =
            (0..number).map(|batch| self.batches[batch].draw(at, task, None)).collect();
        let mut items = kept.clone();
        items.insert(place, Item { at, share: 1.0, added: Some((task, &works)) });
        let (mut starts, mut minutes, mut inside) = (Vec::new(), Vec::new(), 0);
        for number in 0..self.batches.len() {
            let ends = self.run(number, &items, &mut |run, _, _, done| {
                if run == place {
                    starts.extend(done.start);
                    minutes
                        .extend(done.start.iter().zip(&done.end).map(|(start, end)| end - start));
                }
            });
            inside += self.in_time(&ends.ok()?);
        }
        let chance = of(inside) / of(BATCH * self.batches.len());
        (chance >= bound).then(|| GetAhead {
            before: kept.get(place).map(|item| item.at),
            start: super::outlook::percentile(&mut starts, 5),
            minutes: super::outlook::percentile(&mut minutes, 5),
            chance,
        })
    }
}
