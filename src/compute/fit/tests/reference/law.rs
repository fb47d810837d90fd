//! Ends and chances of work with a long tail.

use crate::places::ExcursionAt;
use serde::Deserialize;

use super::super::super::{Constants, Counting, excursion_as_planned};
use super::{Given, cases, snapshot};

#[derive(Deserialize)]
struct Case {
    #[serde(flatten)]
    given: Given,
    log_sd: LogSd,
    p80: f64,
    inside_plan: f64,
    inside_limit: f64,
}

/// How far each factor of an excursion varies.
#[derive(Deserialize)]
struct LogSd {
    crew_day: f64,
    egress: f64,
    ingress: f64,
    travel: f64,
    site: f64,
}

fn constants(log_sd: &LogSd) -> Constants {
    Constants {
        crew_day_log_sd: log_sd.crew_day,
        egress_log_sd: log_sd.egress,
        ingress_log_sd: log_sd.ingress,
        travel_log_sd: log_sd.travel,
        site_log_sd: log_sd.site,
        ..Constants::default()
    }
}

#[test]
fn long_tails_in_both_seats_end_when_a_million_samples_do() {
    // Source: NumPy 2.4, 10⁶ samples of each of 200 excursions; tests/reference/law.py. Their own
    // error is at most 0.05 points and some 0.2 min: what is left of the bounds is ours.
    let all: Vec<Case> = cases(include_str!("../../../../../tests/reference/law.json"));
    assert_eq!(all.len(), 200);
    let (mut minutes, mut points): (f64, f64) = (0.0, 0.0);
    let mut wrong = Vec::new();
    for (at, case) in all.iter().enumerate() {
        let made = snapshot(&case.given);
        let planned =
            excursion_as_planned(&made, ExcursionAt(0), Counting::Set, &constants(&case.log_sd));
        let timing = planned.timing.unwrap();
        let apart = (timing.end_p80 - case.p80).abs();
        let plan = (timing.chance_of_plan.unwrap() - case.inside_plan).abs() * 100.0;
        let limit = (timing.chance.unwrap() - case.inside_limit).abs() * 100.0;
        minutes = minutes.max(apart / case.p80.max(100.0) * 100.0);
        points = points.max(plan).max(limit);
        if apart > f64::max(1.0, case.p80 / 100.0) || plan > 2.0 || limit > 2.0 {
            wrong.push(format!(
                "case {at}: P80 {:.1} for {:.1}, inside plan {plan:.1} and limit {limit:.1} points off",
                timing.end_p80, case.p80
            ));
        }
    }
    println!("P80 at most {minutes:.2} % off, chances at most {points:.2} points");
    assert!(wrong.is_empty(), "{} of 200\n{}", wrong.len(), wrong.join("\n"));
}
