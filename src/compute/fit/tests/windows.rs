//! The gates that hang on windows, supplies, the bag and other hands.

use super::super::{Ask, Constants, Excursion, Explained, Part, Snapshot, one_cell, sentence};
use super::{KEEL, add, gate, record, says, set, task};
use crate::places::{ExcursionAt, RatesAt, TaskAt};
use crate::supplies::Rates;
use crate::three_point::ThreePoint;
use domain::kinds::Kind;
use domain::units::{Pet, Window};
use domain::words::GateVerdict::{CannotTell, Met, NotMet, Tight};
use domain::words::{GateName, LightNeed, WorkRate};
use typed_index_collections::ti_vec;

fn window(from: i64, until: i64) -> Window {
    Window { from: Pet(from), until: Pet(until) }
}

fn judged(record: &Snapshot, constants: &Constants, name: GateName) -> (Explained, String) {
    let explained = one_cell(record, constants, TaskAt(0), ExcursionAt(0), &Ask::default());
    let words = Part::plain(&sentence(record, TaskAt(0), &explained.reason(name)));
    (explained, words)
}

#[test]
fn the_work_waits_for_the_arm_and_may_miss_its_window() {
    let mut record = record();
    assert_eq!(gate(&record, 0, GateName::Arm), Met);
    record.tasks[TaskAt(0)].arm = true;
    assert_eq!(gate(&record, 0, GateName::Arm), CannotTell);
    record.excursions[ExcursionAt(0)].arm_windows = vec![window(100, 200)];
    // Ready at 0:45, it waits until 1:40 and works 60 min: done at 2:40, 40 min before the window
    // closes.
    let (explained, _) = judged(&record, &Constants::default(), GateName::Arm);
    assert!((explained.cell.place.unwrap().start - 100.0).abs() < 1e-9);
    assert_eq!(explained.cell.gate(GateName::Arm), Met);
    record.excursions[ExcursionAt(0)].arm_windows = vec![window(100, 163)];
    // Three minutes to spare and a crew day of log sd 0.12: Φ((ln(63/60) + 0.0072)/0.12) = 68 %.
    assert_eq!(gate(&record, 0, GateName::Arm), Tight);
    assert_eq!(
        says(&record, 0, GateName::Arm),
        "Work from 1:40 to 2:40, the window closes at 2:43: 68 % to end inside it."
    );
    record.excursions[ExcursionAt(0)].arm_windows = vec![window(100, 159)];
    assert_eq!(gate(&record, 0, GateName::Arm), NotMet);
    assert_eq!(
        says(&record, 0, GateName::Arm),
        "No window is left that is long enough: the work would wait past the limit."
    );
}

fn orbit(excursion: &mut Excursion, beta: f64) {
    excursion.orbit.altitude = Some(400.0);
    excursion.orbit.beta = Some(beta);
    excursion.orbit.first_sunrise = Some(80.0);
}

#[test]
fn daylight_work_waits_for_the_sun() {
    let mut record = record();
    record.tasks[TaskAt(0)].work = ThreePoint::new(40.0, 40.0, 40.0);
    record.tasks[TaskAt(0)].lighting = Some(LightNeed::DaylightOnly);
    assert_eq!(gate(&record, 0, GateName::Lighting), CannotTell);
    orbit(&mut record.excursions[ExcursionAt(0)], 0.0);
    // Night until 1:20, day for 56 min: 400 km and beta 0, as checked in compute::lighting.
    let (explained, _) = judged(&record, &Constants::default(), GateName::Lighting);
    assert!((explained.cell.place.unwrap().start - 80.0).abs() < 1e-9);
    assert_eq!(explained.cell.gate(GateName::Lighting), Met);
    record.tasks[TaskAt(0)].work = ThreePoint::new(57.0, 57.0, 57.0);
    assert_eq!(gate(&record, 0, GateName::Lighting), NotMet);
}

#[test]
fn near_the_critical_beta_lighting_cannot_be_told() {
    let mut record = record();
    record.tasks[TaskAt(0)].lighting = Some(LightNeed::NightOnly);
    orbit(&mut record.excursions[ExcursionAt(0)], 70.0);
    assert_eq!(gate(&record, 0, GateName::Lighting), CannotTell);
    orbit(&mut record.excursions[ExcursionAt(0)], 75.0);
    assert_eq!(gate(&record, 0, GateName::Lighting), NotMet);
    record.tasks[TaskAt(0)].lighting = Some(LightNeed::DaylightOnly);
    assert_eq!(gate(&record, 0, GateName::Lighting), Met);
    record.tasks[TaskAt(0)].lighting = None;
    record.excursions[ExcursionAt(0)].orbit.beta = None;
    assert_eq!(gate(&record, 0, GateName::Lighting), Met);
}

#[test]
fn what_the_orbit_lacks_is_named() {
    let mut record = record();
    record.tasks[TaskAt(0)].lighting = Some(LightNeed::DaylightOnly);
    orbit(&mut record.excursions[ExcursionAt(0)], 0.0);
    record.excursions[ExcursionAt(0)].orbit.beta = None;
    let (explained, _) = judged(&record, &Constants::default(), GateName::Lighting);
    let parts = sentence(&record, TaskAt(0), &explained.reason(GateName::Lighting));
    let field = parts
        .iter()
        .any(|part| matches!(part, Part::Field { kind: Kind::Excursion, column: "beta", .. }));
    assert!(field);
}

