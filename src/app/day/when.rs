//! When a press was made: no longer than a day ago, not in the future, and on a clock that is never
//! set back, so that a press made after another takes its place after it.

use super::{Day, at_pace};
use crate::Failure;
use domain::day::MAX_PET;
use domain::time::Moment;
use domain::units::Pet;

/// The longest time that a press may have waited to be sent.
const MAX_AGE: i64 = MAX_PET.0 * 60_000;
/// Minutes by which a typed time may be ahead of the clock.
const AHEAD: i64 = 2;

pub(super) struct When {
    pub pressed_at: Moment,
    pub saved_at: Moment,
}

impl When {
    /// `pressed_at` as the page sent it; left out, the press is made now.
    pub fn of(there: &Day, pressed_at: Option<Moment>, now: Moment) -> Result<Self, Failure> {
        let age = pressed_at.map_or(0, |at| now.0.saturating_sub(at.0).max(0));
        if age > MAX_AGE {
            let words = "It was pressed more than a day ago. Enter it in the debrief.";
            return Err(Failure::field("pressed_at", words));
        }
        let known = there.state.log.iter().map(|(press, _)| press.saved_at.max(press.pressed_at).0);
        let saved_at = known.max().map_or(now.0, |last| now.0.max(last.saturating_add(1)));
        Ok(Self { pressed_at: Moment(saved_at - age), saved_at: Moment(saved_at) })
    }

    /// When egress began, as typed or by the press.
    pub fn egress(&self, typed: Option<Moment>) -> Result<Moment, Failure> {
        let at = typed.unwrap_or(self.pressed_at);
        if at > self.saved_at.plus_minutes(AHEAD) {
            let words = "This time is in the future; enter when egress began.";
            return Err(Failure::field("egress_at", words));
        }
        if self.saved_at.0.saturating_sub(at.0) > MAX_AGE {
            let words = "Egress began more than a day ago by this; write date and time in UTC.";
            return Err(Failure::field("egress_at", words));
        }
        Ok(at)
    }

    /// The elapsed time of the press, as typed or by the clock.
    pub fn pet(&self, there: &Day, typed: Option<Pet>) -> Result<Pet, Failure> {
        let Some(by_clock) = there.state.pet_at(at_pace(self.pressed_at, there.run.as_ref()))
        else {
            let words = "The clock has not been started: press “egress has begun” first.";
            return Err(Failure::Refused(words.to_owned()));
        };
        let pet = typed.unwrap_or(by_clock);
        if pet > MAX_PET {
            return Err(Failure::field("pet", "PET is at most 24:00."));
        }
        // In a practice run that is faster than life the page lags behind by some seconds.
        let ahead = there.run.as_ref().map_or(AHEAD, |run| AHEAD.max(run.pace / 6));
        if pet.0 > by_clock.0 + ahead {
            let words = format!(
                "PET {pet} has not come yet: the clock is at {by_clock}. Correct the PET of the press \
                 or the time of egress."
            );
            return Err(Failure::field("pet", words));
        }
        Ok(pet)
    }
}
