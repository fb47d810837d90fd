//! What the vehicle may not do meanwhile: each constraint with what left it behind, until when that
//! is safe, what ends it and who lifted it.

use crate::cells::{FieldError, Line, List, Prose};
use crate::codes::{
    AttemptCode, ConstraintCode, ExcursionCode, FindingCode, FlightCode, OutsideCode, Own,
    SlotCode, TaskCode,
};
use crate::four_eyes::{Judged, Judgement, Judging};
use crate::kinds::Kind;
use crate::records::record;
use crate::time::Day;
use crate::words::{Checked, OutsideState, SlotState, plain, words};

record! {
    /// Something that the vehicle may not do until this ends. Several attempts and outside items that
    /// leave the same thing behind are one constraint with several sources.
    Constraint is Constraint {
        code: Own<ConstraintCode> = "Code" also ["constraint"],
        forbidden: Line = "What is forbidden" also ["forbids", "the vehicle may not"],
        function: Option<Line> = "Function of the vehicle" also ["function"] hint "What is held back: tank row, arm, coolant loop B.",
        owner: Option<Line> = "Owner" also ["console"] hint "The console that keeps to it.",
        attempts: List<AttemptCode> = "Left by attempts" also ["attempts", "left by"],
        outside_items: List<OutsideCode> = "Left by outside items" also ["outside items"] hint "Without a task that ends it, the constraint ends when these are inside.",
        findings: List<FindingCode> = "Rests on findings" also ["findings"],
        since: Option<Day> = "In force since" also ["since"],
        safe_until: Option<Day> = "Safe until date" also ["safe until"],
        safe_until_flight: Option<FlightCode> = "Safe until flight" hint "Until that flight has landed.",
        safe_until_words: Option<Line> = "Safe until, in words" hint "Such as “next inspection”; give its date too where it is known.",
        task: Option<TaskCode> = "Task that ends it" also ["ended by"] hint "The constraint ends when this task is done.",
        ends_when: Option<Line> = "What ends it, in words" also ["ends when"],
        author: Option<Line> = "Author",
        lifted_by: Option<Line> = "Lifted by" op "lift",
        lifted_on: Option<Day> = "Lifted on" op "lift",
        lift_reason: Prose = "Why it was lifted" op "lift",
        lift_evidence: Prose = "Evidence for lifting it" op "lift",
        checked: Option<Checked> = "Lifting checked" op "lift",
    }
}

words! {
    /// How a constraint stands today.
    ConstraintState {
        InForce = "in force",
        PastDate = "past its date",
        Ended = "ended",
        Lifted = "lifted",
    }
}

impl Judged for Constraint {
    const JUDGING: Judging = Judging::LIFTING;

    fn judgement(&self) -> Option<Judgement> {
        self.lifted_by.clone().map(|by| Judgement { by, on: self.lifted_on })
    }

    fn checked(&self) -> Option<Checked> {
        self.checked
    }

    fn set_checked(&mut self, checked: Option<Checked>) {
        self.checked = checked;
    }

    fn take_back(&mut self) {
        (self.lifted_by, self.lifted_on, self.checked) = (None, None, None);
    }

    fn named(&self) -> Option<&Line> {
        self.author.as_ref()
    }

    fn attempts(&self) -> &[AttemptCode] {
        &self.attempts.0
    }

    fn earlier(&self) -> Vec<(&'static str, Option<Day>)> {
        vec![("in force", self.since)]
    }

    fn lacks(&self) -> Option<FieldError> {
        if self.lift_reason.is_empty() {
            let message = "Say why the vehicle may do this again.";
            return Some(FieldError::new("lift_reason", message));
        }
        let message = "Name what shows it: an attempt, a finding, a photograph, a document.";
        self.lift_evidence.is_empty().then(|| FieldError::new("lift_evidence", message))
    }
}

/// What a constraint's standing depends on beside its own columns.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Facts {
    /// The day after which it is not safe any more: the earlier of its date and the landing of its
    /// flight.
    pub until: Option<Day>,
    /// Whether the task that ends it is done, and the day of that where it is known.
    pub task_done: Option<Option<Day>>,
    /// The outside items that it names, as they stand.
    pub items: Vec<OutsideState>,
}

