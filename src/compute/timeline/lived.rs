//! A plan lived through in a fixed set of draws: what the chance rests on where stops wait for
//! windows, for the arm or for each other, and moments do not tell the ends of the lanes.
//!
//! The draws are the first points of a scrambled Sobol sequence: a coordinate for the crew day, one
//! for the work of each stop. Along a lane everything that waits is a maximum, so a plan ends by
//! its limit just when each lane comes to its next stop no later than that stop's latest start.
//! Those bounds are worked out once for every draw; a task put in anywhere is held against them.

use std::sync::OnceLock;

use super::chance::CrewDay;
use super::{Frame, Light, MOST_LANES, Order, Stop, Windows};
use crate::compute::lighting::Stretch;
use crate::compute::normal;
use crate::compute::three_point::Spread;

/// Draws behind the chance of one place.
pub const DRAWS: usize = 512;
/// Draws behind the ends of one excursion.
pub const MANY: usize = 2048;

/// Coordinates: the crew day and 63 stops; beyond them they are used again.
const COORDINATES: usize = 64;

/// Standard normal values, a coordinate after the other.
fn normals(coordinate: usize) -> &'static [f32] {
    static TABLE: OnceLock<Vec<f32>> = OnceLock::new();
    let table = TABLE.get_or_init(|| {
        let value = |coordinate: u32, draw: u32| {
            let at = f64::from(sobol_burley::sample(draw, coordinate, 3));
            narrow(normal::quantile(at.clamp(1e-6, 1.0 - 1e-6)))
        };
        let (coordinates, draws) = (small(COORDINATES), small(MANY));
        (0..coordinates).flat_map(|c| (0..draws).map(move |draw| value(c, draw))).collect()
    });
    let from = (coordinate % COORDINATES) * MANY;
    &table[from..from + MANY]
}

fn small(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}

#[expect(clippy::cast_possible_truncation, reason = "minutes and scores need no more digits")]
const fn narrow(value: f64) -> f32 {
    value as f32
}

/// A lognormal of a mean and a spread, and what a draw and a crew day make of it.
#[derive(Debug, Clone, Copy)]
struct Law {
    log_mean: f32,
    log_sd: f32,
    by_log_sd: f32,
}

impl Law {
    fn of(work: Spread) -> Self {
        // No work at all is a moment of it, and work without spread has next to none.
        let mean = work.mean.max(1e-6);
        let square = (1.0 + work.variance / (mean * mean)).ln();
        let log_sd = narrow(square.sqrt()).max(1e-3);
        Self { log_mean: narrow(mean.ln() - square / 2.0), log_sd, by_log_sd: 1.0 / log_sd }
    }

    /// Work is no shorter and no longer than that, but for 3 draws in 100,000 each.
    fn range(self, (least, most): (f32, f32)) -> (f32, f32) {
        let far = 4.0 * self.log_sd;
        (fast_exp(self.log_mean - far + least), fast_exp(self.log_mean + far + most))
    }

    fn minutes(self, normal: f32, log_day: f32) -> f32 {
        fast_exp(self.log_mean + self.log_sd * normal + log_day)
    }

    /// The chance that the work takes no longer than that many minutes on such a day.
    fn within(self, minutes: f32, log_day: f32) -> f32 {
        // No time at all is a logarithm far below any work's.
        fast_cdf((fast_ln(minutes) - self.log_mean - log_day) * self.by_log_sd)
    }
}

/// ln(1 + x)/x from 0 to 1.
/// Source: Abramowitz and Stegun, Handbook of Mathematical Functions, 4.1.43, from memory.
const LN_TERMS: [f32; 5] = [0.999_495_57, -0.491_908_97, 0.289_474_8, -0.136_062_76, 0.032_158_45];

/// (2^x − 1)/x up to a half: ln 2 to the powers by their factorials.
const TWO_TERMS: [f32; 4] = [std::f32::consts::LN_2, 0.240_226_5, 0.055_504_1, 0.009_618_1];

