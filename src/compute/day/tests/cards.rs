//! The cells of late cards, held against every choice tried by another program.

use serde::Deserialize;

use super::super::{Choice, DropSet, KeptAnyway, LATENESSES, Milestone, late_card, milestones};
use super::made::{Given, cases};

#[derive(Deserialize)]
struct Case {
    #[serde(flatten)]
    given: Given,
    card: Vec<Row>,
}

#[derive(Deserialize)]
struct Row {
    /// `None`: the end of egress.
    milestone: Option<usize>,
    /// One a lateness.
    cells: Vec<Cell>,
}

#[derive(Deserialize)]
struct Cell {
    at: f64,
    /// Every choice that may be the best one; `None` among them: none ends inside the limit.
    best: Vec<Option<String>>,
    must_left: bool,
    running: bool,
    turn_back: Option<f64>,
    last: Option<bool>,
}

fn worded(set: &DropSet) -> String {
    let word = |(task, choice): &(usize, Choice)| match choice {
        Choice::Keep => format!("{task}k"),
        Choice::Shorten => format!("{task}s"),
        Choice::Drop => format!("{task}d"),
    };
    set.choices.iter().map(word).collect::<Vec<_>>().join(" ")
}

#[test]
fn every_cell_says_what_every_choice_tried_shows_to_be_best() {
    // Source: NumPy 2.4, all choices of the cells of late cards; tests/reference/late_card.py, which says
    // how a cell follows from the plan at the mean.
    let all: Vec<Case> = cases(include_str!("../../../../tests/reference/late_card.json"));
    let (mut cells, mut sure, mut cut, mut none, mut wrong) = (0, 0, 0, 0, Vec::new());
    for (number, case) in all.iter().enumerate() {
        let made = case.given.made(&[]);
        let day = case.given.day(&made, 0.0, None);
        assert_eq!(milestones(&day).unwrap().len(), case.card.len());
        for row in &case.card {
            let milestone = row.milestone.map_or(Milestone::Egress, Milestone::Task);
            assert_eq!(row.cells.len(), LATENESSES.len());
            for (told, late) in row.cells.iter().zip(LATENESSES) {
                let which = format!("case {number}, {milestone:?} {late} min late");
                let cell = late_card(&day, milestone, late, 0.8).unwrap();
                let ours = cell.drops.as_ref().map(worded);
                cells += 1;
                sure += usize::from(told.best.len() == 1);
                cut += usize::from(cell.drops.as_ref().is_some_and(|drops| !drops.keeps_all()));
                none += usize::from(ours.is_none());
                if !told.best.contains(&ours) {
                    wrong.push(format!("{which}: {ours:?}, not {:?}", told.best));
                }
                if (cell.at - told.at).abs() > 0.01 {
                    wrong.push(format!("{which}: at {} for {}", cell.at, told.at));
                }
                let anyway = match (told.must_left, told.running) {
                    (true, _) => KeptAnyway::MustDo,
                    (false, true) => KeptAnyway::UnderWay,
                    (false, false) => KeptAnyway::Nothing,
                };
                if cell.kept_anyway != anyway || told.last.is_some_and(|last| last != cell.last) {
                    wrong.push(format!("{which}: {:?} and {} left", cell.kept_anyway, cell.last));
                }
                // 40,000 draws find the minute to within one.
                let apart = told.turn_back.zip(cell.turn_back).map_or(0.0, |(a, b)| (a - b).abs());
                if told.turn_back.is_some() != cell.turn_back.is_some() || apart > 1.0 {
                    wrong.push(format!("{which}: {:?} for {:?}", cell.turn_back, told.turn_back));
                }
            }
        }
    }
    println!("{cells} cells: {sure} have one best choice, {cut} drop or shorten, {none} have none");
    assert!(
        cells > 700 && sure * 10 > cells * 9 && cut > 100 && none > 50,
        "{cells} {sure} {cut} {none}"
    );
    assert!(wrong.is_empty(), "{} of {cells}\n{}", wrong.len(), wrong.join("\n"));
}
