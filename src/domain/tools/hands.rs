//! In which slots' hands a tool is on one excursion, and how many are in hand at once.

use std::collections::BTreeSet;

use crate::codes::{SlotCode, TaskCode};

/// A slot whose technique takes the tool.
#[derive(Debug, Clone, PartialEq)]
pub struct Hand {
    pub slot: SlotCode,
    pub task: TaskCode,
    /// The numbers of the seats.
    pub seats: Vec<u8>,
    /// Begin and end of the work in minutes of elapsed time; `None` where it cannot be timed.
    pub span: Option<(f64, f64)>,
}

impl Hand {
    /// Both want it at the same time, or may: they are in other seats, and their times meet or are
    /// not known. Two slots of one seat follow one another.
    fn meets(&self, other: &Self) -> bool {
        let same_seat = self.seats.iter().any(|seat| other.seats.contains(seat));
        let meets = match (self.span, other.span) {
            (Some((start, end)), Some((from, to))) => start < to && from < end,
            (None, _) | (_, None) => true,
        };
        !same_seat && meets
    }
}

/// Pairs of slots that want the tool at the same time, in their order.
pub fn clashes(hands: &[Hand]) -> Vec<(&Hand, &Hand)> {
    let behind = |at: usize| hands[at + 1..].iter().map(move |other| (&hands[at], other));
    (0..hands.len()).flat_map(behind).filter(|(one, other)| one.meets(other)).collect()
}

/// How many are in hand at once at the most. A slot takes one, whatever its seats.
pub fn at_once(hands: &[Hand]) -> usize {
    // The most are in hand when one of them has just been taken.
    let most = hands.iter().map(|hand| {
        let mut seats: BTreeSet<u8> = hand.seats.iter().copied().collect();
        let mut count = 1;
        for other in hands.iter().filter(|other| other.slot != hand.slot) {
            let during = match (hand.span, other.span) {
                (Some((start, _)), Some((from, to))) => from <= start && start < to,
                (None, _) | (_, None) => true,
            };
            if during && other.seats.iter().all(|seat| !seats.contains(seat)) {
                seats.extend(&other.seats);
                count += 1;
            }
        }
        count
    });
    most.max().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hand(slot: &str, seats: &[u8], span: Option<(f64, f64)>) -> Hand {
        Hand { slot: slot.into(), task: "T-1".into(), seats: seats.to_vec(), span }
    }

    #[test]
    fn two_lanes_that_want_it_at_the_same_time_take_two() {
        let both = [hand("S-1", &[1], Some((30.0, 90.0))), hand("S-2", &[2], Some((60.0, 120.0)))];
        assert_eq!(at_once(&both), 2);
        assert_eq!(clashes(&both), [(&both[0], &both[1])]);
        let after = [hand("S-1", &[1], Some((30.0, 60.0))), hand("S-2", &[2], Some((60.0, 120.0)))];
        assert_eq!(at_once(&after), 1);
        assert!(clashes(&after).is_empty());
    }

    #[test]
    fn slots_of_one_seat_follow_one_another_even_where_their_times_are_unknown() {
        let one_seat = [hand("S-1", &[1], None), hand("S-2", &[1, 2], None)];
        assert_eq!(at_once(&one_seat), 1);
        assert!(clashes(&one_seat).is_empty());
        let two_seats = [hand("S-1", &[1], None), hand("S-2", &[2], Some((0.0, 9.0)))];
        assert_eq!(at_once(&two_seats), 2, "it may be at the same time");
        assert_eq!(at_once(&[]), 0);
        assert_eq!(at_once(&[hand("S-1", &[1, 2], None)]), 1, "two seats share one");
    }

    #[test]
    fn no_more_are_in_hand_than_there_are_seats() {
        let crowd: Vec<Hand> =
            (0..12).map(|n| hand(&format!("S-{n}"), &[1 + n % 2], None)).collect();
        assert_eq!(at_once(&crowd), 2);
    }
}
