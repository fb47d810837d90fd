//! Findings, the kinds of cause, remedies and exemptions: why it failed and what was changed.

use crate::cells::{FieldError, Line, List, Prose};
use crate::codes::{
    AttemptCode, CauseCode, ExemptionCode, FindingCode, FlightCode, Own, RemedyCode, TaskCode,
    TechniqueCode,
};
use crate::four_eyes::{Judged, Judgement, Judging};
use crate::records::record;
use crate::sides::Side;
use crate::time::Day;
use crate::words::{Checked, Confidence, Disposition, Reach, RemedyState, Scope};

record! {
    /// A kind of cause, with what it tells about the approach that met it.
    Cause is Cause {
        code: Own<CauseCode> = "Code" also ["cause"],
        words: Line = "Words",
        cause_group: Line = "Group" also ["group"],
        scope: Scope = "Scope" hint "Approach and hardware count against the approach; outside and diagnosis do not.",
        time_ran_out: bool = "Says that time ran out" hint "Then it counts by the minutes: outside where fewer were spent than the approach's cut-off, against the approach otherwise.",
    }
}

record! {
    /// The engineer's record of why an attempt did not end `done`.
    Finding is Finding {
        code: Own<FindingCode> = "Code" also ["finding"],
        attempts: List<AttemptCode> = "Attempts" also ["attempt"],
        cause: Option<CauseCode> = "Main cause" also ["main cause"],
        contributing: List<CauseCode> = "Contributing causes",
        words: Prose = "What happened" also ["description"],
        evidence: Prose = "Evidence",
        confirmed: Option<Line> = "How the failure was confirmed" hint "Seen again on the ground, on camera, by a second person; or why that was not possible.",
        confidence: Option<Confidence> = "How sure of the main cause",
        disposition: Option<Disposition> = "What becomes of the item",
        recommended_technique: Option<TechniqueCode> = "Try next, technique",
        recommended_side: Option<Side> = "Try next, side",
        author: Option<Line> = "Author",
        written_on: Option<Day> = "Written on" also ["date"],
        reviewed_by: Option<Line> = "Reviewed by" op "reviewed",
        reviewed_on: Option<Day> = "Reviewed on" op "reviewed",
        checked: Option<Checked> = "Checked" op "checked",
    }
}

impl Finding {
    /// More contributing causes than this explain nothing.
    // common practice: a board that names a dozen has not found the main one.
    pub const MAX_CONTRIBUTING: usize = 12;
}

record! {
    /// What is changed after a failure so that it does not repeat.
    Remedy is Remedy {
        code: Own<RemedyCode> = "Code" also ["remedy"],
        what: Line = "What is changed",
        finding: Option<FindingCode> = "Finding",
        attempts: List<AttemptCode> = "Resolves the attempts" also ["answers", "answers the attempts"],
        reach: Reach = "Applies to" also ["reaches"],
        technique: Option<TechniqueCode> = "Technique revised",
        revision: Option<i64> = "By its revision",
        owner: Option<Line> = "Owner",
        needed_by: Option<FlightCode> = "Needed by flight",
        opened_on: Option<Day> = "Opened on" also ["date"],
        state: RemedyState = "State" op "moved on",
        done_on: Option<Day> = "Done on" op "moved on",
        verified_by: Option<Line> = "Verified by" op "moved on",
        verified_on: Option<Day> = "Verified on" op "moved on",
        evidence: Prose = "Evidence",
        checked: Option<Checked> = "Checked" op "checked",
    }
}

record! {
    /// An engineer's “does not apply here”, reviewed by someone else.
    Exemption is Exemption {
        code: Own<ExemptionCode> = "Code",
        task: TaskCode = "Task",
        attempts: List<AttemptCode> = "Attempts that do not apply here" also ["attempts"],
        words: Prose = "Why they do not apply",
        author: Option<Line> = "Author",
        written_on: Option<Day> = "Written on" also ["date"],
        reviewed_by: Option<Line> = "Reviewed by" op "reviewed",
        reviewed_on: Option<Day> = "Reviewed on" op "reviewed",
        checked: Option<Checked> = "Checked" op "checked",
    }
}

/// A record that its author writes and a second person reviews; `lacks` says what a review needs.
macro_rules! reviewed {
    ($record:ty, $lacks:expr) => {
        impl Judged for $record {
            const JUDGING: Judging = Judging::REVIEW;

            fn judgement(&self) -> Option<Judgement> {
                self.reviewed_by.clone().map(|by| Judgement { by, on: self.reviewed_on })
            }
            fn checked(&self) -> Option<Checked> {
                self.checked
            }
            fn set_checked(&mut self, checked: Option<Checked>) {
                self.checked = checked;
            }
            fn take_back(&mut self) {
                (self.reviewed_by, self.reviewed_on, self.checked) = (None, None, None);
            }
            fn named(&self) -> Option<&Line> {
                self.author.as_ref()
            }
            fn attempts(&self) -> &[AttemptCode] {
                &self.attempts.0
            }
            fn earlier(&self) -> Vec<(&'static str, Option<Day>)> {
                vec![("written", self.written_on)]
            }
            fn lacks(&self) -> Option<FieldError> {
                $lacks(self)
            }
        }
    };
}

reviewed!(Finding, |finding: &Finding| {
    let message = "Choose the main cause before it is reviewed; “cause unknown” is one.";
    finding.cause.is_none().then(|| FieldError::new("cause", message))
});
reviewed!(Exemption, |_: &Exemption| None);

impl Judged for Remedy {
    const JUDGING: Judging = Judging::VERIFICATION;

    fn judgement(&self) -> Option<Judgement> {
        let by = self.verified_by.clone().filter(|_| self.state == RemedyState::Verified)?;
        Some(Judgement { by, on: self.verified_on })
    }

    fn checked(&self) -> Option<Checked> {
        self.checked
    }

    fn set_checked(&mut self, checked: Option<Checked>) {
        self.checked = checked;
    }

    fn take_back(&mut self) {
        self.state = RemedyState::Done;
        (self.verified_by, self.verified_on, self.checked) = (None, None, None);
    }

    fn named(&self) -> Option<&Line> {
        self.owner.as_ref()
    }

    fn attempts(&self) -> &[AttemptCode] {
        &self.attempts.0
    }

    fn earlier(&self) -> Vec<(&'static str, Option<Day>)> {
        vec![("opened", self.opened_on), ("done", self.done_on)]
    }

    fn lacks(&self) -> Option<FieldError> {
        let message = "Say what shows that the remedy works.";
        self.evidence.is_empty().then(|| FieldError::new("evidence", message))
    }
}
