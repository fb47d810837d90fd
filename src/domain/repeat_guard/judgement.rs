//! Whether an approach may be used on a unit, by the record of its family.

use super::{Approach, Guard, Record, UnitKey};
use crate::codes::AttemptCode;
use crate::words::GateVerdict;

/// Failures that a unit's sisters need to block an approach; one of them makes it questioned.
pub(super) const SISTERS_THAT_BLOCK: usize = 2;

/// All the failures that count against one approach on one unit and that nothing resolves.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Against {
    pub here: Vec<AttemptCode>,
    pub sisters: Vec<AttemptCode>,
    /// Technique or side of these is not recorded, or not chosen here: they could be by it.
    pub unclear: Vec<AttemptCode>,
}

impl Against {
    /// What they make of the approach. The judgement names the failures that decide it.
    pub fn judgement(&self) -> Judgement {
        if !self.here.is_empty() {
            return Judgement::Blocked { attempts: self.here.clone() };
        }
        match (self.sisters.len(), self.unclear.is_empty()) {
            (SISTERS_THAT_BLOCK.., _) => Judgement::Blocked { attempts: self.sisters.clone() },
            (_, false) => Judgement::CannotTell { attempts: self.unclear.clone() },
            (0, true) => Judgement::Clear,
            (_, true) => Judgement::Questioned { attempts: self.sisters.clone() },
        }
    }

    /// Those that are left once some are resolved.
    #[must_use]
    pub fn without(&self, is_resolved: impl Fn(&AttemptCode) -> bool) -> Self {
        let left = |all: &[AttemptCode]| {
            all.iter().filter(|attempt| !is_resolved(attempt)).cloned().collect()
        };
        Self { here: left(&self.here), sisters: left(&self.sisters), unclear: left(&self.unclear) }
    }
}

/// What the record says about one approach on one unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Judgement {
    Clear,
    /// One unanswered failure on a sister.
    Questioned {
        attempts: Vec<AttemptCode>,
    },
    /// One unanswered failure on this unit, or two on its sisters.
    Blocked {
        attempts: Vec<AttemptCode>,
    },
    /// These failed by an approach that was not fully recorded and could be this one; or this one
    /// is not fully chosen and could be theirs.
    CannotTell {
        attempts: Vec<AttemptCode>,
    },
}

impl Judgement {
    pub fn attempts(&self) -> &[AttemptCode] {
        match self {
            Self::Clear => &[],
            Self::Questioned { attempts }
            | Self::Blocked { attempts }
            | Self::CannotTell { attempts } => attempts,
        }
    }

    pub const fn word(&self) -> &'static str {
        match self {
            Self::Clear => "clear",
            Self::Questioned { .. } => "questioned",
            Self::Blocked { .. } => "blocked",
            Self::CannotTell { .. } => "cannot tell",
        }
    }

    /// The verdict of the approach gate.
    pub const fn gate(&self) -> GateVerdict {
        match self {
            Self::Clear => GateVerdict::Met,
            Self::Questioned { .. } => GateVerdict::Tight,
            Self::Blocked { .. } => GateVerdict::NotMet,
            Self::CannotTell { .. } => GateVerdict::CannotTell,
        }
    }
}

/// Judges one approach for one unit. For many of one family, keep a `Guard`.
pub fn judge(unit: &UnitKey, approach: &Approach, record: Record<'_>) -> Judgement {
    Guard::new(record).judge(unit, approach)
}

/// The sentence with which a slot is refused, or `None` where the approach may be set.
pub fn refusal(approach: &Approach, judgement: &Judgement, left: &[Approach]) -> Option<String> {
    let named = judgement.attempts().iter().map(AttemptCode::as_str).collect::<Vec<_>>().join(", ");
    let why = match judgement {
        Judgement::Clear | Judgement::Questioned { .. } => return None,
        Judgement::Blocked { .. } => {
            format!(
                "{approach} is blocked: it failed ({named}), and no verified remedy resolves that."
            )
        }
        Judgement::CannotTell { .. } => format!(
            "Nobody can tell whether {approach} was tried before: technique or side of {named} is not recorded, or not chosen here. Record it there, or choose it here."
        ),
    };
    let offers = left.iter().map(Approach::to_string).collect::<Vec<_>>().join("; ");
    let next = if offers.is_empty() {
        "No other approach is left: verify a remedy that names those attempts, draft another technique, or have a lead write a waiver.".to_owned()
    } else {
        format!(
            "Still open to try: {offers}. Otherwise verify a remedy that names those attempts, or have a lead write a waiver."
        )
    };
    Some(format!("{why} {next}"))
}
