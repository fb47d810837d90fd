//! When an excursion ends: by moments where every lane just goes on, by draws where stops wait.

use super::chance::Ends;

#[derive(Debug, Clone, PartialEq)]
pub enum Ending {
    WorkedOut(Ends),
    /// When the last lane is inside in each of many draws, the earliest first.
    Lived(Vec<f64>),
}

impl Ending {
    /// The chance that every lane is inside by then.
    pub fn chance_by(&self, bound: f64) -> f64 {
        match self {
            Self::WorkedOut(ends) => ends.chance_by(bound),
            Self::Lived(ends) => {
                let inside = ends.partition_point(|end| *end <= bound + 0.01);
                count(inside) / count(ends.len().max(1))
            }
        }
    }

    /// The minute by which every lane is inside with that chance.
    pub fn end_at(&self, chance: f64) -> f64 {
        match self {
            Self::WorkedOut(ends) => ends.end_at(chance),
            Self::Lived(ends) => {
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "a rank"
                )]
                let rank = (chance * count(ends.len())) as usize;
                ends.get(rank).or(ends.last()).copied().unwrap_or_default()
            }
        }
    }
}

fn count(draws: usize) -> f64 {
    u32::try_from(draws).map_or(f64::from(u32::MAX), f64::from)
}
