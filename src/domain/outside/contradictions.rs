//! What the record of an attempt says of the hardware outside, held against the outside list. Only
//! fields with closed words are compared, never prose; where the two disagree, a person decides.

use std::collections::BTreeMap;

use super::OutsideItem;
use crate::cells::{Line, List};
use crate::codes::{AttemptCode, ExcursionCode, OutsideCode, TaskCode, WorksiteCode};
use crate::time::Day;
use crate::words::{Outcome, OutsideAfter, OutsideState};

/// What one attempt says.
#[derive(Debug, Clone, PartialEq)]
pub struct Statement {
    pub attempt: AttemptCode,
    pub task: TaskCode,
    pub excursion: ExcursionCode,
    pub day: Option<Day>,
    pub outcome: Outcome,
    pub after: Option<OutsideAfter>,
    pub items: List<OutsideCode>,
    pub temporary: Option<Line>,
    pub worksite: Option<WorksiteCode>,
}

/// An item of the list with the task whose attempt left it.
#[derive(Debug, Clone, PartialEq)]
pub struct Listed {
    pub item: OutsideItem,
    pub left_by_task: Option<TaskCode>,
}

/// One thing on which record and list disagree.
#[derive(Debug, Clone, PartialEq)]
pub enum Contradiction {
    /// The record says that it is gone; it stands on the list as in place.
    StillListed { item: OutsideItem, said: Statement },
    /// The record says that something was left; nothing on the list is that.
    NotListed { said: Statement },
    /// The record saw it in place after the day on which the list ends it.
    SeenLater { item: OutsideItem, said: Statement },
}

impl Contradiction {
    pub fn said(&self) -> &Statement {
        match self {
            Self::StillListed { said, .. }
            | Self::NotListed { said }
            | Self::SeenLater { said, .. } => said,
        }
    }

    pub fn item(&self) -> Option<&OutsideItem> {
        match self {
            Self::StillListed { item, .. } | Self::SeenLater { item, .. } => Some(item),
            Self::NotListed { .. } => None,
        }
    }

    /// It is the one about this attempt and this item.
    pub fn is_about(&self, attempt: &str, item: &str) -> bool {
        let own = self.item().map_or("", |item| item.code.0.as_str());
        self.said().attempt.as_str() == attempt && own == item
    }
}

impl std::fmt::Display for Contradiction {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Statement { attempt, task, excursion, after, temporary, .. } = self.said();
        write!(f, "{attempt} ({task}) on {excursion} ")?;
        match self {
            Self::StillListed { item, .. } => {
                match after {
                    Some(after) => write!(f, "says “{after}”")?,
                    None => f.write_str("ended done, which brings it in")?,
                }
                write!(f, "; the list has {}, {}, in place.", item.code.0, item.what)
            }
            Self::NotListed { .. } => {
                let what = temporary.as_ref().map_or_else(String::new, |what| format!(": {what}"));
                write!(f, "says “{}”{what}; the list has nothing of it.", OutsideAfter::Left)
            }
            Self::SeenLater { item, .. } => {
                let on = item.ended_on.map_or_else(String::new, |day| format!(" since {day}"));
                write!(
                    f,
                    "found {}, {}, in place; the list has it {}{on}.",
                    item.code.0, item.what, item.state
                )
            }
        }
    }
}

impl Statement {
    /// What this attempt says of an item; `None` where it says nothing of it.
    fn of(&self, item: &OutsideItem) -> Option<OutsideAfter> {
        let brings = item.brought_back_by.as_ref() == Some(&self.task);
        let Some(after) = self.after else {
            return (brings && self.outcome == Outcome::Done).then_some(OutsideAfter::BroughtIn);
        };
        let implied = brings || item.left_by.as_ref() == Some(&self.attempt);
        let meant = if self.items.0.is_empty() {
            // What was left is a thing of its own unless it is named.
            implied && after != OutsideAfter::Left
        } else {
            self.items.0.contains(&item.code.0)
        };
        meant.then_some(after)
    }