impl Constraint {
    /// Whether two texts forbid the same thing.
    pub fn forbids(&self, text: &str) -> bool {
        same_words(self.forbidden.as_str(), text)
    }

    pub fn state(&self, facts: &Facts, today: Day) -> ConstraintState {
        // What was lost did not come in: it is still out there, and so is its constraint.
        let items_in = self.task.is_none()
            && !facts.items.is_empty()
            && facts.items.iter().all(|item| *item == OutsideState::BroughtIn);
        if self.lifted_by.is_some() {
            ConstraintState::Lifted
        } else if facts.task_done.is_some() || items_in {
            ConstraintState::Ended
        } else if facts.until.is_some_and(|until| until < today) {
            ConstraintState::PastDate
        } else {
            ConstraintState::InForce
        }
    }
}

impl ConstraintState {
    pub const fn holds(self) -> bool {
        matches!(self, Self::InForce | Self::PastDate)
    }
}

/// Two sentences without case, dashes, doubled blanks and the full stop.
pub fn same_words(one: &str, other: &str) -> bool {
    let bare = |text: &str| plain(text.trim().trim_end_matches('.'));
    bare(one) == bare(other)
}

/// The earlier of a date and the day on which a flight lands.
pub fn until(date: Option<Day>, landing: Option<Day>) -> Option<Day> {
    date.into_iter().chain(landing).min()
}

/// A coming slot of the task that ends a constraint.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EndingSlot {
    pub slot: SlotCode,
    pub task: TaskCode,
    pub state: SlotState,
    pub excursion: ExcursionCode,
    pub day: Option<Day>,
}

/// Whether something ends a constraint in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ends {
    /// No coming slot ends it.
    Nothing,
    /// The day of its slot is not known.
    Undated,
    /// So many days before its date, or on that day; `None` where it has no date.
    InTime(Option<i64>),
    /// So many days after its date.
    TooLate(i64),
}

/// The slot that ends a constraint: the earliest set one, else the earliest pencilled one.
pub fn ending_slot<'a>(
    task: Option<&TaskCode>,
    slots: impl IntoIterator<Item = &'a EndingSlot>,
) -> Option<&'a EndingSlot> {
    let task = task?;
    slots
        .into_iter()
        .filter(|slot| slot.task == *task)
        .filter(|slot| matches!(slot.state, SlotState::Set | SlotState::Pencilled))
        .min_by_key(|slot| (slot.state != SlotState::Set, slot.day.is_none(), slot.day))
}

pub fn ends(until: Option<Day>, slot: Option<&EndingSlot>) -> Ends {
    let Some(slot) = slot else { return Ends::Nothing };
    let Some(day) = slot.day else { return Ends::Undated };
    match until {
        None => Ends::InTime(None),
        Some(until) if day > until => Ends::TooLate(day.since(until)),
        Some(until) => Ends::InTime(Some(until.since(day))),
    }
}

/// The record whose date binds a task before its own needed-by date does.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Bound {
    pub day: Day,
    /// A constraint or an outside item.
    pub kind: Kind,
    pub code: String,
}

