//! Whole minutes of elapsed time. Blocks are cut at whole minutes, a part that has begun counting
//! as gone; what is the latest moment for something is rounded the other way.

/// Less than this is rounding.
const ROUNDING: f64 = 1e-6;

/// The first whole minute that is not before it: where blocks are cut, and when things end.
#[expect(clippy::cast_possible_truncation, reason = "minutes of an excursion; `as` saturates")]
pub(in crate::fit) fn up(minutes: f64) -> i32 {
    (minutes - ROUNDING).ceil() as i32
}

/// The last whole minute that is not after it: latest starts, margins, and how long things last.
#[expect(clippy::cast_possible_truncation, reason = "minutes of an excursion; `as` saturates")]
pub(in crate::fit) fn down(minutes: f64) -> i32 {
    (minutes + ROUNDING).floor() as i32
}

/// The whole number nearest to it: of per cent, which are no minutes.
#[expect(clippy::cast_possible_truncation, reason = "a few hundred at most; `as` saturates")]
pub(in crate::fit) fn nearest(value: f64) -> i32 {
    value.round() as i32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_round_up_and_latest_starts_round_down() {
        for (minutes, end, start) in
            [(70.0, 70, 70), (70.1, 71, 70), (70.9, 71, 70), (70.999_999_9, 71, 71), (-0.5, 0, -1)]
        {
            assert_eq!((up(minutes), down(minutes)), (end, start), "{minutes}");
        }
    }
}
