//! Revisions of techniques: what each said, kept as it flew, and what a change of the work answers.

use crate::attempts::Attempt;
use crate::cells::{FieldError, Line, List, Prose};
use crate::codes::{AttemptCode, Own, RevisionCode, TechniqueCode, ToolCode};
use crate::four_eyes::{Judged, Judgement, Judging};
use crate::records::record;
use crate::sides::Side;
use crate::techniques::Technique;
use crate::time::Day;
use crate::units::Minutes;
use crate::words::Checked;

record! {
    /// One revision of a technique. The newest is what the technique itself says.
    Revision is Revision {
        code: Own<RevisionCode> = "Code",
        technique: TechniqueCode = "Technique",
        number: i64 = "Revision" also ["rev"],
        changed: Prose = "What changed, and why" also ["changes"],
        changes_work: bool = "Changes the work",
        answers: List<AttemptCode> = "Resolves the attempts" also ["attempts", "answers the attempts"],
        author: Option<Line> = "Author",
        made_on: Option<Day> = "Made on" also ["date"],
        cleared_by: Option<Line> = "Cleared by" op "cleared",
        cleared_on: Option<Day> = "Cleared on" op "cleared",
        evidence: Prose = "What shows that it holds" op "cleared",
        checked: Option<Checked> = "Checked" op "checked",
        sides: List<Side> = "Access sides it is for" also ["sides"] op "made",
        tools: List<ToolCode> = "Tools" op "made",
        seats: Option<i64> = "Seats" op "made",
        optimistic: Option<Minutes> = "Minutes, optimistic" op "made",
        likely: Option<Minutes> = "Minutes, likely" also ["minutes"] op "made",
        pessimistic: Option<Minutes> = "Minutes, pessimistic" op "made",
        steps: Prose = "Steps" op "made",
    }
}

impl Revision {
    /// A technique as it stands, as its newest revision. Who made it and why is still to be said.
    pub fn of(technique: &Technique) -> Self {
        let blank = Self {
            code: Own(RevisionCode::default()),
            technique: technique.code.0.clone(),
            number: number(technique),
            changed: Prose::default(),
            changes_work: false,
            answers: List(Vec::new()),
            author: None,
            made_on: None,
            cleared_by: None,
            cleared_on: None,
            evidence: Prose::default(),
            checked: None,
            sides: List(Vec::new()),
            tools: List(Vec::new()),
            seats: None,
            optimistic: None,
            likely: None,
            pessimistic: None,
            steps: Prose::default(),
        };
        blank.saying(technique)
    }

    /// The same revision with what the technique says now.
    #[must_use]
    pub fn saying(self, technique: &Technique) -> Self {
        Self {
            sides: technique.sides.clone(),
            tools: technique.tools.clone(),
            seats: technique.seats,
            optimistic: technique.optimistic,
            likely: technique.likely,
            pessimistic: technique.pessimistic,
            steps: technique.steps.clone(),
            ..self
        }
    }

    /// It lets go of failures: a second person found that it changes the work.
    pub fn resolves(&self) -> bool {
        self.changes_work && self.cleared_by.is_some() && !self.answers.is_empty()
    }
}

impl Judged for Revision {
    const JUDGING: Judging = Judging::CLEARANCE;

    fn judgement(&self) -> Option<Judgement> {
        self.cleared_by.clone().map(|by| Judgement { by, on: self.cleared_on })
    }

    fn checked(&self) -> Option<Checked> {
        self.checked
    }

    fn set_checked(&mut self, checked: Option<Checked>) {
        self.checked = checked;
    }

    fn take_back(&mut self) {
        (self.cleared_by, self.cleared_on, self.checked) = (None, None, None);
    }

    fn named(&self) -> Option<&Line> {
        self.author.as_ref()
    }

    fn attempts(&self) -> &[AttemptCode] {
        &self.answers.0
    }

    fn earlier(&self) -> Vec<(&'static str, Option<Day>)> {
        vec![("made", self.made_on)]
    }

    fn lacks(&self) -> Option<FieldError> {
        let message = "Say what shows that the revision works.";
        self.evidence.is_empty().then(|| FieldError::new("evidence", message))
    }
}

/// The highest number of a revision.
pub(crate) const MAX_NUMBER: i64 = 9_999;

/// What is wrong with the number of a revision.
pub fn wrong_number(number: Option<i64>) -> Option<FieldError> {
    let out_of_range = number.is_some_and(|number| !(1..=MAX_NUMBER).contains(&number));
    out_of_range.then(|| FieldError::new("revision", "A revision is a number from 1 to 9,999."))
}