/// (Φ(z) − ½)/z as a polynomial in z², fitted up to 3.6.
const NORMAL_TERMS: [f32; 6] =
    [0.398_177_3, -0.064_602_41, 0.008_611_047, -7.419_727e-4, 3.603_508e-5, -7.383_21e-7];

fn polynomial<const N: usize>(terms: &[f32; N], at: f32) -> f32 {
    terms.iter().rev().fold(0.0, |sum, term| sum * at + term)
}

/// e to a power, within 4 parts in 100,000; without a branch, so that many are done at once.
fn fast_exp(power: f32) -> f32 {
    // Adding and taking away 1.5 · 2²³ rounds to the nearest whole number.
    const ROUND: f32 = 12_582_912.0;
    let twos = more(less(power * std::f32::consts::LOG2_E, 126.0), -126.0);
    let rounded = twos + ROUND;
    let rest = twos - (rounded - ROUND);
    let scale = f32::from_bits((rounded.to_bits() << 23).wrapping_add(0x3f80_0000));
    scale * (1.0 + rest * polynomial(&TWO_TERMS, rest))
}

/// The natural logarithm of a value above 0, within 0.00002.
fn fast_ln(value: f32) -> f32 {
    let bits = more(value, 1e-30).to_bits();
    #[expect(clippy::cast_precision_loss, clippy::cast_possible_wrap, reason = "an exponent")]
    let twos = ((bits >> 23) as i32).wrapping_sub(127) as f32;
    let part = f32::from_bits((bits & 0x007f_ffff) | 0x3f80_0000) - 1.0;
    let ln = part * polynomial(&LN_TERMS, part);
    twos * std::f32::consts::LN_2 + ln
}

/// The chance that a standard normal value stays under `score`, within 0.0004: a polynomial fitted
/// to the distribution up to 3.6, the same beyond.
fn fast_cdf(score: f32) -> f32 {
    let score = more(less(score, 3.6), -3.6);
    0.5 + score * polynomial(&NORMAL_TERMS, score * score)
}

/// One quantity in every draw.
type Drawn<const N: usize = DRAWS> = [f32; N];

/// A plan in every draw: where each lane stands before each stop, and how late it may.
#[derive(Debug, Clone)]
pub struct Lived {
    log_days: Drawn,
    /// When the work of each stop ends, and at last egress.
    ends: Vec<Drawn>,
    /// Before each stop, and at last: what each lane and the arm did last, as a place in `ends`.
    before: Vec<Before>,
    /// The latest start of each stop, and at last the limit.
    latest: Vec<Drawn>,
    /// The least and the most of `log_days`, and of each of `ends` and `latest`.
    ranges: Ranges,
    /// 1 in the draws that end by the limit as the plan stands, else 0.
    kept: Drawn,
}

#[derive(Debug, Clone)]
struct Ranges {
    log_days: (f32, f32),
    ends: Vec<(f32, f32)>,
    latest: Vec<(f32, f32)>,
}

/// What was done last, as places in the list of ends: the count of stops stands for egress.
#[derive(Debug, Clone, Copy)]
struct Before {
    lanes: [usize; MOST_LANES],
    arm: usize,
}

/// A task put into a plan: between which stops, and the minutes on the way to it and on from it.
#[derive(Debug, Clone, Copy)]
pub struct Added<'a> {
    pub position: usize,
    /// With its lanes.
    pub stop: &'a Stop,
    pub ways_there: [f64; MOST_LANES],
    /// The next stop of each of its lanes, the count of stops where there is none.
    pub next: [usize; MOST_LANES],
    pub ways_on: [f64; MOST_LANES],
    pub next_arm: usize,
    pub needs: &'a [usize],
    pub needed_by: &'a [usize],
}

/// The gaps of each stop's lanes, and those on the way home, as the timeline found them.
#[derive(Debug, Clone, Copy)]
pub(super) struct Gaps<'a> {
    pub stops: &'a [[f64; MOST_LANES]],
    pub home: &'a [f64; MOST_LANES],
}

