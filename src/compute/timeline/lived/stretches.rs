//! When work may go on that needs the arm or a light: forwards and backwards, for one draw.

use super::draws::narrow;
use crate::compute::lighting::Stretch;
use crate::compute::timeline::{Light, Windows};

/// The stretches in which work lies that needs the arm, or such light; `None`: any time will do.
pub(super) fn stretches(windows: &Windows, arm: bool, light: Light) -> Option<Vec<(f32, f32)>> {
    let light = match light {
        Light::Any => None,
        Light::Day => Some(&windows.days),
        Light::Night => Some(&windows.nights),
    };
    let narrow = |s: &Stretch| (narrow(s.from), narrow(s.until));
    match (arm.then_some(&windows.arm), light) {
        (None, None) => None,
        (Some(alone), None) | (None, Some(alone)) => Some(alone.iter().map(narrow).collect()),
        (Some(arm), Some(light)) => {
            let both = arm
                .iter()
                .flat_map(|a| light.iter().map(|b| (a.from.max(b.from), a.until.min(b.until))));
            let both = both.filter(|(from, until)| from < until);
            let mut both: Vec<(f32, f32)> =
                both.map(|(from, until)| narrow(&Stretch { from, until })).collect();
            both.sort_by(|a, b| a.0.total_cmp(&b.0));
            Some(both)
        }
    }
}

/// The first start from `ready` on with the work inside a stretch; `ready` itself where none is
/// left, as the timeline has it.
pub(super) fn first_start(stretches: &[(f32, f32)], ready: f32, minutes: f32) -> f32 {
    let starts = stretches.iter().map(|&(from, until)| (from.max(ready), until));
    let mut fit = starts.filter(|(start, until)| start + minutes <= *until);
    fit.next().map_or(ready, |(start, _)| start)
}

/// The last moment at which a lane may be ready so that the work ends by `end`.
pub(super) fn last_ready(stretches: &[(f32, f32)], end: f32, minutes: f32) -> f32 {
    let start = end - minutes;
    let mut latest = f32::NEG_INFINITY;
    let mut none_left = true;
    for &(from, until) in stretches {
        let last = until - minutes;
        if last < from {
            continue;
        }
        if from <= start {
            latest = latest.max(last.min(start));
        }
        none_left &= last < start;
    }
    if none_left { start } else { latest }
}
