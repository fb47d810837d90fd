//! Four eyes are two accounts: who wrote, edited or marked done a record, as the change log has
//! it, never reviews, verifies or clears it. Owner and author are words of the trade: they let
//! nobody in, and whoever they name is kept out as well.

use crate::cells::{Cells, FieldError, Line};
use crate::codes::AttemptCode;
use crate::records::Record;
use crate::time::Day;
use crate::words::{Checked, plain};

/// How records of one kind are judged by a second person.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Judging {
    /// The columns that say by whom and on which day.
    pub by: &'static str,
    pub on: &'static str,
    /// What the person is called whom the record names: its owner, its author.
    pub names: &'static str,
    /// As in “another person verifies it”.
    pub does: &'static str,
    /// As in “verified by”.
    pub done: &'static str,
    /// As in “the verification is taken back”.
    pub noun: &'static str,
    /// Columns that the judgement writes beside `by` and `on`.
    writes: &'static [&'static str],
    /// Columns whose change leaves what was judged as it is.
    aside: &'static [&'static str],
}

impl Judging {
    pub const REVIEW: Self = Self {
        by: "reviewed_by",
        on: "reviewed_on",
        names: "author",
        does: "reviews",
        done: "reviewed",
        noun: "review",
        writes: &[],
        aside: &["author", "written_on"],
    };
    pub const VERIFICATION: Self = Self {
        by: "verified_by",
        on: "verified_on",
        names: "owner",
        does: "verifies",
        done: "verified",
        noun: "verification",
        writes: &["state", "done_on", "evidence"],
        aside: &["owner", "needed_by", "opened_on", "state"],
    };
    /// Minutes are estimates, which may be told again at any time.
    pub const CLEARANCE: Self = Self {
        by: "cleared_by",
        on: "cleared_on",
        names: "author",
        does: "clears",
        done: "cleared",
        noun: "clearance",
        writes: &["evidence"],
        aside: &["author", "made_on", "optimistic", "likely", "pessimistic"],
    };
    pub const LIFTING: Self = Self {
        by: "lifted_by",
        on: "lifted_on",
        names: "author",
        does: "lifts",
        done: "lifted",
        noun: "lifting",
        writes: &["lift_reason", "lift_evidence"],
        aside: &["author", "owner", "function", "attempts", "since"],
    };

    fn is_the_judgement(&self, column: &str) -> bool {
        [self.by, self.on, "checked"].contains(&column)
    }

    /// What an entry of the change log did to the record, where it is more than judging it.
    pub fn touch(&self, entry: &Entry) -> Option<Touch> {
        if entry.is_new {
            // The clearing of a revision writes the remedy that it is.
            let by_clearing = entry.after.get("checked") == Checked::Clearing.word();
            return (!by_clearing).then_some(Touch::Wrote);
        }
        let marks_done = !entry.after.get("done_on").is_empty()
            || (entry.before.get("state"), entry.after.get("state")) == ("open", "done");
        if marks_done {
            return Some(Touch::MarkedDone);
        }
        let judges = !entry.after.get(self.by).is_empty();
        let edits = |column: &str| {
            !self.is_the_judgement(column)
                && (!self.writes.contains(&column)
                    || (column == "evidence" && !judges && !entry.after.get(column).is_empty()))
        };
        entry.after.iter().any(|(column, _)| edits(column)).then_some(Touch::Edited)
    }

    /// Whether what was judged differs: the judgement does not hold for it any more.
    pub fn differs(&self, before: &Cells, after: &Cells) -> bool {
        after.iter().any(|(column, text)| {
            !self.is_the_judgement(column)
                && !self.aside.contains(&column)
                && before.get(column) != text
        })
    }
}

/// One entry of the change log on a record: only the cells that changed.
#[derive(Debug, Clone)]
pub struct Entry {
    pub seq: i64,
    pub who: String,
    pub on: Day,
    pub is_new: bool,
    pub before: Cells,
    pub after: Cells,
}

/// What somebody did to a record that a second person judges.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Touch {
    MarkedDone,
    Wrote,
    Edited,
}

/// One account that touched a record, or what the record rests on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Touched {
    pub code: String,
    pub who: String,
    pub on: Day,
    pub touch: Touch,
}

impl Touched {
    /// `marked R-009 done on 2030-11-21`.
    fn deed(&self, code: &str) -> String {
        let on = self.on;
        match self.touch {
            Touch::MarkedDone => format!("marked {code} done on {on}"),
            Touch::Wrote => format!("wrote {code} on {on}"),
            Touch::Edited => format!("edited {code} on {on}"),
        }
    }
}

/// Accounts compare as names do: without case, dashes and doubled blanks.
pub fn same_account(one: &str, other: &str) -> bool {
    plain(one) == plain(other)
}