/// What a minute more or less of rounding must not decide.
const ROUNDING: f32 = 0.01;

/// Before everything.
const NEVER: f32 = -1e9;

/// One way through a plan, forwards.
struct Forward<const N: usize> {
    ends: Vec<Drawn<N>>,
    before: Vec<Before>,
    works: Vec<Drawn<N>>,
}

fn log_days<const N: usize>(crew_day: CrewDay) -> Drawn<N> {
    let (sd, mean) = (narrow(crew_day.log_sd), narrow(-crew_day.log_sd.powi(2) / 2.0));
    let mut days = [0.0; N];
    days.iter_mut().zip(normals(0)).for_each(|(day, normal)| *day = mean + sd * normal);
    days
}

/// The larger of two; without the care for what is no number, so that many are done at once.
const fn more(a: f32, b: f32) -> f32 {
    if b > a { b } else { a }
}

const fn less(a: f32, b: f32) -> f32 {
    if b < a { b } else { a }
}

/// The least and the most of all draws.
fn range(drawn: &Drawn) -> (f32, f32) {
    const ABREAST: usize = 32;
    let (mut least, mut most) = ([f32::INFINITY; ABREAST], [f32::NEG_INFINITY; ABREAST]);
    for some in drawn.chunks_exact(ABREAST) {
        least.iter_mut().zip(some).for_each(|(least, one)| *least = less(*least, *one));
        most.iter_mut().zip(some).for_each(|(most, one)| *most = more(*most, *one));
    }
    (least.into_iter().fold(f32::INFINITY, less), most.into_iter().fold(f32::NEG_INFINITY, more))
}

/// The sum over all draws, eight sums side by side.
fn sum<const N: usize>(drawn: &Drawn<N>) -> f64 {
    let mut sums = [0.0_f32; 8];
    for eight in drawn.chunks_exact(8) {
        sums.iter_mut().zip(eight).for_each(|(sum, one)| *sum += one);
    }
    f64::from(sums.iter().sum::<f32>())
}

