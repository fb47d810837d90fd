//! What to drop, held against every choice tried by another program.

use serde::Deserialize;

use super::super::{Choice, DropSet};
use super::made::{Given, cases, outlook};

#[derive(Deserialize)]
struct Case {
    #[serde(flatten)]
    given: Given,
    /// Every choice that may be the best one where each chance is off by up to a point: mostly one.
    best: Vec<Option<String>>,
}

#[test]
fn the_same_is_dropped_that_every_choice_tried_shows_to_be_best() {
    // Source: NumPy 2.4, all choices of 500 excursions of up to ten tasks; tests/reference/drops.py,
    // which says how a point follows from the draws.
    let all: Vec<Case> = cases(include_str!("../../../../tests/reference/drops.json"));
    assert_eq!(all.len(), 500);
    let (mut sure, mut keeps, mut wrong) = (0, 0, Vec::new());
    for (at, case) in all.iter().enumerate() {
        let made = case.given.made(&case.given.progress);
        let set =
            outlook(&case.given, &made, (case.given.now, case.given.egress_ended)).best_drops(0.8);
        assert!(set.as_ref().is_none_or(|set| set.proven));
        keeps += usize::from(set.as_ref().is_some_and(DropSet::keeps_all));
        let worded = set.map(|set| {
            let word = |(task, choice): &(usize, Choice)| match choice {
                Choice::Keep => format!("{task}k"),
                Choice::Shorten => format!("{task}s"),
                Choice::Drop => format!("{task}d"),
            };
            set.choices.iter().map(word).collect::<Vec<_>>().join(" ")
        });
        sure += usize::from(case.best.len() == 1);
        if !case.best.contains(&worded) {
            wrong.push(format!("case {at}: {worded:?}, not {:?}", case.best));
        }
    }
    println!(
        "{sure} of 500 have one best choice; {} differ from all that may be best",
        wrong.len()
    );
    println!("{keeps} keep everything");
    assert!(sure > 440 && keeps > 50, "{sure}, {keeps}");
    assert!(wrong.is_empty(), "{} of 500\n{}", wrong.len(), wrong.join("\n"));
}