    /// The temporary hardware of the task that this attempt tells of is gone by it.
    fn clears(&self) -> bool {
        self.outcome == Outcome::Done || self.after.is_some()
    }
}

/// Everything on which record and list disagree. The statements come in the order in which they
/// were made; of each item, and of each task's own hardware, the last one counts.
pub fn contradictions(list: &[Listed], statements: &[Statement]) -> Vec<Contradiction> {
    let mut found: Vec<Contradiction> =
        list.iter().filter_map(|listed| of_item(&listed.item, statements)).collect();
    let mut latest: BTreeMap<&TaskCode, &Statement> = BTreeMap::new();
    for said in statements.iter().filter(|said| said.clears()) {
        latest.insert(&said.task, said);
    }
    let unlisted = latest.into_values().filter(|said| {
        said.after == Some(OutsideAfter::Left) && said.items.0.is_empty() && !is_listed(list, said)
    });
    found.extend(unlisted.map(|said| Contradiction::NotListed { said: said.clone() }));
    found
}

fn of_item(item: &OutsideItem, statements: &[Statement]) -> Option<Contradiction> {
    let since_then = |said: &&Statement| match (said.day, item.since) {
        (Some(day), Some(since)) => day >= since,
        (None, _) | (_, None) => true,
    };
    let told = statements.iter().filter(since_then);
    let (said, after) = told.filter_map(|said| Some((said, said.of(item)?))).next_back()?;
    let (item_of, said_of) = (item.clone(), said.clone());
    match (after, item.state) {
        (OutsideAfter::Nothing | OutsideAfter::BroughtIn, OutsideState::InPlace) => {
            Some(Contradiction::StillListed { item: item_of, said: said_of })
        }
        (OutsideAfter::Left, OutsideState::BroughtIn | OutsideState::Lost) => {
            let seen_later = said.day.zip(item.ended_on).is_some_and(|(day, ended)| ended < day);
            seen_later.then_some(Contradiction::SeenLater { item: item_of, said: said_of })
        }
        (OutsideAfter::Left, OutsideState::InPlace)
        | (OutsideAfter::Nothing | OutsideAfter::BroughtIn, _) => None,
    }
}

