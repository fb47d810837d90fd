//! `holdover bench day`: everything on the board of the day after an event, the late card, and what
//! people who watch cost between two events.

use std::hint::black_box;
use std::time::Instant;

use clap::Args;
use serde_json::json;

use super::figures::Times;
use super::{press, watch};
use crate::Failed;
use compute::day::load::{self, MadeUp};
use compute::day::{LATENESSES, Outlook, late_card, milestones};

/// The chance to end inside the limit that the choices keep: the default setting.
const BOUND: f64 = 0.8;
/// Milestones of the card that is timed.
const MILESTONES: usize = 6;

#[derive(Debug, Args)]
pub struct Day {
    /// Tasks of the excursion
    #[arg(long, default_value_t = 12, value_parser = clap::value_parser!(u16).range(1..=24))]
    tasks: u16,
    /// Seats
    #[arg(long, default_value_t = 3, value_parser = clap::value_parser!(u16).range(1..=4))]
    seats: u16,
    /// How many made-up days are timed; the 99th of a hundred counts
    #[arg(long, default_value_t = 200, value_parser = clap::value_parser!(u16).range(1..))]
    runs: u16,
    /// How many people watch the board
    #[arg(long, default_value_t = 10, value_parser = clap::value_parser!(u16).range(1..))]
    watching: u16,
    /// Prints JSON, and nothing else
    #[arg(long)]
    json: bool,
}

pub async fn run(call: &Day) -> Result<(), Failed> {
    let (tasks, seats) = (usize::from(call.tasks), usize::from(call.seats));
    // The first outlook lays the draws out.
    board(&load::day(tasks, seats, 0), 150.0);
    let (mut boards, mut cards) = (Vec::new(), Vec::new());
    for run in 0..call.runs {
        let made = load::day(tasks, seats, u64::from(run) + 1);
        let begun = Instant::now();
        board(&made, 150.0 + f64::from(run % 60));
        boards.push(begun.elapsed());
        if run % 10 == 0 {
            let begun = Instant::now();
            card(&made);
            cards.push(begun.elapsed());
        }
    }
    let (boards, cards) = (Times::of(boards), Times::of(cards));
    let pressed = press::run((tasks, seats), call.runs).await?;
    let watched = watch::run(call.watching).await?;
    let draws = Outlook::<load::Line>::DRAWS;
    if call.json {
        let said = json!({
            "tasks": tasks,
            "seats": seats,
            "draws": draws,
            "runs": call.runs,
            "board_ms_median": boards.within(0.5),
            "board_ms_p99": boards.within(0.99),
            "late_card_ms_median": cards.within(0.5),
            "late_card_ms_most": cards.within(1.0),
            "watching": watched.people,
            "watching_ms_median": watched.state.within(0.5),
            "watching_board_ms_median": watched.board.within(0.5),
            "press_to_page_ms_median": pressed.within(0.5),
            "press_to_page_ms_p99": pressed.within(0.99),
            "watching_share_of_a_core": watched.share(),
        });
        println!("{said}");
        return Ok(());
    }
    println!("{tasks} tasks × {seats} seats, {draws} draws, {} made-up days", call.runs);
    println!(
        "board after an event: {:.1} ms, p99 {:.1} ms",
        boards.within(0.5),
        boards.within(0.99)
    );
    println!(
        "late card of {MILESTONES} milestones × {} latenesses: {:.0} ms, most {:.0} ms",
        LATENESSES.len(),
        cards.within(0.5),
        cards.within(1.0)
    );
    println!(
        "press to page over the router, {tasks} tasks × {seats} seats as records: {:.1} ms, p99 {:.1} ms",
        pressed.within(0.5),
        pressed.within(0.99)
    );
    println!(
        "{} people watching between events: {:.1} % of a core ({:.2} ms a question, {:.1} ms a board)",
        watched.people,
        100.0 * watched.share(),
        watched.state.within(0.5),
        watched.board.within(0.5)
    );
    Ok(())
}

/// All that the board shows after an event.
fn board(made: &MadeUp, now: f64) {
    let outlook = made.outlook(now);
    black_box(outlook.rest().ok());
    let best = outlook.best_drops(BOUND);
    let dropped: Vec<usize> = best.iter().flat_map(compute::day::DropSet::dropped).collect();
    for task in outlook.day().planned() {
        black_box(outlook.with_choices(outlook.without(&[task])).ok());
        black_box(outlook.latest_start(task));
    }
    for task in outlook.day().tasks {
        black_box(outlook.turn_back(task.stop.site, task.stop.carries_on));
    }
    for other in made.before().iter().take(8) {
        black_box(outlook.get_ahead(other, &dropped, BOUND));
    }
}

fn card(made: &MadeUp) {
    let tasks = made.before();
    let day = made.day(&tasks, 0.0);
    let rows = milestones(&day).unwrap_or_default();
    for (milestone, _) in rows.into_iter().take(MILESTONES) {
        for late in LATENESSES {
            black_box(late_card(&day, milestone, late, BOUND).ok());
        }
    }
}
