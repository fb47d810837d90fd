//! The suits' supplies, seat by seat: when each runs out and what is left of it at the end.

use super::drawn::TimedPlan;
use crate::linked::{Piece, of_parts};
use app::fit::Board;
use compute::fit::{Excursion, ExcursionAt, Snapshot, Timing, pet, unknown_sentence};
use compute::supplies::{Lasts, Supply, first_to_run_out};
use domain::units::Minutes;

#[derive(Default)]
pub(super) struct Suits {
    /// `EV1`, with the end of each seat at P80.
    pub seats: Vec<(String, String)>,
    pub rows: Vec<SupplyRow>,
    /// The seat and supply that set the limit.
    pub first: String,
    pub reserve: String,
    /// What keeps them from being told.
    pub unknown: Vec<Vec<Piece>>,
}

/// One supply, with a figure a seat.
pub(super) struct SupplyRow {
    pub name: &'static str,
    pub carried: String,
    pub seats: Vec<SeatSupply>,
}

pub(super) struct SeatSupply {
    pub runs_out: String,
    pub left: String,
    /// Its reserve is planned away, or more than that.
    pub short: Option<&'static str>,
}

pub(super) fn of(board: &Board, at: ExcursionAt, plan: &TimedPlan) -> Suits {
    let reserve = board.constants.supply_reserve;
    let unknown: Vec<Vec<Piece>> = plan
        .planned
        .suits_unknown
        .iter()
        .map(|unknown| of_parts(&unknown_sentence(&board.snapshot, unknown)))
        .collect();
    let mut suits = Suits { unknown, reserve: format!("{reserve:.0} min"), ..Suits::default() };
    if let Some(timing) = plan.ending().filter(|timing| !timing.seat_supplies.is_empty()) {
        fill(&mut suits, &board.snapshot, at, timing, reserve);
    }
    suits
}

fn fill(suits: &mut Suits, snapshot: &Snapshot, at: ExcursionAt, timing: &Timing, reserve: f64) {
    let (here, tasks) = (&snapshot.excursions[at], &snapshot.tasks);
    let seats = || here.seats.iter().zip(&timing.seat_ends_p80).zip(&timing.seat_supplies);
    suits.seats =
        seats().map(|((seat, end), _)| (format!("EV{seat}"), pet(*end).to_string())).collect();
    suits.rows = Supply::ALL
        .iter()
        .enumerate()
        .map(|(place, &supply)| SupplyRow {
            name: supply.word(),
            carried: carried(here, supply),
            seats: seats()
                .map(|((_, end), lasting)| seat_supply(&lasting[place], *end, reserve))
                .collect(),
        })
        .collect();
    let first = seats()
        .map(|((seat, _), lasting)| (seat, first_to_run_out(lasting)))
        .min_by(|(_, a), (_, b)| a.runs_out.total_cmp(&b.runs_out));
    if let Some((seat, first)) = first {
        let during = first.during.and_then(|task| tasks.get(task));
        let during = during.map(|task| format!(", during {}", task.code)).unwrap_or_default();
        let at = pet(first.runs_out);
        suits.first = format!("{} of EV{seat}, {at}{during}", first.supply.word());
    }
}

fn seat_supply(lasts: &Lasts, end: f64, reserve: f64) -> SeatSupply {
    let after = lasts.runs_out - end;
    let short = match after {
        after if after < 0.0 => Some("too little"),
        after if after < reserve => Some("inside the reserve"),
        _ => None,
    };
    let runs_out = if lasts.runs_out.is_finite() {
        pet(lasts.runs_out).to_string()
    } else {
        "not used".to_owned()
    };
    SeatSupply { runs_out, left: format!("{:.0} %", (lasts.left * 100.0).max(0.0)), short }
}

fn carried(here: &Excursion, supply: Supply) -> String {
    let kilograms = |amount: Option<f64>| amount.map(|kg| format!("{kg} kg")).unwrap_or_default();
    match supply {
        Supply::Oxygen => kilograms(here.supplies.oxygen),
        Supply::Scrubber => kilograms(here.supplies.scrubber) + " CO₂",
        Supply::Water => kilograms(here.supplies.water),
        Supply::Battery => {
            here.supplies.battery.map(pet).map(|pet| Minutes(pet.0).clock()).unwrap_or_default()
        }
    }
}