/// The earlier of two bounds; of two on one day, the one with the lower code.
pub fn earlier(one: Option<Bound>, other: Option<Bound>) -> Option<Bound> {
    one.into_iter().chain(other).min()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cells::{Cell as _, Cells};
    use crate::records::Record as _;

    fn day(text: &str) -> Day {
        Day::read(text).unwrap()
    }

    fn constraint(cells: &[(&str, &str)]) -> Constraint {
        let all: Cells = [("code", "CN-1"), ("forbidden", "Row at 3 bar or less")]
            .iter()
            .chain(cells)
            .map(|(name, text)| ((*name).to_owned(), (*text).to_owned()))
            .collect();
        Constraint::parse(&all).unwrap()
    }

    fn slot(state: SlotState, on: &str) -> EndingSlot {
        EndingSlot {
            slot: "S-1".into(),
            task: "T-1".into(),
            state,
            excursion: "E-1".into(),
            day: Day::read(on).ok(),
        }
    }

    #[test]
    fn it_is_safe_until_the_earlier_of_date_and_landing() {
        let (early, late) = (Some(day("2031-04-03")), Some(day("2031-10-15")));
        assert_eq!(until(late, early), early);
        assert_eq!(until(early, late), early);
        assert_eq!(until(None, late), late);
        assert_eq!(until(None, None), None);
    }

    #[test]
    fn on_its_last_day_it_is_in_force_and_on_the_next_past_its_date() {
        // Source: ISO 8601-1:2019, 5.2.2.1: 2028 is a leap year, so 29 February follows the 28th.
        let facts = Facts { until: Some(day("2028-02-28")), ..Facts::default() };
        let one = constraint(&[]);
        assert_eq!(one.state(&facts, day("2028-02-28")), ConstraintState::InForce);
        assert_eq!(one.state(&facts, day("2028-02-29")), ConstraintState::PastDate);
        let year_end = Facts { until: Some(day("2030-12-31")), ..Facts::default() };
        assert_eq!(one.state(&year_end, day("2030-12-31")), ConstraintState::InForce);
        assert_eq!(one.state(&year_end, day("2031-01-01")), ConstraintState::PastDate);
        assert_eq!(one.state(&Facts::default(), day("2199-01-01")), ConstraintState::InForce);
    }

    #[test]
    fn a_done_task_ends_it_and_so_do_its_items_only_where_no_task_does() {
        let today = day("2031-01-01");
        let done = Facts { task_done: Some(None), ..Facts::default() };
        let with_task = constraint(&[("task", "T-1"), ("outside_items", "O-01, O-02")]);
        assert_eq!(with_task.state(&done, today), ConstraintState::Ended);
        let items = |items: &[OutsideState]| Facts { items: items.to_vec(), ..Facts::default() };
        let inside = items(&[OutsideState::BroughtIn, OutsideState::BroughtIn]);
        assert_eq!(with_task.state(&inside, today), ConstraintState::InForce);
        let without = constraint(&[("outside_items", "O-01, O-02")]);
        assert_eq!(without.state(&inside, today), ConstraintState::Ended);
        let lost = items(&[OutsideState::BroughtIn, OutsideState::Lost]);
        assert_eq!(without.state(&lost, today), ConstraintState::InForce);
        let one_left = items(&[OutsideState::BroughtIn, OutsideState::InPlace]);
        assert_eq!(without.state(&one_left, today), ConstraintState::InForce);
    }

    #[test]
    fn lifted_by_a_person_it_holds_no_more() {
        let lifted = constraint(&[("lifted_by", "other"), ("lifted_on", "2031-01-01")]);
        let state = lifted.state(&Facts::default(), day("2031-01-02"));
        assert_eq!(state, ConstraintState::Lifted);
        assert!(!state.holds());
    }

    #[test]
    fn a_set_slot_ends_it_before_a_pencilled_one_and_the_days_apart_are_counted() {
        let all = [slot(SlotState::Pencilled, "2031-03-01"), slot(SlotState::Set, "2031-07-25")];
        let task = TaskCode::from("T-1");
        let found = ending_slot(Some(&task), &all).unwrap();
        assert_eq!(found.state, SlotState::Set);
        // Source: ISO 8601-1:2019, ordinal dates: 2031-04-03 is day 093 and 2031-07-25 day 206.
        assert_eq!(ends(Some(day("2031-04-03")), Some(found)), Ends::TooLate(113));
        let early = slot(SlotState::Set, "2031-03-21");
        assert_eq!(ends(Some(day("2031-04-03")), Some(&early)), Ends::InTime(Some(13)));
        assert_eq!(ends(Some(day("2031-03-21")), Some(&early)), Ends::InTime(Some(0)));
        assert_eq!(ends(None, Some(&early)), Ends::InTime(None));
        assert_eq!(ends(Some(day("2031-04-03")), None), Ends::Nothing);
        assert_eq!(ends(None, Some(&slot(SlotState::Set, ""))), Ends::Undated);
    }

    #[test]
    fn the_same_words_forbid_the_same_thing() {
        let one = constraint(&[]);
        assert!(one.forbids("row at 3 bar  or less."));
        assert!(!one.forbids("row at 13 bar or less"));
    }
}