/// Something on the list was left by that task, or is brought back by it.
fn is_listed(list: &[Listed], said: &Statement) -> bool {
    list.iter().any(|listed| {
        let by = |task: &Option<TaskCode>| task.as_ref() == Some(&said.task);
        by(&listed.left_by_task) || by(&listed.item.brought_back_by)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cells::{Cell as _, Cells};
    use crate::records::Record as _;

    fn listed(cells: &[(&str, &str)]) -> Listed {
        let named = [("code", "O-1"), ("what", "strap"), ("since", "2030-02-08")];
        let all: Cells = named
            .iter()
            .chain(cells)
            .map(|(name, text)| ((*name).to_owned(), (*text).to_owned()))
            .collect();
        Listed { item: OutsideItem::parse(&all).unwrap(), left_by_task: None }
    }

    fn said(attempt: &str, day: &str, after: Option<OutsideAfter>, items: &str) -> Statement {
        Statement {
            attempt: attempt.into(),
            task: "T-1".into(),
            excursion: "E-36.1".into(),
            day: Day::read(day).ok(),
            outcome: Outcome::PartDone,
            after,
            items: List::read(items).unwrap(),
            temporary: None,
            worksite: None,
        }
    }

    fn told(list: &[Listed], statements: &[Statement]) -> Vec<String> {
        contradictions(list, statements).iter().map(Contradiction::to_string).collect()
    }

    const IN: Option<OutsideAfter> = Some(OutsideAfter::BroughtIn);
    const LEFT: Option<OutsideAfter> = Some(OutsideAfter::Left);
    const NOTHING: Option<OutsideAfter> = Some(OutsideAfter::Nothing);

    #[test]
    fn an_item_that_was_brought_in_and_stands_on_the_list_is_asked_about() {
        let said = [said("A-1", "2030-11-03", IN, "O-1")];
        assert_eq!(
            told(&[listed(&[])], &said),
            ["A-1 (T-1) on E-36.1 says “item brought in”; the list has O-1, strap, in place."]
        );
        let ended = [("state", "brought in"), ("ended_on", "2030-11-03")];
        assert!(told(&[listed(&ended)], &said).is_empty());
    }

    #[test]
    fn the_last_word_on_an_item_counts() {
        let first = said("A-1", "2030-11-03", IN, "O-1");
        let then = said("A-2", "2030-11-07", LEFT, "O-1");
        assert!(told(&[listed(&[])], &[first.clone(), then.clone()]).is_empty());
        assert_eq!(told(&[listed(&[])], &[then, first]).len(), 1);
    }

    #[test]
    fn what_was_said_before_it_went_out_says_nothing_of_it() {
        assert!(told(&[listed(&[])], &[said("A-1", "2030-02-07", NOTHING, "O-1")]).is_empty());
        assert_eq!(told(&[listed(&[])], &[said("A-1", "2030-02-08", NOTHING, "O-1")]).len(), 1);
    }

    #[test]
    fn without_a_name_it_speaks_of_what_it_left_or_is_there_to_bring_back() {
        let nothing = [said("A-1", "2030-11-03", NOTHING, "")];
        assert!(told(&[listed(&[])], &nothing).is_empty());
        assert_eq!(told(&[listed(&[("left_by", "A-1")])], &nothing).len(), 1);
        assert_eq!(told(&[listed(&[("brought_back_by", "T-1")])], &nothing).len(), 1);
    }

    #[test]
    fn the_task_that_brings_it_back_ended_done_and_it_still_stands_there() {
        let list = [listed(&[("brought_back_by", "T-1")])];
        let mut silent = said("A-1", "2030-11-03", None, "");
        assert!(told(&list, std::slice::from_ref(&silent)).is_empty(), "part done brings nothing");
        silent.outcome = Outcome::Done;
        assert_eq!(
            told(&list, std::slice::from_ref(&silent)),
            [
                "A-1 (T-1) on E-36.1 ended done, which brings it in; the list has O-1, strap, in place."
            ]
        );
        silent.after = LEFT;
        silent.items = List::read("O-1").unwrap();
        assert!(told(&list, &[silent]).is_empty(), "it says itself that it stayed");
    }

    #[test]
    fn hardware_that_was_left_and_is_on_no_list_is_asked_about_once() {
        let mut left = said("A-1", "2030-11-03", LEFT, "");
        left.temporary = Some(Line::known("wire tie"));
        let words = "A-1 (T-1) on E-36.1 says “temporary hardware left”: wire tie; the list has \
                     nothing of it.";
        assert_eq!(told(&[], std::slice::from_ref(&left)), [words]);
        let again = said("A-2", "2030-11-07", LEFT, "");
        assert_eq!(told(&[], &[left.clone(), again]).len(), 1);

        let by_task = Listed { left_by_task: Some("T-1".into()), ..listed(&[]) };
        assert!(told(&[by_task], std::slice::from_ref(&left)).is_empty());
        let brought = listed(&[("brought_back_by", "T-1")]);
        assert!(told(&[brought], std::slice::from_ref(&left)).is_empty());
        let later = said("A-2", "2030-11-07", NOTHING, "");
        assert!(told(&[], &[left.clone(), later]).is_empty());
        let mut done = said("A-2", "2030-11-07", None, "");
        done.outcome = Outcome::Done;
        assert!(told(&[], &[left, done]).is_empty(), "the whole work is done since");
    }

    #[test]
    fn what_was_seen_after_the_list_had_ended_it_is_asked_about() {
        let ended = |on: &str| listed(&[("state", "lost"), ("ended_on", on)]);
        let seen = [said("A-1", "2030-11-03", LEFT, "O-1")];
        assert_eq!(
            told(&[ended("2030-11-02")], &seen),
            [
                "A-1 (T-1) on E-36.1 found O-1, strap, in place; the list has it lost since 2030-11-02."
            ]
        );
        assert!(told(&[ended("2030-11-03")], &seen).is_empty());
        assert!(told(&[ended("2030-12-01")], &seen).is_empty());
    }
}