/// Whether this account may judge the record; the refusal says what it did to it.
pub fn may_judge(
    judging: &Judging,
    code: &str,
    account: &str,
    touched: &[Touched],
    named: Option<&Line>,
) -> Result<(), String> {
    if let Some(own) = own_touch(account, touched) {
        let judged = if own.code == code { "it" } else { code };
        let deed = own.deed(&own.code);
        return Err(format!("You {deed}; another person {} {judged}.", judging.does));
    }
    if named.is_some_and(|named| same_account(named.as_str(), account)) {
        return Err(format!(
            "{code} names you as its {}; another person {} it.",
            judging.names, judging.does
        ));
    }
    Ok(())
}

/// The most telling thing that this account did.
fn own_touch<'a>(account: &str, touched: &'a [Touched]) -> Option<&'a Touched> {
    touched
        .iter()
        .filter(|touched| same_account(&touched.who, account))
        .min_by_key(|touched| touched.touch)
}

/// Who judged a record, and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Judgement {
    pub by: Line,
    pub on: Option<Day>,
}

/// A record that a second person judges.
pub trait Judged: Record {
    const JUDGING: Judging;

    /// The judgement that holds now.
    fn judgement(&self) -> Option<Judgement>;
    fn checked(&self) -> Option<Checked>;
    fn set_checked(&mut self, checked: Option<Checked>);
    /// Without its judgement; what was judged stays.
    fn take_back(&mut self);
    /// The owner or author whom it names.
    fn named(&self) -> Option<&Line>;
    /// The attempts that the judgement speaks of.
    fn attempts(&self) -> &[AttemptCode];
    /// What happened before the judgement, each with its day.
    fn earlier(&self) -> Vec<(&'static str, Option<Day>)>;
    /// What a judgement needs and the record lacks.
    fn lacks(&self) -> Option<FieldError>;
}

/// Why a judgement of that day comes too early: before what it judges, or before a failure that it
/// speaks of. What has no day cannot be compared.
// Source: MIL-STD-2155(AS), foreword, 1985: reported, analysed, corrective action identified,
// implemented, then verified, in this order.
pub fn out_of_order<R: Judged>(
    record: &R,
    failures: &[(AttemptCode, Option<Day>)],
    today: Day,
) -> Option<FieldError> {
    /// The clock of another machine may be so far ahead.
    const SKEW_DAYS: i64 = 1;
    let judging = R::JUDGING;
    let on = record.judgement()?.on?;
    let wrong = |why: String| Some(FieldError::new(judging.on, why));
    let done = judging.done;
    if on.since(today) > SKEW_DAYS {
        return wrong(format!("{on} is still to come; give the day on which it was {done}."));
    }
    let later = |day: &Day| *day > on;
    for (what, day) in record.earlier() {
        if let Some(day) = day.filter(later) {
            return wrong(format!(
                "It was {what} on {day}, after it was {done} ({on}). Give a later day."
            ));
        }
    }
    for (attempt, day) in failures {
        if let Some(day) = day.filter(later) {
            return wrong(format!(
                "{attempt} was made on {day}, after it was {done} ({on}). Give a later day, or \
                 leave {attempt} out."
            ));
        }
    }
    None
}

/// What is wrong with the judgement of a record, by the entries of the change log on it; each as
/// the end of a sentence that begins with its code.
pub fn faults(
    judging: &Judging,
    judgement: &Judgement,
    checked: Option<Checked>,
    entries: &[Entry],
    rests_on: &[Touched],
    code: &str,
) -> Vec<String> {
    let by = judgement.by.as_str();
    let done = judging.done;
    let touched = |entry: &Entry| {
        judging.touch(entry).map(|touch| Touched {
            code: code.to_owned(),
            who: entry.who.clone(),
            on: entry.on,
            touch,
        })
    };
    let judged = entries.iter().rfind(|entry| !entry.after.get(judging.by).is_empty());
    let mut found = Vec::new();
    let mut all_touches = rests_on.to_vec();
    match (checked, judged) {
        (Some(Checked::Imported), _) => return changed_after(judging, judged, entries),
        (_, None) => return vec![format!("was {done} by {by}, and no change says when")],
        (_, Some(judged)) => {
            if !same_account(&judged.who, by) {
                let who = &judged.who;
                found.push(format!("was {done} by {by}, and {who} entered that"));
            }
            all_touches.extend(entries.iter().filter(|e| e.seq < judged.seq).filter_map(touched));
            if judged.is_new {
                all_touches.extend(touched(judged));
            }
        }
    }
    if let Some(own) = own_touch(by, &all_touches) {
        let deed = own.deed(if own.code == code { "it" } else { &own.code });
        found.push(format!("was {done} by {by}, who {deed}"));
    }
    found.extend(changed_after(judging, judged, entries));
    found
}

/// What was judged changed, and the judgement was not taken back.
fn changed_after(judging: &Judging, judged: Option<&Entry>, entries: &[Entry]) -> Vec<String> {
    let since = judged.map_or(0, |judged| judged.seq);
    let after = entries.iter().filter(|entry| entry.seq > since && !entry.is_new);
    after
        .filter(|entry| judging.differs(&entry.before, &entry.after))
        .map(|entry| {
            format!("was changed by {} on {} after it was {}", entry.who, entry.on, judging.done)
        })
        .collect()
}

#[cfg(test)]
mod tests;
