//! Times taken and what they come to.

use std::time::{Duration, Instant};

/// Times of one thing done again and again, the shortest first.
#[derive(Debug, Clone)]
pub struct Times(Vec<Duration>);

impl Times {
    pub fn of(mut times: Vec<Duration>) -> Self {
        times.sort_unstable();
        Self(times)
    }

    /// The time within which this share of all was done, in milliseconds.
    // Source: common practice; the nearest-rank quantile.
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "counts of runs are small, and shares lie between 0 and 1"
    )]
    pub fn within(&self, share: f64) -> f64 {
        let rank = (share * self.0.len() as f64).ceil() as usize;
        let at = rank.max(1).min(self.0.len()) - 1;
        self.0.get(at).map_or(0.0, |time| time.as_secs_f64() * 1_000.0)
    }
}

/// Runs it once more and notes how long it took.
pub async fn timed<T>(times: &mut Vec<Duration>, work: impl Future<Output = T>) -> T {
    let begun = Instant::now();
    let done = work.await;
    times.push(begun.elapsed());
    done
}

/// The most memory that this process ever held, in megabytes.
pub fn memory_peak() -> Option<f64> {
    of_memory("VmHWM:")
}

/// The memory that this process holds, in megabytes.
pub fn memory_now() -> Option<f64> {
    of_memory("VmRSS:")
}

fn of_memory(name: &str) -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with(name))?;
    let kilobytes: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kilobytes / 1_024.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quantile_is_a_time_that_was_taken() {
        let times = Times::of((1..=200).rev().map(Duration::from_millis).collect());
        assert_eq!(
            (times.within(0.5), times.within(0.99), times.within(1.0)),
            (100.0, 198.0, 200.0)
        );
        assert!((Times::of(vec![Duration::from_millis(7)]).within(0.99) - 7.0).abs() < 1e-9);
    }
}
