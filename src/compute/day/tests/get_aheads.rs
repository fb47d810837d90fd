//! Get-aheads, held against every place tried.

use super::super::batch::{BATCHES, Drawn};
use super::super::outlook::Item;
use super::super::{DropSet, Minutes, Progress, Task, load};
use crate::three_point::Spread;
use crate::timeline::{Lanes, Stop};

/// Short work of one lane that is no part of the day.
fn other(lane: usize, site: usize, minutes: f64) -> Task {
    let work = Spread { mean: minutes, variance: minutes };
    Task {
        stop: Stop::plain(site, Lanes::one(lane), work),
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
    let (mut found, mut none) = (0, 0);
    for seed in 0..12_u32 {
        let made = load::day(6, 2, u64::from(seed));
        let outlook = made.outlook(150.0);
        // What the best drop set leaves, as on the board.
        let set = outlook.best_drops(0.8);
        let dropped: Vec<usize> = set.iter().flat_map(DropSet::dropped).collect();
        let minutes = 6.0 + 5.0 * f64::from(seed);
        let task = other(usize::from(seed % 2 == 1), 2, minutes);
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
            let at = place.before.map_or(kept.len(), |before| {
                kept.iter().position(|item| item.at == before).unwrap()
            });
            assert!((place.chance - chances[at - running]).abs() < 1e-9, "seed {seed}");
            // Places are told apart by the first of twenty batches.
            assert!(place.chance >= 0.8 && place.chance > most - 0.01, "seed {seed}: {most}");
            assert!((place.minutes - minutes).abs() < 0.2 * minutes, "{}", place.minutes);
        } else {
            none += 1;
            assert!(most < 0.81, "seed {seed}: {most} would do");
        }
    }
    assert!(found >= 3 && none >= 3, "{found} fit, {none} do not");
}
