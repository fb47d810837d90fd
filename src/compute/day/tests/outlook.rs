//! Chances, minutes and last moments, before a day and some time into it.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::super::Outlook;
use super::super::batch::BATCHES;
use super::made::{Given, GivenProgress, Matrix, cases, outlook, spread};

/// Chances may lie so many points apart: four standard errors of the samples where they are largest,
/// √(0.5 × 0.5 / 100,000) = 0.16 points, and of our own 10,240 draws were they plain (0.49) two. Samples
/// that are weighted by what was seen of a day weigh as much as 100,000 even ones at the least.
const POINTS: f64 = 1.0;

/// The same of the 10,000 samples of a search, at its bound of eight in ten: four times
/// √(0.8 × 0.2 / 10,000) = 0.4 points before the day, and on the day, where they weigh as much as
/// 1,000 at the least, four times 1.26 points.
const SEARCHED: [f64; 2] = [1.6, 5.1];

/// Even samples that the weighted ones weigh as much as, before the day and at the least on the day.
const EVEN: [f64; 2] = [1_000_000.0, 100_000.0];

/// Standard errors by which a percentile may lie off, of 5,000: as a share of draws, those of the
/// reference and our own, each as if it were drawn alone. With more samples of one that is off by a
/// point (3 × 10⁶ even ones, case 32 on the day) the error is found to be that of our own draws.
const ERRORS_OF_PERCENTILES: f64 = 4.0;

/// Standard errors by which the logarithm of the crew day may be missed, of 800 figures.
const ERRORS: f64 = 4.5;

/// Half of the last digit to which minutes are rounded.
const ROUNDED: f32 = 0.05;

#[derive(Deserialize)]
struct Case {
    #[serde(flatten)]
    given: Given,
    before: Answers,
    then: Then,
}

#[derive(Deserialize)]
struct Then {
    now: f64,
    progress: Vec<GivenProgress>,
    egress_ended: Option<f64>,
    #[serde(flatten)]
    answers: Answers,
}

#[derive(Deserialize)]
struct Answers {
    chance: f64,
    end: [f64; 2],
    stops: BTreeMap<String, OfTask>,
    log_day: [f64; 2],
    latest: BTreeMap<String, Option<f64>>,
    turn_back: Vec<f64>,
}

#[derive(Deserialize)]
struct OfTask {
    ends: [f64; 2],
    missed: f64,
    in_time: f64,
    reached: f64,
}

/// How far apart the two are.
#[derive(Default)]
struct Apart {
    points: Vec<f64>,
    reached: Vec<f64>,
    /// Points of the chance to end by the other's percentile.
    ends: Vec<f64>,
    /// Standard errors of the samples.
    log_day: Vec<f64>,
    /// Points of the chance beyond the bound, at the other's last minute and after it.
    last_minutes: Vec<f64>,
    wrong: Vec<String>,
}

/// The ends of what is left in every draw: of each task, and of all.
fn ends_of(outlook: &Outlook<Matrix>) -> (BTreeMap<usize, Vec<f32>>, Vec<f32>) {
    let (mut tasks, mut all) = (BTreeMap::<usize, Vec<f32>>::new(), Vec::new());
    let items = outlook.items();
    for number in 0..BATCHES {
        let inside = outlook.run(number, &items, &mut |place, _, _, done| {
            tasks.entry(items[place].at).or_default().extend(done.end);
        });
        all.extend(inside.unwrap());
    }
    (tasks, all)
}

/// How many points our chance to end by a percentile of the samples lies off. Between two windows
/// nothing ends: there a percentile may be any minute of the gap, and its chance is the same.
#[expect(clippy::cast_possible_truncation, reason = "minutes need no more digits")]
fn points_off(ends: &[f32], percentile: f64, chance: f64) -> f64 {
    let by = |minute: f32| {
        let within = ends.iter().filter(|end| **end <= minute).count();
        f64::from(u32::try_from(within).unwrap()) / f64::from(u32::try_from(ends.len()).unwrap())
    };
    let (least, most) = (by(percentile as f32 - ROUNDED), by(percentile as f32 + ROUNDED));
    (least - chance).max(chance - most).max(0.0) * 100.0
}

