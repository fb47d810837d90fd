//! The gates of a candidate slot as a page lists them: the worst first, each with its reasons.
//! `templates/parts/gates.html` draws them from a variable named `gates`.

use crate::addresses;
use app::fit::{Judged, JudgedGate};
use compute::fit::Part;
use domain::verdicts::weight;
use domain::words::{GateName, GateVerdict};

/// One gate.
pub(crate) struct GateLine {
    pub gate: GateName,
    pub verdict: GateVerdict,
    /// What a met gate says is left for a closer look; the rest is said at once.
    pub reasons: Vec<Vec<Bit>>,
}

/// A piece of a sentence, ready to be placed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Bit {
    Words(String),
    /// A code, with where it leads.
    Code(String, String),
    /// The words for a field that is empty, with where it is filled in.
    Field(String, String),
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
        | GateVerdict::CannotTell => gate.reasons.iter().map(|parts| bits(parts)).collect(),
    };
    GateLine { gate: gate.gate, verdict: gate.verdict, reasons }
}

/// A sentence with its codes and fields as links.
pub(crate) fn bits(parts: &[Part]) -> Vec<Bit> {
    parts
        .iter()
        .map(|part| match part {
            Part::Text(words) => Bit::Words(words.clone()),
            Part::Code(kind, code) => Bit::Code(addresses::of(*kind, code), code.clone()),
            Part::Field { kind, code, column, words } => {
                Bit::Field(addresses::field(*kind, code, column), (*words).to_owned())
            }
        })
        .collect()
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
    use domain::kinds::Kind;
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

    #[test]
    fn a_field_that_is_empty_leads_to_where_it_is_filled_in() {
        let part = Part::Field {
            kind: Kind::Excursion,
            code: "E-37.2".into(),
            column: "limit",
            words: "the limit",
        };
        let expected = Bit::Field("/excursions/E-37.2/edit#f-limit".into(), "the limit".into());
        assert_eq!(bits(&[part]), [expected]);
    }
}
