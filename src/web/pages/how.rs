//! How a page's times and chances came about: the law of the minutes, what varies and what does
//! not, and the draws where they were used. `templates/parts/how.html` draws it from a variable
//! named `how`.

use compute::fit::Constants;

pub(crate) struct How {
    /// The standard deviations of the logarithms of what an excursion shares.
    constants: Constants,
    /// What the draws of this very plan gave; empty where none were made.
    draws: Vec<String>,
}

impl How {
    pub fn of(constants: &Constants) -> Self {
        Self { constants: *constants, draws: Vec::new() }
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
                    "The minutes of each task, and what all of an excursion shares: one factor each \
                     for the crew’s work, egress, ingress, travel, and setup with cleanup. Their \
                     logarithms have standard deviations of {}, {}, {}, {} and {}, under Settings.",
                    self.constants.crew_day_log_sd,
                    self.constants.egress_log_sd,
                    self.constants.ingress_log_sd,
                    self.constants.travel_log_sd,
                    self.constants.site_log_sd,
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
                "In 80 of 100 such cases, out of 4,096 fixed draws, everybody is inside by then. It \
                 is rounded up to the minute; the time left is from there to the limit."
                    .to_owned(),
            ),
            (
                "Suit supplies",
                format!(
                    "From internal power until everybody is back inside, at the P80 end of the cases \
                     in which all work finds its windows: the work that the draws with this end give, \
                     each task at its work rate, all other minutes at the rate of travel and waiting. \
                     Kilocalories become oxygen and carbon dioxide by the respiratory quotient (Lusk, \
                     Journal of Biological Chemistry 59, 1924), with the leakage; water carries off \
                     the heat of crew and suit; the battery counts minutes. The supply that runs out \
                     first in the order of the work is shown, the last {} min of each are never \
                     planned, and emergency oxygen never counts.",
                    self.constants.supply_reserve
                ),
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
