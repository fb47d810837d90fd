//! The one form about slots, whichever page sent it: what it says, read all at once, and what was
//! typed, for a page that shows it again.

use super::asked::read_approach;
use super::if_then;
use crate::extract::Fields;
use app::Failure;
use app::slots::{Reason, Spot, Waiver};
use domain::cells::{Cell as _, Cells, FieldError, Line, Prose};
use domain::codes::{ExcursionCode, SlotCode};
use domain::records::Record as _;
use domain::repeat_guard::Approach;
use domain::seats::Seats;
use domain::slots::Slot;
use domain::words::{DeferralReason, GateName, SlotState};

/// What a form may say about a new slot or change on one that is there; the rest belongs to the
/// operations.
pub(crate) const PLANNED: [&str; 10] = [
    "technique",
    "side",
    "seats",
    "share",
    "not_before",
    "stopping_point",
    "stopping_share",
    "if_it_fails",
    "fallbacks",
    "must_do",
];

/// A form about slots, read.
pub(super) struct SlotForm {
    cells: Cells,
    version: Option<i64>,
    pub waiver: Waiver,
    pub reason: Option<Reason>,
    pub sets: bool,
}

impl SlotForm {
    /// Reads every field that any form about slots has. A word that is none of the list is named and
    /// not passed over.
    pub fn read(typed: &Fields) -> Result<Self, Failure> {
        let mut wrong = Vec::new();
        let mut cells = typed.cells();
        if typed.has("cell") && !split(&mut cells, "cell", ':', ["task", "excursion"]) {
            let message =
                "Choose a task and an excursion: open a cell of the matrix and plan there.";
            wrong.push(FieldError::new("cell", message));
        }
        let approach = typed.get("approach").trim();
        if !approach.is_empty() && !split(&mut cells, "approach", ',', ["technique", "side"]) {
            let message = format!("“{approach}” is not an approach; choose one from the list.");
            wrong.push(FieldError::new("approach", message));
        }
        if let Some(rows) = if_then::rows(typed) {
            match if_then::listed(&rows, typed.get("row")) {
                Ok(fallbacks) => cells.set("fallbacks", fallbacks.show()),
                Err(errors) => wrong.extend(errors),
            }
        }
        let waiver = waiver(typed, &mut wrong);
        let reason = reason(typed, &mut wrong);
        let sets = match typed.get("do") {
            "set" => true,
            "" | "pencil" => false,
            other => {
                let message = format!("“{other}” is not known; press Set or Pencil.");
                wrong.push(FieldError::new("do", message));
                false
            }
        };
        if wrong.is_empty() {
            Ok(Self { cells, version: typed.version(), waiver, reason, sets })
        } else {
            Err(Failure::Invalid(wrong))
        }
    }

    pub fn excursion(&self) -> ExcursionCode {
        ExcursionCode::from(self.cells.get("excursion").trim())
    }

    /// A slot that is not there yet, on that excursion.
    pub fn new_slot(&self, excursion: &ExcursionCode) -> Result<Slot, Failure> {
        let mut cells = Cells::default();
        for name in PLANNED.iter().chain(&["task"]) {
            cells.set(*name, self.cells.get(name));
        }
        cells.set("excursion", excursion.as_str());
        cells.set("state", SlotState::Pencilled.word());
        Slot::parse(&cells).map_err(Failure::Invalid)
    }

    /// The slot with what the form says; fields that were not sent stay as they are.
    pub fn changed(&self, slot: &Slot) -> Result<Slot, Failure> {
        let mut cells = slot.cells();
        for name in PLANNED.iter().filter(|name| self.cells.has(name)) {
            cells.set(*name, self.cells.get(name));
        }
        Slot::parse(&cells).map_err(Failure::Invalid)
    }

    /// The version of the slot that the form was made on; none is no version, and is refused.
    pub fn version(&self) -> i64 {
        self.version.unwrap_or(0)
    }

    /// The seats, where the form names any.
    pub fn seats(&self) -> Result<Option<Seats>, Failure> {
        let mut wrong = Vec::new();
        let seats: Option<Seats> = self.cells.take("seats", &mut wrong);
        if wrong.is_empty() {
            Ok(seats.filter(|seats| !seats.is_empty()))
        } else {
            Err(Failure::Invalid(wrong))
        }
    }

    /// The slot before which a new one is worked; none puts it behind all others.
    pub fn before(&self) -> Option<SlotCode> {
        Some(self.cells.get("before")).filter(|code| !code.is_empty()).map(SlotCode::from)
    }

    /// Where a slot that is there goes in the order: its own code leaves it where it is, an empty
    /// field puts it behind all others.
    pub fn spot(&self, slot: &Slot) -> Spot {
        match self.before() {
            None if self.cells.has("before") => Spot::Last,
            None => Spot::AsItIs,
            Some(code) if code == slot.code.0 => Spot::AsItIs,
            Some(code) => Spot::Before(code),
        }
    }

    /// The approach, where the form names one.
    pub fn approach(&self) -> Option<Approach> {
        read_approach(self.cells.get("approach"))
    }

    /// The excursion to which a slot moves.
    pub fn to(&self) -> Result<ExcursionCode, Failure> {
        let to = ExcursionCode::read(self.cells.get("to"));
        match to {
            Ok(to) if to.is_blank() => {
                Err(Failure::field("to", "Choose the excursion to which it moves."))
            }
            Ok(to) => Ok(to),
            Err(message) => Err(Failure::field("to", message)),
        }
    }
}

