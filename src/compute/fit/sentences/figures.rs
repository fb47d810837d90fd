//! The figures of reasons, in words.

use crate::fit::Room;
use crate::fit::reasons::{PracticeFigures, TimeFigures, WindowFigures};
use crate::supplies::Supply;
use crate::timeline::Lanes;
use domain::units::Minutes;

/// How it was practised: `done` is “rehearsed” or “trained”.
pub(super) fn practice(done: &str, figures: PracticeFigures) -> String {
    match figures {
        PracticeFigures::Never { demanded: false } => {
            format!("never {done}, and the technique does not demand it.")
        }
        PracticeFigures::Never { demanded: true } => {
            format!("never {done}, and the technique demands it.")
        }
        PracticeFigures::OtherSide => format!("{done} from another side alone."),
        PracticeFigures::OlderRevision => format!("{done} in an older revision alone."),
        PracticeFigures::Undated => format!("{done}, but the date is not recorded; enter it."),
        PracticeFigures::DaysBefore { days: 1 } => format!("last {done} the day before."),
        PracticeFigures::DaysBefore { days } => format!("last {done} {days} days before."),
    }
}

pub(super) fn time(figures: &TimeFigures) -> String {
    let TimeFigures { needs, margin, chance, past_plan, .. } = *figures;
    let seats = seats(figures.lanes);
    let chance = per_cent(f64::from(chance));
    let past = match (past_plan, -margin) {
        (1.., 1..) => {
            format!("; at mean minutes {past_plan} min past the plan, {} past the limit", -margin)
        }
        (1.., _) => format!("; at mean minutes {past_plan} min past the plan"),
        (_, 1..) => format!("; at mean minutes {} min past the limit", -margin),
        (_, _) => String::new(),
    };
    format!("Adds {needs} min in {seats}: {chance} to end inside the limit{past}.")
}

pub(super) fn window(figures: &WindowFigures) -> String {
    let WindowFigures { start, end, closes, chance } = *figures;
    let (start, end) = (clock(start), clock(end));
    if chance > 0.0 {
        let closes = clock(closes);
        let chance = per_cent(f64::from(chance));
        format!(
            "Work from {start} to {end}, the window closes at {closes}: {chance} to end inside it."
        )
    } else {
        "No window is left that is long enough: the work would wait past the limit.".to_owned()
    }
}

/// The supply that runs out first, held against the end that holds in eight cases of ten.
pub(super) fn supply_left(supply: Supply, seat: u8, runs_out: i32, left: i32) -> String {
    let name = supply.word();
    let at = clock(runs_out);
    match left {
        0.. => format!("EV{seat}: {name} runs out first, at {at}, {left} min after the end at P80"),
        _ => format!("EV{seat}: {name} runs out at {at}, {} min before the end at P80", -left),
    }
}

/// Elapsed time as h:mm.
pub(in crate::fit) fn clock(minutes: i32) -> String {
    Minutes(i64::from(minutes.max(0))).clock()
}

/// A chance in whole per cent. Nothing that is worked out from estimates is certain.
pub fn per_cent(chance: f64) -> String {
    match chance {
        chance if chance > 0.99 => "over 99 %".to_owned(),
        chance if chance < 0.01 => "under 1 %".to_owned(),
        chance => format!("{:.0} %", chance * 100.0),
    }
}

fn seats(lanes: Lanes) -> String {
    let count = lanes.count();
    match count {
        1 => "one seat".to_owned(),
        _ => format!("{count} seats"),
    }
}

/// What is left before the limit, and which plan each figure belongs to: “3:50 left, set tasks only
/// · 1:16 with 4 pencilled”.
pub fn room_words(room: &Room) -> String {
    let left = |minutes: Option<f64>, word: &str| match minutes {
        None => format!("unknown{}", if word.is_empty() { "" } else { " time left" }),
        Some(over) if over < 0.0 => format!("{} past the limit", margin(-over)),
        Some(minutes) => format!("{}{word}", margin(minutes)),
    };
    let set = format!("{}, set tasks only", left(room.set_only, " left"));
    match room.pencilled {
        0 => set,
        some => format!("{set} · {} with {some} pencilled", left(room.with_pencilled, "")),
    }
}

/// Hours and whole minutes that a task adds, rounded up.
pub fn minutes_added(minutes: f64) -> String {
    Minutes(i64::from(crate::fit::place::up(minutes))).clock()
}

/// Hours and whole minutes of a margin, rounded down, as in `0:26`; a minus sign where it is used
/// up.
pub fn margin(minutes: f64) -> String {
    let whole = i64::from(crate::fit::place::down(minutes));
    let sign = if whole < 0 { "−" } else { "" };
    format!("{sign}{}", Minutes(whole.abs()).clock())
}
