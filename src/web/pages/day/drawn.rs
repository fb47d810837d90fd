//! The lanes of the day: what happened above the rule of now, the rest re-timed below it.

use crate::drawings::lanes::{self, Block, Doing, End, EndKind, Lanes, Stands, Step};
use crate::drawings::markup::Drawing;
use app::day::{Answers, Day, OnBoard, whole};
use compute::fit::per_cent;
use domain::day::{Act, Progress};

/// The id of the drawing and of its hatches.
pub(super) const ID: &str = "day";

/// The drawing; none where nothing could be worked out.
pub(super) fn lanes(there: &Day, answers: &Answers) -> Option<Drawing> {
    let rest = answers.rest.as_ref()?;
    let now = minutes(there.pet.map_or(0, |pet| pet.0));
    let blocks = there.tasks.iter().enumerate();
    let step = |(segment, site): &(compute::timeline::Segment, String)| {
        let doing = Doing::of(segment.activity, |_| site.clone())?;
        Some(Step { lane: segment.lane, from: segment.from, until: segment.until, doing })
    };
    let ends = [
        (EndKind::P50, Some(rest.end_p50)),
        (EndKind::P80, Some(rest.end_p80)),
        (EndKind::Limit, Some(answers.limit)),
        (EndKind::Plan, there.excursion.planned.map(|planned| minutes(planned.0))),
        (EndKind::Now, there.pet.map(|_| now)),
    ];
    let lanes = Lanes {
        excursion: there.code().as_str().to_owned(),
        seats: (0..there.excursion.seats.0.len()).map(|lane| there.seat(lane)).collect(),
        steps: answers.steps.iter().filter_map(step).collect(),
        blocks: blocks.filter_map(|(at, task)| block(there, answers, (at, task), now)).collect(),
        nights: answers.nights.clone(),
        arm: answers.arm.clone(),
        ends: ends.into_iter().filter_map(|(kind, at)| Some(End { kind, at: at? })).collect(),
        day: Some(now),
        on_paper: false,
    };
    Some(lanes::draw(&lanes, ID))
}

/// One task where it was worked or will be; none of one that was dropped or cannot go.
fn block(there: &Day, answers: &Answers, (at, task): (usize, &OnBoard), now: f64) -> Option<Block> {
    let left = answers.rest.as_ref()?.tasks.iter().find(|left| left.task == at);
    let (from, until, stands, notes) = match task.now.progress {
        Progress::Ended { start, end, outcome } => {
            let how = outcome.map_or("ended", Act::word);
            (minutes(start.0), minutes(end.0), Stands::Worked, vec![format!("{how} {end}")])
        }
        Progress::Running { since } => {
            let since = minutes(since.0);
            let until = left.map_or(now, |left| left.end_p50).max(now);
            let so_far = format!("{} min so far", whole(now - since).0);
            (since, until, Stands::UnderWay, vec![so_far])
        }
        Progress::Planned => {
            let left = left?;
            let mut notes = vec![format!("{}–{}", whole(left.start_p50), whole(left.end_p50))];
            let is_risky = left.reached < answers.bound;
            if is_risky {
                notes.push(format!("at risk: {}", per_cent(left.reached)));
            }
            let stands = if is_risky { Stands::AtRisk } else { Stands::ToCome };
            (left.start_p50, left.end_p50, stands, notes)
        }
        Progress::Dropped => return None,
    };
    let mut lanes: Vec<usize> =
        task.slot.seats.numbers().filter_map(|seat| there.lane(seat)).collect();
    lanes.sort_unstable();
    Some(Block {
        number: answers.numbers.get(at).copied().unwrap_or(at + 1),
        slot: task.slot.code.0.to_string(),
        task: task.slot.task.to_string(),
        title: task.title.clone(),
        lanes,
        from,
        // What was pressed within a minute is still seen.
        until: until.max(from + 1.0),
        stands,
        notes,
        planned: answers.planned.get(at).copied(),
        ..Block::default()
    })
}

#[expect(clippy::cast_precision_loss, reason = "minutes of an excursion are few")]
fn minutes(whole: i64) -> f64 {
    whole as f64
}