/// The number of the revision in which a technique stands.
pub fn number(technique: &Technique) -> i64 {
    technique.revision.unwrap_or(1).clamp(1, MAX_NUMBER)
}

/// The first field in which the work differs, apart from the minutes, which are estimates and may
/// be told anew at any time.
pub fn work_differs(before: &Technique, after: &Technique) -> Option<&'static str> {
    let differs = [
        ("steps", before.steps != after.steps),
        ("sides", before.sides != after.sides),
        ("tools", before.tools != after.tools),
        ("seats", before.seats != after.seats),
    ];
    differs.into_iter().find(|(_, differs)| *differs).map(|(field, _)| field)
}

/// A revision that flew, or that a second person cleared, stays what it was: the attempts that used
/// it would otherwise tell of work that nobody did.
// common practice: a released procedure is changed under a new revision, never in place.
pub fn stays(
    before: &Technique,
    after: &Technique,
    flown_by: Option<&AttemptCode>,
    is_cleared: bool,
) -> Option<FieldError> {
    if number(before) != number(after) {
        return None;
    }
    let field = work_differs(before, after)?;
    let because = match (flown_by, is_cleared) {
        (Some(attempt), _) => format!("flew ({attempt})"),
        (None, true) => "is cleared".to_owned(),
        (None, false) => return None,
    };
    let (now, next) = (number(before), number(before) + 1);
    let message =
        format!("Revision {now} {because}, so its work stays as it is. Add revision {next}.");
    Some(FieldError::new(field, message))
}

/// Why an attempt cannot be answered by a revision of this technique.
pub fn cannot_answer(revision: &Revision, attempt: &Attempt) -> Option<String> {
    let code = &attempt.code.0;
    if attempt.technique.as_ref() != Some(&revision.technique) {
        return Some(format!(
            "{code} was not tried with {}; a remedy can resolve it, a revision of {} cannot.",
            revision.technique, revision.technique
        ));
    }
    match attempt.revision {
        Some(used) if used >= revision.number => Some(format!(
            "{code} used revision {used} already; only a later one can change the work."
        )),
        Some(_) | None => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cells::Cells;
    use crate::records::Record;

    fn from<R: Record>(cells: &[(&str, &str)]) -> R {
        let cells: Cells =
            cells.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect();
        R::parse(&cells).unwrap()
    }

    fn technique(steps: &str, likely: &str, revision: &str) -> Technique {
        from(&[
            ("code", "K-1"),
            ("name", "grip"),
            ("steps", steps),
            ("likely", likely),
            ("revision", revision),
        ])
    }

    #[test]
    fn work_that_flew_stays_as_it_was_and_estimates_move() {
        let flew = technique("turn", "20", "2");
        let other = technique("pull", "20", "2");
        let attempt = AttemptCode::from("A-1");
        let refused = stays(&flew, &other, Some(&attempt), false).unwrap();
        assert_eq!(refused.field, "steps");
        assert!(refused.message.contains("A-1") && refused.message.contains("revision 3"));
        assert!(stays(&flew, &other, None, true).unwrap().message.contains("is cleared"));
        assert_eq!(stays(&flew, &other, None, false), None);
        assert_eq!(stays(&flew, &technique("pull", "20", "3"), Some(&attempt), true), None);
        assert_eq!(stays(&flew, &technique("turn", "35", "2"), Some(&attempt), true), None);
    }

    #[test]
    fn a_revision_answers_earlier_tries_of_its_own_technique_alone() {
        let revision = Revision { number: 3, ..Revision::of(&technique("turn", "20", "3")) };
        let tried = |technique: &str, used: &str| -> Attempt {
            from(&[
                ("code", "A-1"),
                ("task", "T-1"),
                ("excursion", "E-1"),
                ("technique", technique),
                ("revision", used),
                ("outcome", "not completed"),
            ])
        };
        assert_eq!(cannot_answer(&revision, &tried("K-1", "2")), None);
        assert_eq!(cannot_answer(&revision, &tried("K-1", "")), None);
        assert!(cannot_answer(&revision, &tried("K-1", "3")).unwrap().contains("already"));
        assert!(
            cannot_answer(&revision, &tried("K-2", "1")).unwrap().contains("not tried with K-1")
        );
    }

    #[test]
    fn it_resolves_once_a_second_person_cleared_a_change_of_the_work() {
        let mut revision = Revision::of(&technique("turn", "20", "3"));
        revision.answers = List(vec![AttemptCode::from("A-1")]);
        revision.changes_work = true;
        assert!(!revision.resolves());
        revision.cleared_by = Some(Line::known("lead"));
        assert!(revision.resolves());
        revision.changes_work = false;
        assert!(!revision.resolves());
    }
}
