//! The settings of the fit, each with its default in this one place.

/// Bounds between the verdicts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Constants {
    /// Chance to end inside the limit from which the time gate is tight instead of not met.
    pub tight_from: f64,
    /// Chance from which it is met.
    pub met_from: f64,
}

impl Default for Constants {
    fn default() -> Self {
        Self { tight_from: 0.5, met_from: 0.8 }
    }
}
