//! Why a task is still an open item.

use crate::codes::{CauseCode, ExcursionCode};
use crate::units::Share;
use crate::words::{DeferralPhase, DeferralReason};

/// Why a task is still an open item, by the last thing that happened to it.
#[derive(Debug, Clone, PartialEq)]
pub enum WhyOpen {
    NeverTried,
    /// Fell short for a cause that tells against the approach, or for none that is known.
    Failed {
        attempt: String,
        excursion: ExcursionCode,
        cause: Option<CauseCode>,
    },
    /// Begun, and stopped by something that tells nothing about the approach.
    Stopped {
        attempt: String,
        excursion: ExcursionCode,
        cause: Option<CauseCode>,
    },
    PartDone {
        attempt: String,
        excursion: ExcursionCode,
        cause: Option<CauseCode>,
    },
    NotReached {
        attempt: String,
        excursion: ExcursionCode,
    },
    Deferred {
        deferral: String,
        excursion: ExcursionCode,
        phase: DeferralPhase,
        reason: DeferralReason,
    },
    Parked {
        parking: String,
    },
    Reopened {
        reopening: String,
        share_left: Share,
    },
}

impl WhyOpen {
    /// The words by which the backlog is filtered.
    pub const WORDS: &'static [&'static str] = &[
        "never tried",
        "failed",
        "stopped",
        "part done",
        "not reached",
        "deferred",
        "parked",
        "reopened",
    ];

    pub const fn kind(&self) -> &'static str {
        match self {
            Self::NeverTried => "never tried",
            Self::Failed { .. } => "failed",
            Self::Stopped { .. } => "stopped",
            Self::PartDone { .. } => "part done",
            Self::NotReached { .. } => "not reached",
            Self::Deferred { .. } => "deferred",
            Self::Parked { .. } => "parked",
            Self::Reopened { .. } => "reopened",
        }
    }
}

impl std::fmt::Display for WhyOpen {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NeverTried => f.write_str("It was never tried."),
            Self::Failed { attempt, excursion, .. } => {
                write!(f, "It was tried on {excursion} and failed ({attempt}).")
            }
            Self::Stopped { attempt, excursion, .. } => write!(
                f,
                "It was begun on {excursion} and stopped by something else than the approach ({attempt})."
            ),
            Self::PartDone { attempt, excursion, .. } => {
                write!(f, "It was done in part on {excursion} ({attempt}).")
            }
            Self::NotReached { attempt, excursion } => {
                write!(f, "It was planned on {excursion} and not reached ({attempt}).")
            }
            Self::Deferred { deferral, excursion, phase, reason } => {
                write!(f, "It was deferred from {excursion}, {phase}: {reason} ({deferral}).")
            }
            Self::Parked { parking } => write!(f, "It is parked ({parking})."),
            Self::Reopened { reopening, share_left } => {
                write!(f, "It was reopened with {share_left} of the work left ({reopening}).")
            }
        }
    }
}