/// Puts the two halves of a field into the fields that they mean; whether it could be split.
fn split(cells: &mut Cells, name: &str, at: char, into: [&str; 2]) -> bool {
    let text = cells.get(name).to_owned();
    let Some((first, second)) = text.split_once(at) else { return false };
    cells.set(into[0], first.trim());
    cells.set(into[1], second.trim());
    // An approach may name no technique and no side; a cell names both.
    at == ',' || !(first.trim().is_empty() || second.trim().is_empty())
}

fn waiver(typed: &Fields, wrong: &mut Vec<FieldError>) -> Waiver {
    let mut gates = Vec::new();
    for word in typed.all("waive") {
        if let Some(gate) = GateName::read(word) {
            gates.push(gate);
        } else {
            let message = format!("“{word}” is not a check of this service; tick those listed.");
            wrong.push(FieldError::new("waiver", message));
        }
    }
    let reason = match Line::read(typed.get("waiver")) {
        Ok(reason) => reason.as_str().to_owned(),
        Err(message) => {
            wrong.push(FieldError::new("waiver", message));
            String::new()
        }
    };
    Waiver { gates, reason }
}

/// Why a set slot leaves its excursion; none where the form says nothing of it.
fn reason(typed: &Fields, wrong: &mut Vec<FieldError>) -> Option<Reason> {
    let word = typed.get("reason").trim();
    let kind = DeferralReason::read(word);
    if kind.is_none() && !word.is_empty() {
        let message = format!("“{word}” is not a reason of a deferral; choose one from the list.");
        wrong.push(FieldError::new("reason", message));
    }
    let words = match Prose::read(typed.get("words")) {
        Ok(words) => words,
        Err(message) => {
            wrong.push(FieldError::new("words", message));
            return None;
        }
    };
    (kind.is_some() || !words.is_empty()).then_some(Reason { kind, words })
}

/// What was typed into a form about slots that was refused, and what is wrong with it.
#[derive(Debug, Default)]
pub(crate) struct Typed {
    pub cells: Cells,
    /// The checks that were ticked.
    pub waived: Vec<String>,
    pub errors: Vec<FieldError>,
    /// A refusal that concerns the whole form.
    pub refused: Option<String>,
    /// The slot and the act; a new slot has neither.
    pub on: Option<(String, String)>,
}

impl Typed {
    pub fn of(typed: &Fields, on: Option<(String, String)>) -> Self {
        let waived = typed.all("waive").map(str::to_owned).collect();
        Self { cells: typed.cells(), waived, on, ..Self::default() }
    }

    pub fn is_empty(&self) -> bool {
        self.errors.is_empty() && self.refused.is_none()
    }

    /// What was tried with that slot.
    pub fn act_of(&self, slot: &SlotCode) -> Option<&str> {
        let (code, act) = self.on.as_ref()?;
        (code == slot.as_str()).then_some(act.as_str())
    }

    pub fn errors_of(&self, slot: &str, act: &str) -> &[FieldError] {
        let mine = self.on.as_ref().is_some_and(|(code, did)| code == slot && did == act);
        if mine { &self.errors } else { &[] }
    }

    /// What belongs to the form of a new slot.
    pub fn of_new(&self) -> (Cells, &[FieldError]) {
        match self.on {
            None => (self.cells.clone(), &self.errors),
            Some(_) => (Cells::default(), &[]),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(body: &str) -> Result<SlotForm, Vec<String>> {
        SlotForm::read(&Fields::read(body.as_bytes())).map_err(|failure| match failure {
            Failure::Invalid(wrong) => wrong.into_iter().map(|error| error.field).collect(),
            other => panic!("{other:?}"),
        })
    }

    #[test]
    fn a_cell_and_separate_fields_say_the_same() {
        let here = ExcursionCode::from("E-1");
        let one = read("cell=T-1%3AE-1&approach=K-1%2Cnadir&seats=EV1&share=40").unwrap();
        let other =
            read("task=T-1&excursion=E-1&technique=K-1&side=nadir&seats=EV1&share=40").unwrap();
        assert_eq!((one.excursion(), other.excursion()), (here.clone(), here.clone()));
        assert_eq!(one.new_slot(&here).unwrap(), other.new_slot(&here).unwrap());
        assert_eq!(one.new_slot(&here).unwrap().technique.unwrap().as_str(), "K-1");
    }

    #[test]
    fn words_that_are_none_of_the_list_are_named_and_not_passed_over() {
        let body = "cell=T-1&approach=K-1&waive=approach&waive=gravity&reason=mood&do=throw";
        let wrong = read(body).err().unwrap();
        assert_eq!(wrong, ["cell", "approach", "waiver", "reason", "do"]);
        let long = format!("waiver={}", "w".repeat(Line::MAX_LETTERS + 1));
        assert_eq!(read(&long).err().unwrap(), ["waiver"]);
    }

    #[test]
    fn a_reason_may_have_words_alone() {
        let form = read("words=the+tool+came+early").unwrap();
        let reason = form.reason.unwrap();
        assert_eq!((reason.kind, reason.words.as_str()), (None, "the tool came early"));
        assert!(read("reason=&words=").unwrap().reason.is_none());
        let form = read("reason=time").unwrap();
        assert_eq!(form.reason.unwrap().kind, Some(DeferralReason::Time));
    }

    #[test]
    fn a_spot_is_before_another_behind_all_or_where_it_is() {
        let slot = read("task=T-1").unwrap().new_slot(&"E-1".into()).unwrap();
        let slot = Slot { code: domain::codes::Own("S-1".into()), ..slot };
        assert_eq!(read("seats=EV1").unwrap().spot(&slot), Spot::AsItIs);
        assert_eq!(read("before=S-1").unwrap().spot(&slot), Spot::AsItIs);
        assert_eq!(read("before=").unwrap().spot(&slot), Spot::Last);
        assert_eq!(read("before=S-2").unwrap().spot(&slot), Spot::Before("S-2".into()));
    }
}