#[test]
fn supplies_last_with_the_reserve_kept_back() {
    let mut record = record();
    // Nothing varies: the end at P80 is the end.
    let judged = |record: &Snapshot| judged(record, &super::even(), GateName::Supplies);
    let verdict = |record: &Snapshot| judged(record).0.cell.gate(GateName::Supplies);
    record.excursions[ExcursionAt(0)].seat_rates.clear();
    assert_eq!(verdict(&record), CannotTell);
    let words = |record: &Snapshot| judged(record).1;
    record.tasks[TaskAt(0)].work_rate = Some(WorkRate::Moderate);
    let (light, usual) = (record.rates[RatesAt(0)], Rates::PUBLISHED);
    record.rates = ti_vec![usual, Rates { overhead: 200.0, moderate: 200.0, ..light }];
    let carried = &mut record.excursions[ExcursionAt(0)].supplies;
    (carried.oxygen, carried.scrubber) = (Some(0.75), Some(0.67));
    (carried.water, carried.battery) = (Some(4.4), Some(480.0));
    assert_eq!(verdict(&record), CannotTell);
    assert!(words(&record).starts_with("No rates hold for the suit of EV1: enter the team's suit"));
    record.excursions[ExcursionAt(0)].seat_rates = vec![Some(RatesAt(0)), Some(RatesAt(1))];
    record.excursions[ExcursionAt(0)].supplies.battery = None;
    assert_eq!(verdict(&record), CannotTell);
    // It ends at 2:20: a battery of 171 min leaves the reserve, one of 169 does not.
    for (battery, expected) in [(171.0, Met), (169.0, Tight), (141.0, Tight), (139.0, NotMet)] {
        record.excursions[ExcursionAt(0)].supplies.battery = Some(battery);
        assert_eq!(verdict(&record), expected, "{battery}");
    }
    assert_eq!(words(&record), "EV1: battery runs out at 2:19, 2 min before the end at P80.");
    record.tasks[TaskAt(0)].work_rate = None;
    assert_eq!(verdict(&record), CannotTell);
}

#[test]
fn each_seat_breathes_at_its_own_rates() {
    let mut record = record();
    record.tasks[TaskAt(0)].work_rate = Some(WorkRate::Moderate);
    let carried = &mut record.excursions[ExcursionAt(0)].supplies;
    (carried.oxygen, carried.scrubber) = (Some(9.0), Some(0.20));
    (carried.water, carried.battery) = (Some(9.0), Some(600.0));
    // 140 min at 86.5 g of carbon dioxide an hour fill 0.202 kg; at half of it 0.101.
    let half = Rates { overhead: 126.0, moderate: 126.0, ..Rates::PUBLISHED };
    record.rates = ti_vec![Rates::PUBLISHED, half];
    for (seats, expected) in [([0, 1], NotMet), ([1, 1], Met)] {
        record.excursions[ExcursionAt(0)].seat_rates =
            seats.into_iter().map(|at| Some(RatesAt(at))).collect();
        assert_eq!(gate(&record, 0, GateName::Supplies), expected, "{seats:?}");
    }
}

#[test]
fn heavy_work_uses_the_scrubber_up() {
    let mut record = record();
    record.tasks[TaskAt(0)].work = ThreePoint::new(240.0, 240.0, 240.0);
    let supplies = &mut record.excursions[ExcursionAt(0)].supplies;
    (supplies.oxygen, supplies.scrubber) = (Some(2.0), Some(0.74));
    (supplies.water, supplies.battery) = (Some(9.0), Some(600.0));
    let asked = Constants::default();
    // 320 min out, in eight cases of ten 346, with work a tenth longer. Moderate: 252 kcal/h, 86.5
    // g/h, 0.50 kg. Heavy: 403.2 for 4:26, 0.73 kg.
    record.tasks[TaskAt(0)].work_rate = Some(WorkRate::Moderate);
    let (explained, _) = judged(&record, &asked, GateName::Supplies);
    assert_eq!(explained.cell.gate(GateName::Supplies), Met);
    record.tasks[TaskAt(0)].work_rate = Some(WorkRate::Heavy);
    let (explained, words) = judged(&record, &asked, GateName::Supplies);
    assert_eq!(explained.cell.gate(GateName::Supplies), Tight);
    assert!(words.starts_with("EV1: scrubber runs out first"), "{words}");
}

#[test]
fn the_bag_holds_what_all_take_out() {
    let mut record = record();
    assert_eq!(gate(&record, 0, GateName::Bag), Met);
    record.tasks[TaskAt(0)].takes_out = Some(30.0);
    assert_eq!(gate(&record, 0, GateName::Bag), CannotTell);
    record.excursions[ExcursionAt(0)].bag_out = Some(50.0);
    assert_eq!(gate(&record, 0, GateName::Bag), Met);
    let mut other = task("T-2", KEEL, 20.0);
    other.takes_out = Some(25.0);
    let other = add(&mut record, other);
    set(&mut record, other, 0, &[1]);
    assert_eq!(gate(&record, 0, GateName::Bag), NotMet);
    assert_eq!(says(&record, 0, GateName::Bag), "Needs 30 l of the bag going out; 25 l are left.");
}
