//! How a page's times and chances came about: the law of the minutes, what varies and what does
//! not, and the draws where they were used. `templates/parts/how.html` draws it from a variable
//! named `how`.

use crate::compute::fit::Constants;

pub(crate) struct How {
    /// The standard deviation of the logarithm of the crew-day factor.
    crew_day: f64,
    /// What the draws of this very plan gave; empty where none were made.
    draws: Vec<String>,
}

impl How {
    pub fn of(constants: &Constants) -> Self {
        Self { crew_day: constants.crew_day_log_sd, draws: Vec::new() }
    }

    /// The same with what draws of the very plan gave.
    pub fn with_draws(self, draws: Vec<String>) -> Self {
        Self { draws, ..self }
    }

    pub fn lines(&self) -> Vec<(&'static str, String)> {
        let mut lines = vec![
            (
                "Minutes of a task",
                "A three-point estimate a, m, b has the mean (a + 4m + b)/6 and the standard \
                 deviation (b − a)/6 (Malcolm and others, Operations Research 7, 1959); the minutes \
                 follow the lognormal law with these two."
                    .to_owned(),
            ),
            (
                "What varies",
                format!(
                    "The minutes of each task, and one factor for the crew’s day that multiplies all \
                     work of an excursion: its logarithm has a standard deviation of {}, under \
                     Settings.",
                    self.crew_day
                ),
            ),
            (
                "What does not vary",
                "The tasks, their seats and their order; the windows of arm and light; the \
                 translation paths; and success: every task is taken to succeed. A task that fails, \
                 or is stopped, may take more or fewer minutes."
                    .to_owned(),
            ),
            (
                "P80",
                "In 80 of 100 such cases everybody is inside by then. It is rounded up to the \
                 minute; the time left is from there to the limit."
                    .to_owned(),
            ),
            (
                "Chance to end inside the limit, the plan or a window",
                "The share of such cases in which the last seat is inside by the limit or the plan, \
                 or the work ends before its window closes."
                    .to_owned(),
            ),
        ];
        lines.extend(self.draws.iter().map(|draw| ("Draws", draw.clone())));
        lines
    }
}
