//! What to drop, held against every choice tried by another program.

use serde::Deserialize;

use super::super::Choice;
use super::made::{Given, cases, outlook};

#[derive(Deserialize)]
struct Case {
    #[serde(flatten)]
    given: Given,
    /// The best choice for every bound from 79 to 81 %: one, where no chance lies between them.
    best: Vec<Option<String>>,
}

#[test]
fn the_same_is_dropped_that_every_choice_tried_shows_to_be_best() {
    // Source: NumPy 2.4, all choices of 500 excursions of up to ten tasks; tests/reference/drops.py.
    let all: Vec<Case> = cases(include_str!("../../../../tests/reference/drops.json"));
    assert_eq!(all.len(), 500);
    let (mut sure, mut in_doubt, mut wrong) = (0, 0, Vec::new());
    for (at, case) in all.iter().enumerate() {
        let made = case.given.made(&case.given.progress);
        let set = outlook(&case.given, &made, case.given.now).best_drops(0.8);
        assert!(set.as_ref().is_none_or(|set| set.proven));
        let worded = set.map(|set| {
            let word = |(task, choice): &(usize, Choice)| match choice {
                Choice::Keep => format!("{task}k"),
                Choice::Shorten => format!("{task}s"),
                Choice::Drop => format!("{task}d"),
            };
            set.choices.iter().map(word).collect::<Vec<_>>().join(" ")
        });
        let is_sure = case.best.len() == 1;
        sure += usize::from(is_sure);
        match (case.best.contains(&worded), is_sure) {
            (true, _) => {}
            (false, true) => wrong.push(format!("case {at}: {worded:?}, not {:?}", case.best)),
            // More than one choice lies within a point of the bound, and either program may put
            // each of them on either side of it.
            (false, false) => in_doubt += 1,
        }
    }
    println!(
        "{sure} of 500 have one choice for every bound from 79 to 81 %, {} differ; of the others {in_doubt}",
        wrong.len()
    );
    assert!(sure > 400, "{sure}");
    assert!(in_doubt <= 4, "{in_doubt}");
    assert!(wrong.is_empty(), "{} of 500\n{}", wrong.len(), wrong.join("\n"));
}