impl Apart {
    fn add(
        &mut self,
        which: &str,
        given: &Given,
        (now, egress_ended, progress): (f64, Option<f64>, &[GivenProgress]),
        told: &Answers,
    ) {
        let on_the_day = usize::from(now > 0.0);
        let made = given.made(progress);
        let outlook = outlook(given, &made, (now, egress_ended));
        let rest = outlook.rest().unwrap();
        let mut chances = vec![(rest.chance, told.chance, "inside".to_owned())];
        let (ends_of_tasks, all_ends) = ends_of(&outlook);
        let mut ends = vec![
            (0.5, "all".to_owned(), points_off(&all_ends, told.end[0], 0.5)),
            (0.8, "all".to_owned(), points_off(&all_ends, told.end[1], 0.8)),
        ];
        for (name, of) in &told.stops {
            let task = &name.parse::<usize>().unwrap();
            let own = rest.tasks.iter().find(|rest| rest.task == *task).unwrap();
            chances.push((own.in_time, of.in_time, format!("in time {task}")));
            chances.push((own.missed, of.missed, format!("missed {task}")));
            chances.push((own.reached, of.reached, format!("reached {task}")));
            self.reached.push((own.reached - of.reached).abs() * 100.0);
            for (percentile, chance) in [(of.ends[0], 0.5), (of.ends[1], 0.8)] {
                // Work that waits past the limit ends somewhere there.
                if of.missed < 1.0 - chance - 0.1 {
                    let off = points_off(&ends_of_tasks[task], percentile, chance);
                    ends.push((chance, task.to_string(), off));
                }
            }
            if let Some(latest) = told.latest.get(name) {
                let chance = |start: f64| outlook.chance_begun_at(*task, start);
                let ours = outlook.latest_start(*task);
                let off = last_off(chance, now, ours, *latest);
                self.last_minutes.push(off);
                if off > SEARCHED[on_the_day] {
                    self.wrong.push(format!(
                        "{which}: start of {task} by {ours:?} for {latest:?}, {off:.2} points off"
                    ));
                }
            }
        }
        for (site, minute) in told.turn_back.iter().enumerate() {
            // Nobody has set up the airlock.
            if site > 0 {
                let chance = |from: f64| outlook.chance_home_from(site.into(), 1.0, from);
                let off = last_off(chance, 0.0, outlook.turn_back(site.into(), 1.0), Some(*minute));
                self.last_minutes.push(off);
                if off > SEARCHED[on_the_day] {
                    self.wrong.push(format!("{which}: back from {site} {off:.2} points off"));
                }
            }
        }
        for (ours, theirs, what) in chances {
            let points = (ours - theirs).abs() * 100.0;
            if points > POINTS {
                self.wrong.push(format!("{which}: {what} {ours:.4} for {theirs:.4}"));
            }
            self.points.push(points);
        }
        let draws = f64::from(u32::try_from(Outlook::<Matrix>::DRAWS).unwrap());
        let error = (1.0 / EVEN[on_the_day] + 1.0 / draws).sqrt() * 100.0;
        for (chance, what, points) in ends {
            let errors = points / ((chance * (1.0 - chance)).sqrt() * error);
            if errors > ERRORS_OF_PERCENTILES {
                let p = chance * 100.0;
                self.wrong.push(format!("{which}: P{p:.0} of {what} {points:.2} points off"));
            }
            self.ends.push(points);
        }
        let (mean, sd) = outlook.crew_day().log();
        let error = told.log_day[1] / EVEN[on_the_day].sqrt();
        for (ours, theirs, error) in
            [(mean, told.log_day[0], error), (sd, told.log_day[1], error / 2.0_f64.sqrt())]
        {
            // They are rounded to four digits.
            let errors = ((ours - theirs).abs() - 0.000_05).max(0.0) / error;
            if errors > ERRORS {
                self.wrong.push(format!("{which}: crew day {ours:.4} for {theirs:.4}"));
            }
            self.log_day.push(errors);
        }
    }
}

/// By how many points their last minute, or that there is none, contradicts our chances: how far
/// ours lies below eight in ten then, or above it at any later minute up to our own last one. Without
/// bound where our own last minute is none by our own chances.
fn last_off(chance: impl Fn(f64) -> f64, now: f64, ours: Option<f64>, theirs: Option<f64>) -> f64 {
    const BOUND: f64 = 0.8;
    let holds = |minute: f64| chance(minute) >= BOUND - 1e-9;
    let is_last = ours.is_none_or(|minute| holds(minute) && chance(minute + 1.0) <= BOUND + 1e-9);
    let passes = theirs.filter(|theirs| ours.is_none_or(|ours| *theirs > ours));
    if !is_last || passes.is_some_and(|minute| chance(minute) > BOUND + 1e-9) {
        return f64::INFINITY;
    }
    let then = theirs.map_or(0.0, |minute| BOUND - chance(minute));
    let first = theirs.map_or(now.ceil(), |minute| minute + 1.0);
    let later = std::iter::successors(Some(first), |at| Some(at + 1.0));
    let later = later.take_while(|at| ours.is_some_and(|ours| *at <= ours));
    let most = later.map(chance).fold(0.0, f64::max);
    then.max(most - BOUND).max(0.0) * 100.0
}

#[test]
fn sampled_days_say_the_same_of_200_excursions_before_and_on_the_day() {
    // Source: NumPy 2.4, a million samples of each; tests/reference/day.py. Conditioned by weights and
    // by leaving out draws, where this program works out the law that is left.
    let all: Vec<Case> = cases(include_str!("../../../../tests/reference/day.json"));
    assert_eq!(all.len(), 200);
    let mut apart = Apart::default();
    for (at, case) in all.iter().enumerate() {
        apart.add(&format!("case {at} before"), &case.given, (0.0, None, &[]), &case.before);
        let Then { now, progress, egress_ended, answers } = &case.then;
        let state = (*now, *egress_ended, progress.as_slice());
        apart.add(&format!("case {at} then"), &case.given, state, answers);
    }
    println!("chances, points: {}", spread(apart.points));
    println!("chance to be reached, points: {}", spread(apart.reached));
    println!("chance to end by P50 and P80, points: {}", spread(apart.ends));
    println!("logarithm of the crew day, standard errors: {}", spread(apart.log_day));
    println!("turn back by and latest starts, points: {}", spread(apart.last_minutes));
    assert!(apart.wrong.is_empty(), "{}\n{}", apart.wrong.len(), apart.wrong.join("\n"));
}
