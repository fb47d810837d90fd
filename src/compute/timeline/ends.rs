//! When an excursion ends, from a fixed set of draws.

/// When the last lane is inside in each of many draws, the earliest first.
#[derive(Debug, Clone, PartialEq)]
pub struct Ends(Vec<f64>);

impl Ends {
    pub(super) fn of(mut ends: Vec<f64>) -> Self {
        ends.sort_by(f64::total_cmp);
        Self(ends)
    }

    /// The chance that every lane is inside by then.
    pub fn chance_by(&self, bound: f64) -> f64 {
        let inside = self.0.partition_point(|end| *end <= bound + 0.01);
        count(inside) / count(self.0.len().max(1))
    }

    /// The minute by which every lane is inside with that chance.
    pub fn end_at(&self, chance: f64) -> f64 {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a rank")]
        let rank = (chance * count(self.0.len())) as usize;
        self.0.get(rank).or(self.0.last()).copied().unwrap_or_default()
    }
}

fn count(draws: usize) -> f64 {
    u32::try_from(draws).map_or(f64::from(u32::MAX), f64::from)
}
