//! How long a whole board takes on 12 tasks in 3 seats: printed by `holdover bench day`.

use super::super::load;

#[test]
fn the_made_up_day_has_an_answer_to_everything() {
    let made = load::day(12, 3, 1);
    let outlook = made.outlook(150.0);
    let rest = outlook.rest().unwrap();
    assert!(rest.tasks.len() >= 6);
    assert!(rest.tasks.iter().all(|task| (0.0..=1.0).contains(&task.reached)));
    assert!(rest.expected <= 12.0);
}
