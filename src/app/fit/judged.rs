//! A candidate slot, judged: every gate with its verdict and its sentences.

use compute::fit::{ApproachAt, Part, Place};
use domain::repeat_guard::Approach;
use domain::time::Moment;
use domain::words::{GateName, GateVerdict, SlotVerdict};
use store::slot_history::GateThen;

/// One gate of a judged slot, with its reasons.
#[derive(Debug, Clone)]
pub struct JudgedGate {
    pub gate: GateName,
    pub verdict: GateVerdict,
    pub reasons: Vec<Vec<Part>>,
}

impl JudgedGate {
    /// The reasons without links.
    pub fn words(&self) -> String {
        let sentences: Vec<String> = self.reasons.iter().map(|parts| Part::plain(parts)).collect();
        sentences.join(" ")
    }
}

/// A candidate slot, judged.
#[derive(Debug, Clone)]
pub struct Judged {
    pub verdict: SlotVerdict,
    pub gates: Vec<JudgedGate>,
    pub place: Option<Place>,
    pub approach: Option<Approach>,
    pub approach_at: Option<ApproachAt>,
    /// The approaches that the repeat guard leaves, best first.
    pub left: Vec<Approach>,
}

impl Judged {
    /// The gates as they are kept beside a slot that is set.
    pub(crate) fn gate_rows(&self, at: Moment) -> Vec<GateThen> {
        let row = |gate: &JudgedGate| GateThen {
            gate: gate.gate,
            verdict: gate.verdict,
            reason: gate.words(),
            at,
        };
        self.gates.iter().map(row).collect()
    }

    /// Each gate with its verdict.
    pub fn verdicts(&self) -> Vec<(GateName, GateVerdict)> {
        self.gates.iter().map(|gate| (gate.gate, gate.verdict)).collect()
    }

    /// Why it cannot be set, check by check, and what is left to do.
    pub fn refusal(&self, against: &[GateName]) -> String {
        let mut sentences: Vec<String> = self
            .gates
            .iter()
            .filter(|gate| against.contains(&gate.gate))
            .map(|gate| format!("Check “{}”, {}: {}", gate.gate, gate.verdict, gate.words()))
            .collect();
        if against.contains(&GateName::Approach) {
            let offers: Vec<String> = self.left.iter().map(Approach::to_string).collect();
            sentences.push(if offers.is_empty() {
                "No other approach is left.".to_owned()
            } else {
                format!("Approaches left: {}.", offers.join("; "))
            });
        }
        sentences.push(
            "It can be pencilled; setting it needs a lead's waiver that names each of these checks."
                .to_owned(),
        );
        sentences.join(" ")
    }
}
