//! Swaps and moves: what the hardware caused goes with the unit, what the place caused stays.

use super::*;

/// Unit `U-n` at position `P-m`, under the task of that position.
fn stood(serial: u8, at: u8) -> UnitKey {
    UnitKey { unit: unit(serial).unit, ..unit(at) }
}

fn by_hardware(number: i64, on: UnitKey, by: &Approach) -> Try {
    tried(number, on, by, account(Outcome::NotCompleted, Some(Scope::Hardware)))
}

fn told(on: &UnitKey, tries: &[Try]) -> Vec<(String, SetApartBecause, bool)> {
    let record = record(tries, &[], &[]);
    let apart = set_apart(on, &Guard::new(record));
    apart.into_iter().map(|one| (one.attempt.to_string(), one.belongs, one.counts)).collect()
}

#[test]
fn a_swapped_unit_takes_along_what_its_hardware_caused_and_leaves_what_the_place_caused() {
    let by = approach("K-1", "nadir");
    // U-1 failed at P-1 twice: once by its own fault, once for want of room there. Then U-1 and U-2
    // changed places.
    let tries = [by_hardware(1, stood(1, 1), &by), failed(2, stood(1, 1), &by)];
    let (moved, came) = (stood(1, 2), stood(2, 1));

    let from: PositionCode = "P-1".into();
    let (unit, at) = (UnitCode::from("U-1"), from.clone());
    assert_eq!(
        told(&moved, &tries),
        [
            ("A-1".into(), SetApartBecause::CameWithTheUnit { unit: unit.clone(), from }, true),
            ("A-2".into(), SetApartBecause::StayedThere { at }, false),
        ]
    );
    assert_eq!(plainly(&moved, &by, &tries), blocked(&["A-1"]));
    assert_eq!(
        told(&came, &tries),
        [
            ("A-1".into(), SetApartBecause::WentWithTheUnit { unit: unit.clone() }, false),
            ("A-2".into(), SetApartBecause::StayedHere { unit }, true),
        ]
    );
    assert_eq!(plainly(&came, &by, &tries), blocked(&["A-2"]));
}

#[test]
fn nothing_is_set_apart_where_nothing_moved_or_nobody_knows_what_stood_there() {
    let by = approach("K-1", "nadir");
    let unknown = UnitKey { unit: None, ..unit(1) };
    let tries = [by_hardware(1, unit(1), &by), failed(2, unknown, &by), done(3, stood(1, 2), &by)];

    assert_eq!(told(&unit(1), &tries), []);
    assert_eq!(told(&unit(3), &tries), []);
}

#[test]
fn what_is_answered_moves_along_and_counts_no_more() {
    let by = approach("K-1", "nadir");
    let tries = [by_hardware(1, stood(1, 1), &by)];
    let answers = [answer(&["A-1"], Reach::ThisUnit, RemedyState::Verified)];
    let record = record(&tries, &answers, &[]);

    let apart = set_apart(&stood(1, 2), &Guard::new(record));

    assert_eq!(apart.len(), 1);
    assert!(!apart[0].counts);
}
