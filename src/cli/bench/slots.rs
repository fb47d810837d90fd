//! `holdover bench slots`: the matrix of candidate slots, and one excursion timed again.

use std::hint::black_box;
use std::time::{Duration, Instant};

use clap::Args;
use serde_json::json;

use compute::fit::load::{self, Size};
use compute::fit::{Constants, Counting, Snapshot, excursion_as_planned, matrix};

/// Slots on each excursion, and worksites.
const SLOTS: usize = 12;
const SITES: usize = 60;

#[derive(Debug, Args)]
pub struct Slots {
    /// Open items: the rows
    #[arg(long, default_value_t = 500, value_parser = clap::value_parser!(u16).range(1..))]
    tasks: u16,
    /// Coming excursions, each with 12 set slots: the columns
    #[arg(long, default_value_t = 40, value_parser = clap::value_parser!(u16).range(1..))]
    excursions: u16,
    /// From which the load is made up
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// How often each is timed; the median counts
    #[arg(long, default_value_t = 15, value_parser = clap::value_parser!(u16).range(1..))]
    runs: u16,
    /// Prints JSON, and nothing else
    #[arg(long)]
    json: bool,
}

pub fn run(call: &Slots) {
    let (tasks, excursions) = (usize::from(call.tasks), usize::from(call.excursions));
    let of = |open_tasks, excursions| {
        let size = Size { open_tasks, excursions, slots_each: SLOTS, sites: SITES };
        load::snapshot(&size, call.seed)
    };
    let constants = Constants::default();
    let judge = |snapshot: &Snapshot| {
        black_box(matrix(black_box(snapshot), &constants));
    };
    let (small, large) = (of(tasks, excursions), of(2 * tasks, 2 * excursions));
    let (mut one, mut four, mut again) = (Vec::new(), Vec::new(), Vec::new());
    // In turns, so that what else the machine does falls on all of them.
    for run in 0..=call.runs {
        let matrix_of_small = timed(|| judge(&small));
        let matrix_of_large = timed(|| judge(&large));
        let timed_again = timed(|| {
            let at = (usize::from(run) % excursions).into();
            black_box(excursion_as_planned(black_box(&small), at, Counting::Set, &constants));
        });
        // The first round warms up.
        if run > 0 {
            one.push(matrix_of_small);
            four.push(matrix_of_large);
            again.push(timed_again);
        }
    }
    let (one, four, again) = (median(one), median(four), median(again));
    let ratio = four.as_secs_f64() / one.as_secs_f64();
    let cells = tasks * excursions;
    if call.json {
        let said = json!({
            "tasks": tasks,
            "excursions": excursions,
            "slots_each": SLOTS,
            "worksites": SITES,
            "cells": cells,
            "runs": call.runs,
            "matrix_ms": milliseconds(one),
            "four_times_the_cells_ms": milliseconds(four),
            "ratio": ratio,
            "one_excursion_ms": milliseconds(again),
        });
        println!("{said}");
        return;
    }
    println!("{tasks} open tasks × {excursions} excursions of {SLOTS} slots, {SITES} worksites");
    println!("matrix of {cells} cells: {:.1} ms, median of {}", milliseconds(one), call.runs);
    println!("4 × the cells: {:.1} ms, {ratio:.2} × the time", milliseconds(four));
    println!("one excursion timed again: {:.3} ms", milliseconds(again));
}

fn timed(work: impl FnOnce()) -> Duration {
    let begun = Instant::now();
    work();
    begun.elapsed()
}

fn median(mut times: Vec<Duration>) -> Duration {
    times.sort_unstable();
    times[times.len() / 2]
}

fn milliseconds(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}
