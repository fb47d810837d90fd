//! Fields that every form about slots shares: the waiver, and the reason of a deferral.

use super::form::Typed;
use crate::forms::{Choice, FieldView, Width};
use domain::cells::{Cells, FieldError};
use domain::slots::Slot;
use domain::words::{DeferralReason, GateName};

/// What a waiver reaches; it stands wherever one is written or shown.
pub(crate) const WAIVER_SCOPE: &str = "A waiver passes over a check of this service only, never a \
                                       flight rule or a hazard control. It holds for this slot alone.";

/// The checks that a lead may pass over by name, and why. `p::waive` draws it.
pub(crate) struct WaiverView {
    pub gates: Vec<(&'static str, bool)>,
    pub reason: FieldView,
    pub open: bool,
}

impl WaiverView {
    /// `place` tells the waivers of one page apart.
    pub fn new(place: &str, gates: &[&'static str], typed: &Typed) -> Self {
        let ticked = |gate: &&'static str| (*gate, typed.waived.iter().any(|word| word == gate));
        let gates: Vec<(&'static str, bool)> = gates.iter().map(ticked).collect();
        let reason = FieldView::new("waiver", "Reason for the waiver")
            .holding(typed.cells.get("waiver"))
            .wide(Width::Whole)
            .judged(&typed.errors);
        let open = gates.iter().any(|(_, ticked)| *ticked) || reason.error.is_some();
        Self { gates, open, reason: FieldView { id: format!("f-waiver-{place}"), ..reason } }
    }

    /// The checks that stand against a slot, open to be ticked; nothing where there are none.
    pub fn against(place: &str, gates: &[GateName], typed: &Typed) -> Option<Self> {
        let words: Vec<&'static str> = gates.iter().map(|gate| gate.word()).collect();
        let view = Self::new(place, &words, typed);
        (!words.is_empty()).then_some(Self { open: true, ..view })
    }
}

/// The waiver under which a slot is set, in words; empty where there is none.
pub(crate) fn waived(slot: &Slot) -> String {
    let Some(gates) = &slot.waived_gate else { return String::new() };
    let reason = slot.waiver.as_ref().map_or("", |reason| reason.as_str());
    format!("Waived: {gates}. {reason} {WAIVER_SCOPE}")
}

/// Why a set slot leaves its excursion, as a deferral says it.
pub(crate) fn reason(place: &str, cells: &Cells, errors: &[FieldError]) -> [FieldView; 2] {
    let [kind, words] = reason_and_words(place, cells, errors);
    [kind.must(), words]
}

/// The same for a move, which asks for it only towards a later excursion.
pub(crate) fn reason_of_move(place: &str, cells: &Cells, errors: &[FieldError]) -> [FieldView; 2] {
    let [kind, words] = reason_and_words(place, cells, errors);
    [kind.hinting("Needed towards a later excursion: that is a deferral."), words]
}

fn reason_and_words(place: &str, cells: &Cells, errors: &[FieldError]) -> [FieldView; 2] {
    let mut choices = vec![Choice::new("", "choose")];
    choices.extend(DeferralReason::WORDS.iter().map(|word| Choice::new(*word, *word)));
    let kind = FieldView::new("reason", "Reason").choosing(choices);
    let words = FieldView::new("words", "In words");
    [kind, words].map(|field| {
        let id = format!("f-{}-{place}", field.name);
        FieldView { id, ..field.holding_typed(cells, errors) }
    })
}
