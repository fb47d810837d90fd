//! How long the suits last, and which supply of which seat runs out first.

use crate::places::ExcursionAt;
use serde::Deserialize;

use super::super::super::{Counting, excursion_as_planned};
use super::{Given, GivenRates, cases, fixed_overheads, snapshot};
use crate::supplies::{Supply, Usage, caloric_equivalent};

#[derive(Deserialize)]
struct Case {
    #[serde(flatten)]
    given: Given,
    p80: f64,
    /// Per seat and supply: mean and standard error of the minutes from the end until it runs out.
    left: Vec<[(f64, f64); 4]>,
    first: First,
}

#[derive(Debug, Deserialize)]
struct First {
    seat: u8,
    supply: String,
    during: i64,
    share: f64,
}

/// How far the two formulas for the energy of a litre of oxygen lie apart, as a share.
// Source: Weir, Journal of Physiology 109, 1949: 3.941 l O₂ + 1.106 l CO₂.
fn formulas_apart(quotient: f64) -> f64 {
    ((3.941 + 1.106 * quotient) / caloric_equivalent(quotient) - 1.0).abs()
}

/// How many minutes of rest a supply lasts.
fn at_rest(case: &Case, lane: usize, supply: Supply) -> f64 {
    let rates = &case.given.rates[lane];
    let minute = Usage::of(&super::rates(rates)).used(rates.overhead / 60.0, 1.0);
    let carried = case.given.carried.as_ref().unwrap();
    let has = if supply == Supply::Oxygen { carried.oxygen } else { carried.scrubber };
    has / supply.of(&minute)
}

/// How much more than at rest is spent in the hardest minute.
fn most_above_overhead(rates: &GivenRates) -> f64 {
    rates.heavy.max(rates.moderate) / rates.overhead
}

#[test]
fn two_hundred_excursions_run_out_of_what_the_samples_run_out_of() {
    // Source: NumPy 2.4, 10⁵ samples of each of 200 excursions, with Weir's equation;
    // tests/reference/supplies.py.
    let all: Vec<Case> = cases(include_str!("../../../../../tests/reference/supplies.json"));
    assert_eq!(all.len(), 200);
    let mut wrong = Vec::new();
    let (mut named, mut under_way) = (0, 0);
    for (at, case) in all.iter().enumerate() {
        let made = snapshot(&case.given);
        let planned =
            excursion_as_planned(&made, ExcursionAt(0), Counting::Set, &fixed_overheads(0.12));
        let timing = planned.timing.unwrap();
        assert!((timing.end_p80 - case.p80).abs() < f64::max(1.0, case.p80 / 100.0), "case {at}");
        let mut first = (f64::INFINITY, 0, Supply::Oxygen);
        let (mut second, mut during) = (f64::INFINITY, -1);
        for (lane, (ours, theirs)) in timing.seat_supplies.iter().zip(&case.left).enumerate() {
            let rates = &case.given.rates[lane];
            let apart = formulas_apart(rates.quotient);
            for (lasts, &(mean, error)) in ours.iter().zip(theirs) {
                let left = lasts.runs_out - timing.end_p80;
                let gases = matches!(lasts.supply, Supply::Oxygen | Supply::Scrubber);
                let formula = if gases { apart * at_rest(case, lane, lasts.supply) } else { 0.0 };
                // What the end is off counts at the rate of the work; whole minutes are told.
                let end = (timing.end_p80 - case.p80).abs() * most_above_overhead(rates);
                let bound = 4.0 * error + formula + end + 1.5;
                if (left - mean).abs() > bound {
                    wrong.push(format!(
                        "case {at} lane {lane} {:?}: {left:.1} for {mean:.1} ± {bound:.1}",
                        lasts.supply
                    ));
                }
                if lasts.runs_out < first.0 {
                    second = first.0;
                    first = (lasts.runs_out, case.given.seats[lane], lasts.supply);
                    during = lasts.during.map_or(-1, |task| i64::from(task.0) - 1);
                } else {
                    second = second.min(lasts.runs_out);
                }
            }
        }
        // Where two run out within a few minutes of each other, either may be the first.
        if second - first.0 > 6.0 {
            named += 1;
            if (first.1, first.2.word()) != (case.first.seat, word(&case.first.supply)) {
                wrong.push(format!("case {at}: {first:?} first, not {:?}", case.first));
            } else if case.first.share > 0.7 {
                under_way += usize::from(during >= 0);
                if during != case.first.during {
                    wrong.push(format!("case {at}: during {during}, not {:?}", case.first));
                }
            }
        }
    }
    println!("{named} with one first supply, {under_way} of them while work is under way");
    assert!(named > 100 && under_way > 5, "{named} {under_way}");
    assert!(wrong.is_empty(), "{}\n{}", wrong.len(), wrong.join("\n"));
}

fn word(supply: &str) -> &str {
    if supply == "water" { Supply::Water.word() } else { supply }
}
