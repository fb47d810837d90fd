//! By how much the minutes of one excursion are longer or shorter together.

/// Standard deviations of the logarithms of factors of mean 1. Each factor is drawn once for an
/// excursion: a crew that is slow on its first leg is slow on the next one.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Variation {
    /// Of all work.
    pub crew_day: f64,
    pub egress: f64,
    pub ingress: f64,
    pub travel: f64,
    /// Of setup and cleanup at the worksites.
    pub site: f64,
}