/// The stretches in which work lies that needs the arm, or such light; `None`: any time will do.
fn stretches(windows: &Windows, arm: bool, light: Light) -> Option<Vec<(f32, f32)>> {
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
fn first_start(stretches: &[(f32, f32)], ready: f32, minutes: f32) -> f32 {
    let starts = stretches.iter().map(|&(from, until)| (from.max(ready), until));
    let mut fit = starts.filter(|(start, until)| start + minutes <= *until);
    fit.next().map_or(ready, |(start, _)| start)
}

/// The last moment at which a lane may be ready so that the work ends by `end`.
fn last_ready(stretches: &[(f32, f32)], end: f32, minutes: f32) -> f32 {
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

fn raise<const N: usize>(to: &mut Drawn<N>, from: &Drawn<N>, by: f64) {
    let by = narrow(by);
    to.iter_mut().zip(from).for_each(|(to, from)| *to = more(*to, from + by));
}

fn lower<const N: usize>(to: &mut Drawn<N>, from: &Drawn<N>, by: f64) {
    let by = narrow(by);
    to.iter_mut().zip(from).for_each(|(to, from)| *to = less(*to, from - by));
}

fn forward<const N: usize>(
    frame: &Frame,
    order: Order,
    gaps: Gaps,
    log_days: &Drawn<N>,
) -> Forward<N> {
    let count = order.stops.len();
    let mut run = Forward {
        ends: vec![[narrow(frame.egress); N]; count + 1],
        before: Vec::with_capacity(count + 1),
        works: vec![[0.0; N]; count],
    };
    let mut before = Before { lanes: [count; MOST_LANES], arm: count };
    for (place, stop) in order.stops.iter().enumerate() {
        run.before.push(before);
        let mut end = [0.0; N];
        for lane in stop.lanes.each() {
            raise(&mut end, &run.ends[before.lanes[lane]], gaps.stops[place][lane]);
        }
        for (first, _) in order.needs.iter().filter(|(_, then)| *then == place) {
            raise(&mut end, &run.ends[*first], 0.0);
        }
        if stop.arm {
            raise(&mut end, &run.ends[before.arm], 0.0);
        }
        let law = Law::of(stop.work);
        let work = &mut run.works[place];
        let drawn = normals(place + 1).iter().zip(log_days);
        work.iter_mut().zip(drawn).for_each(|(work, (z, day))| *work = law.minutes(*z, *day));
        if let Some(stretches) = stretches(frame.windows, stop.arm, stop.light) {
            let start = |ready: f32, work: f32| first_start(&stretches, ready, work);
            end.iter_mut().zip(&*work).for_each(|(ready, work)| *ready = start(*ready, *work));
        }
        run.ends[place].iter_mut().zip(&end).zip(&*work).for_each(|((end, start), work)| {
            *end = start + work;
        });
        for lane in stop.lanes.each() {
            before.lanes[lane] = place;
        }
        if stop.arm {
            before.arm = place;
        }
    }
    run.before.push(before);
    run
}

/// When the last lane is inside, in many draws, the earliest first.
pub(super) fn ends_of(frame: &Frame, order: Order, gaps: Gaps, crew_day: CrewDay) -> Vec<f64> {
    let run = forward::<MANY>(frame, order, gaps, &log_days(crew_day));
    let last = run.before[order.stops.len()];
    let mut inside = [0.0; MANY];
    for lane in 0..frame.lanes {
        raise(&mut inside, &run.ends[last.lanes[lane]], gaps.home[lane]);
    }
    inside.sort_by(f32::total_cmp);
    inside.into_iter().map(f64::from).collect()
}

impl Lived {
    pub(super) fn of(
        frame: &Frame,
        order: Order,
        gaps: Gaps,
        limit: f64,
        crew_day: CrewDay,
    ) -> Self {
        let log_days = log_days(crew_day);
        let Forward { ends, before, works } = forward(frame, order, gaps, &log_days);
        let count = order.stops.len();
        let limit = narrow(limit) + ROUNDING;
        let mut latest = vec![[limit; DRAWS]; count + 1];
        let mut due: Vec<Drawn> =
            (0..frame.lanes).map(|lane| [limit - narrow(gaps.home[lane]); DRAWS]).collect();
        let mut arm_due = [f32::INFINITY; DRAWS];
        let mut kept = [1.0; DRAWS];
        for (lane, due) in due.iter().enumerate() {
            let done = &ends[before[count].lanes[lane]];
            kept.iter_mut().zip(done).zip(due).for_each(|((kept, done), due)| {
                if done > due {
                    *kept = 0.0;
                }
            });
        }
        for (place, stop) in order.stops.iter().enumerate().rev() {
            let mut end = [f32::INFINITY; DRAWS];
            for lane in stop.lanes.each() {
                lower(&mut end, &due[lane], 0.0);
            }
            for (_, then) in order.needs.iter().filter(|(first, _)| *first == place) {
                lower(&mut end, &latest[*then], 0.0);
            }
            if stop.arm {
                lower(&mut end, &arm_due, 0.0);
            }
            let work = &works[place];
            match stretches(frame.windows, stop.arm, stop.light) {
                Some(stretches) => end
                    .iter_mut()
                    .zip(work)
                    .for_each(|(end, work)| *end = last_ready(&stretches, *end, *work)),
                None => end.iter_mut().zip(work).for_each(|(end, work)| *end -= work),
            }
            for lane in stop.lanes.each() {
                let gap = narrow(gaps.stops[place][lane]);
                due[lane].iter_mut().zip(&end).for_each(|(due, start)| *due = start - gap);
            }
            if stop.arm {
                arm_due = end;
            }
            latest[place] = end;
        }
        for bounds in &mut latest {
            // A draw that is late as it stands is late with any task added.
            bounds.iter_mut().zip(&kept).for_each(|(bound, kept)| {
                if *kept == 0.0 {
                    *bound = NEVER;
                }
            });
        }
        let of_all = |all: &[Drawn]| all.iter().map(range).collect();
        let ranges =
            Ranges { log_days: range(&log_days), ends: of_all(&ends), latest: of_all(&latest) };
        Self { log_days, ends, before, latest, ranges, kept }
    }

    /// The chance that the plan ends by its limit as it stands.
    pub fn chance(&self) -> f64 {
        sum(&self.kept) / f64::from(small(DRAWS))
    }

    /// When the added work may begin.
    fn ready(&self, added: &Added) -> Drawn {
        let mut ready = [0.0; DRAWS];
        for lane in added.stop.lanes.each() {
            let before = &self.ends[self.before[added.position].lanes[lane]];
            raise(&mut ready, before, added.ways_there[lane]);
        }
        for need in added.needs {
            raise(&mut ready, &self.ends[*need], 0.0);
        }
        if added.stop.arm {
            raise(&mut ready, &self.ends[self.before[added.position].arm], 0.0);
        }
        ready
    }

    /// By when it has to end.
    fn due(&self, added: &Added) -> Drawn {
        let mut due = [f32::INFINITY; DRAWS];
        for lane in added.stop.lanes.each() {
            lower(&mut due, &self.latest[added.next[lane]], added.ways_on[lane]);
        }
        for then in added.needed_by {
            lower(&mut due, &self.latest[*then], 0.0);
        }
        if added.stop.arm && added.next_arm + 1 < self.latest.len() {
            lower(&mut due, &self.latest[added.next_arm], 0.0);
        }
        due
    }

    /// The bounds of `ready` and of `due`, from what they are made of.
    fn at_most(&self, added: &Added) -> ((f32, f32), (f32, f32)) {
        let ranges = &self.ranges;
        let later = |to: (f32, f32), from: (f32, f32), by: f32| {
            (more(to.0, from.0 + by), more(to.1, from.1 + by))
        };
        let earlier = |to: (f32, f32), from: (f32, f32), by: f32| {
            (less(to.0, from.0 - by), less(to.1, from.1 - by))
        };
        let (mut ready, mut due) = ((0.0, 0.0), (f32::INFINITY, f32::INFINITY));
        let before = self.before[added.position];
        for lane in added.stop.lanes.each() {
            let before = ranges.ends[before.lanes[lane]];
            ready = later(ready, before, narrow(added.ways_there[lane]));
            due = earlier(due, ranges.latest[added.next[lane]], narrow(added.ways_on[lane]));
        }
        due = added.needed_by.iter().fold(due, |due, by| earlier(due, ranges.latest[*by], 0.0));
        if added.stop.arm {
            ready = later(ready, ranges.ends[before.arm], 0.0);
        }
        ready = added.needs.iter().fold(ready, |ready, need| later(ready, ranges.ends[*need], 0.0));
        (ready, due)
    }

    /// The chance that the plan with the task added ends by its limit.
    pub fn chance_with(&self, windows: &Windows, added: &Added) -> f64 {
        self.chances(windows, added, (0.0, [None, None])).0
    }

    /// The same, and the chances that the added work, which begins no earlier than `opens`, is done
    /// by each of some minutes.
    pub fn chances(
        &self,
        windows: &Windows,
        added: &Added,
        (opens, closes): (f64, [Option<f64>; 2]),
    ) -> (f64, [f64; 2]) {
        let law = Law::of(added.stop.work);
        let range = law.range(self.ranges.log_days);
        let (ready, due) = self.at_most(added);
        let too_late = due.1 - ready.0 <= range.0;
        let Some(stretches) = stretches(windows, added.stop.arm, added.stop.light) else {
            let chance = match due.0 - ready.1 {
                _ if too_late => 0.0,
                left if left >= range.1 => 1.0,
                _ => self.at_once(added, law) / f64::from(small(DRAWS)),
            };
            return (chance, [0.0; 2]);
        };
        let ready_in_each = self.ready(added);
        let chance = if too_late {
            0.0
        } else {
            let near = stretches.iter().filter(|(_, until)| until - ready.0 > range.0);
            let bounds = (&ready_in_each, &self.due(added));
            self.in_stretches(near, (ready.1, due.1), bounds, law, range.1)
                / f64::from(small(DRAWS))
        };
        let opens = narrow(opens);
        let inside = closes.map(|closes| {
            let closes = closes.map_or(f32::NEG_INFINITY, narrow) + ROUNDING;
            if closes - more(opens, ready.1) >= range.1 {
                return 1.0;
            }
            if closes - more(opens, ready.0) <= range.0 {
                return 0.0;
            }
            // A window's gate asks whether it is likely, not how likely to a point.
            let mut chance = [0.0; DRAWS / 2];
            for draw in 0..DRAWS / 2 {
                let left = closes - more(opens, ready_in_each[draw]);
                chance[draw] = law.within(left, self.log_days[draw]);
            }
            sum(&chance) / f64::from(small(DRAWS / 2))
        });
        (chance, inside)
    }

    /// In how many draws work that waits for nothing ends in time.
    fn at_once(&self, added: &Added, law: Law) -> f64 {
        let mut chance = [0.0; DRAWS];
        let lane = added.stop.lanes.first();
        if added.stop.lanes.count() == 1 && added.needs.is_empty() && added.needed_by.is_empty() {
            // Most tasks: one lane, and nothing else that it waits for or that waits for it.
            let done = &self.ends[self.before[added.position].lanes[lane]];
            let latest = &self.latest[added.next[lane]];
            let ways = narrow(added.ways_there[lane] + added.ways_on[lane]);
            for draw in 0..DRAWS {
                let left = latest[draw] - done[draw] - ways;
                chance[draw] = law.within(left, self.log_days[draw]);
            }
        } else {
            let (ready, due) = (self.ready(added), self.due(added));
            for draw in 0..DRAWS {
                chance[draw] = law.within(due[draw] - ready[draw], self.log_days[draw]);
            }
        }
        sum(&chance)
    }

    /// In how many draws work that waits for a stretch ends in time. Nothing is ready after
    /// `latest_ready` or may end after `last`.
    fn in_stretches<'s>(
        &self,
        stretches: impl Iterator<Item = &'s (f32, f32)>,
        (latest_ready, last): (f32, f32),
        (ready, due): (&Drawn, &Drawn),
        law: Law,
        long: f32,
    ) -> f64 {
        let days = &self.log_days;
        let mut chance = [0.0_f32; DRAWS];
        // The longest work that has found its stretch so far, and how likely it is no longer.
        let (mut room, mut gone) = ([0.0_f32; DRAWS], [0.0_f32; DRAWS]);
        let mut some_gone = false;
        let mut all_find_one = false;
        for &(from, until) in stretches {
            all_find_one |= until - more(from, latest_ready) >= long;
            if from >= last {
                // Work that finds its stretch only here is late.
                for room in &mut room {
                    *room = more(*room, until - from);
                }
                continue;
            }
            if some_gone {
                for draw in 0..DRAWS {
                    gone[draw] = law.within(room[draw], days[draw]);
                }
            }
            some_gone = true;
            for draw in 0..DRAWS {
                let start = more(from, ready[draw]);
                let fits = until - start;
                let in_time = law.within(less(fits, due[draw] - start), days[draw]);
                chance[draw] += more(in_time - gone[draw], 0.0);
                room[draw] = more(room[draw], fits);
            }
        }
        if !all_find_one {
            // Work too long for any stretch begins when the lanes are there, as the timeline has it.
            for draw in 0..DRAWS {
                let left = law.within(due[draw] - ready[draw], days[draw]);
                chance[draw] += more(left - law.within(room[draw], days[draw]), 0.0);
            }
        }
        sum(&chance)
    }
}

#[cfg(test)]
mod tests;
