//! The gates of a candidate slot as a page lists them: the worst first, each with its reasons.
//! `templates/parts/gates.html` draws them from a variable named `gates`.

use crate::linked::{Piece, of_parts};
use app::fit::{Judged, JudgedGate};
use domain::verdicts::weight;
use domain::words::{GateName, GateVerdict};

/// One gate.
pub(crate) struct GateLine {
    pub gate: GateName,
    pub verdict: GateVerdict,
    /// What a met gate says is left for a closer look; the rest is said at once.
    pub reasons: Vec<Vec<Piece>>,
}

/// All gates of a judged slot, the worst first; among equals in the order in which they are read.
pub(crate) fn lines(judged: &Judged) -> Vec<GateLine> {
    let mut lines: Vec<GateLine> = judged.gates.iter().map(line).collect();
    lines.sort_by_key(|line| std::cmp::Reverse(weight(line.verdict)));
    lines
}

fn line(gate: &JudgedGate) -> GateLine {
    let reasons = match gate.verdict {
        GateVerdict::NotChecked => Vec::new(),
        GateVerdict::Met
        | GateVerdict::Note
        | GateVerdict::Tight
        | GateVerdict::NotMet
        | GateVerdict::CannotTell => gate.reasons.iter().map(|parts| of_parts(parts)).collect(),
    };
    GateLine { gate: gate.gate, verdict: gate.verdict, reasons }
}

/// The gate in a word, where there is no room for its name.
pub(crate) const fn in_a_word(gate: GateName) -> &'static str {
    match gate {
        GateName::Order => "order",
        GateName::Tools => "tools",
        GateName::Arm => "arm",
        GateName::Supplies => "supplies",
        GateName::Routes => "routes",
        GateName::Bag => "bag",
        GateName::Time
        | GateName::Seats
        | GateName::Approach
        | GateName::Inhibits
        | GateName::Lighting
        | GateName::Rehearsal
        | GateName::Trained
        | GateName::Remedies
        | GateName::Return
        | GateName::NeededBy => gate.word(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use compute::fit::Part;
    use domain::words::SlotVerdict;

    fn gate(gate: GateName, verdict: GateVerdict) -> JudgedGate {
        JudgedGate { gate, verdict, reasons: vec![vec![Part::Text("So.".into())]] }
    }

    #[test]
    fn the_worst_gates_come_first_and_equals_keep_their_order() {
        let judged = Judged {
            verdict: SlotVerdict::DoesNotFit,
            gates: vec![
                gate(GateName::Time, GateVerdict::Met),
                gate(GateName::Seats, GateVerdict::NotChecked),
                gate(GateName::Approach, GateVerdict::NotMet),
                gate(GateName::Tools, GateVerdict::Met),
                gate(GateName::Remedies, GateVerdict::CannotTell),
            ],
            place: None,
            approach: None,
            approach_at: None,
            left: Vec::new(),
        };
        let order: Vec<GateName> = lines(&judged).iter().map(|line| line.gate).collect();
        let expected = [
            GateName::Approach,
            GateName::Remedies,
            GateName::Time,
            GateName::Tools,
            GateName::Seats,
        ];
        assert_eq!(order, expected);
    }
}
