//! The settings of the fit, each with its default in this one place.

use super::reasons::TimeFigures;
use crate::timeline::Variation;
use domain::words::GateVerdict;

/// Bounds between the verdicts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Constants {
    /// Chance to end inside the limit from which the time gate is tight instead of not met.
    pub tight_from: f64,
    /// Chance from which it is met.
    pub met_from: f64,
    /// Standard deviation of the logarithm of the factor by which a crew's day goes slower or
    /// faster than planned.
    pub crew_day_log_sd: f64,
    /// The same of the factors by which egress, ingress, travel, and setup and cleanup take longer
    /// or shorter than planned.
    pub egress_log_sd: f64,
    pub ingress_log_sd: f64,
    pub travel_log_sd: f64,
    pub site_log_sd: f64,
    /// The airlock takes all seats out and in together.
    pub together: bool,
    /// From that many litres on an item slows the one who carries it, and by how much.
    pub slow_from_litres: f64,
    pub slow_by: f64,
    /// Degrees from the critical beta angle within which lighting cannot be told.
    pub near_critical_beta: f64,
    /// After how many days a rehearsal or a training is old.
    pub rehearsal_days: i64,
    /// Minutes of every supply that are never planned.
    pub supply_reserve: f64,
    /// Which of the figures that matter to safety the team entered or accepted.
    pub accepted: Accepted,
}

/// The figures that matter to safety and that a team entered or accepted; the others are defaults
/// without a source.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Accepted {
    /// Both chances between the verdicts.
    pub bounds: bool,
    pub reserve: bool,
}

impl Constants {
    pub(super) const fn variation(&self) -> Variation {
        Variation {
            crew_day: self.crew_day_log_sd,
            egress: self.egress_log_sd,
            ingress: self.ingress_log_sd,
            travel: self.travel_log_sd,
            site: self.site_log_sd,
        }
    }

    /// The verdict of the time check: that of the chance to end inside the limit; passing the plan
    /// is a note.
    pub(super) fn on_time(&self, figures: &TimeFigures) -> GateVerdict {
        match self.by_chance(f64::from(figures.chance)) {
            GateVerdict::Met if figures.past_plan > 0 => GateVerdict::Note,
            verdict => verdict,
        }
    }

    /// The verdict that a chance gives.
    pub(super) fn by_chance(&self, chance: f64) -> GateVerdict {
        if chance >= self.met_from {
            GateVerdict::Met
        } else if chance >= self.tight_from {
            GateVerdict::Tight
        } else {
            GateVerdict::NotMet
        }
    }
}

/// The default figures, taken as accepted: `app::settings` says which a team accepted.
impl Default for Constants {
    fn default() -> Self {
        Self {
            tight_from: 0.5,
            met_from: 0.8,
            crew_day_log_sd: 0.12,
            // Judgement: no source found that prints planned and flown minutes side by side.
            egress_log_sd: 0.15,
            ingress_log_sd: 0.15,
            travel_log_sd: 0.2,
            site_log_sd: 0.2,
            // Common practice: one airlock is vented and filled once for all.
            together: true,
            // What one hand can hold beside a handrail, by judgement; 1.5 from memory.
            slow_from_litres: 60.0,
            slow_by: 1.5,
            near_critical_beta: 1.5,
            rehearsal_days: 180,
            supply_reserve: 30.0,
            accepted: Accepted { bounds: true, reserve: true },
        }
    }
}
