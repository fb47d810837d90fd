//! Get-aheads, held against every place tried.

use std::cmp::Ordering;

use super::super::batch::{BATCH, BATCHES, Drawn};
use super::super::outlook::Item;
use super::super::{DropSet, Minutes, Progress, Task, load};
use crate::three_point::Spread;
use crate::timeline::{Lanes, Stop};

/// Short work that is no part of the day.
fn other(lanes: Lanes, site: usize, minutes: f64) -> Task {
    let work = Spread { mean: minutes, variance: minutes };
    Task {
        stop: Stop::plain(site.into(), lanes, work),
        minutes: Minutes::of(work),
        must_do: false,
        value: 0.0,
        stopping_share: None,
        brings_in: false,
        progress: Progress::Planned,
    }
}

#[test]
fn the_place_of_a_get_ahead_is_the_best_of_all_places_tried() {
    let (mut found, mut none, mut of_two) = (0, 0, 0);
    for seed in 0..18_u32 {
        let made = load::day(6, 2, u64::from(seed));
        let outlook = made.outlook(150.0);
        // What the best drop set leaves, as on the board.
        let set = outlook.best_drops(0.8);
        let dropped: Vec<usize> = set.iter().flat_map(DropSet::dropped).collect();
        let minutes = 6.0 + 5.0 * f64::from(seed / 3 * 2);
        // One seat, the other, and both.
        let lanes = [Lanes::one(0), Lanes::one(1), Lanes::up_to(2)][seed as usize % 3];
        let task = other(lanes, 2, minutes);
        let kept: Vec<Item> =
            outlook.items().into_iter().filter(|item| !dropped.contains(&item.at)).collect();
        let at = outlook.day().tasks.len();
        let works: Vec<Drawn> =
            outlook.batches.iter().map(|batch| batch.draw(at, &task, None)).collect();
        let running = outlook.day().running().count();
        let chance = |place: usize| {
            let mut items = kept.clone();
            items.insert(place, Item { at, share: 1.0, added: Some((&task, &works)) });
            let inside: usize =
                (0..BATCHES).map(|batch| outlook.inside(batch, &items).unwrap()).sum();
            let draws = u32::try_from(super::super::Outlook::<load::Line>::DRAWS).unwrap();
            f64::from(u32::try_from(inside).unwrap()) / f64::from(draws)
        };
        let chances: Vec<f64> = (running..=kept.len()).map(chance).collect();
        let most = chances.iter().copied().fold(0.0, f64::max);
        if let Some(place) = outlook.get_ahead(&task, &dropped, 0.8) {
            found += 1;
            of_two += usize::from(lanes.count() == 2);
            let at = place.before.map_or(kept.len(), |before| {
                kept.iter().position(|item| item.at == before).unwrap()
            });
            assert!((place.chance - chances[at - running]).abs() < 1e-9, "seed {seed}");
            // Places are told apart by the first of twenty batches.
            assert!(place.chance >= 0.8 && place.chance > most - 0.01, "seed {seed}: {most}");
            assert!((place.minutes - minutes).abs() < 0.2 * minutes, "{}", place.minutes);
            // In no draw does a seat of it still work then.
            let mut items = kept.clone();
            items.insert(
                at,
                Item { at: outlook.day().tasks.len(), share: 1.0, added: Some((&task, &works)) },
            );
            let mut busy = [0.0_f32; BATCH];
            let ends = outlook.run(0, &items, &mut |place, _, _, done| match place.cmp(&at) {
                Ordering::Less if outlook.day().tasks[items[place].at].stop.lanes.meets(lanes) => {
                    busy.iter_mut().zip(&done.end).for_each(|(busy, end)| *busy = busy.max(*end));
                }
                Ordering::Equal => {
                    assert!(done.start.iter().zip(&busy).all(|(start, busy)| start >= busy));
                }
                Ordering::Less | Ordering::Greater => {}
            });
            assert!(ends.is_ok());
        } else {
            none += 1;
            assert!(most < 0.81, "seed {seed}: {most} would do");
        }
    }
    assert!(found >= 3 && none >= 3, "{found} fit, {none} do not");
    assert!(of_two >= 2, "{of_two} of two seats fit");
}
