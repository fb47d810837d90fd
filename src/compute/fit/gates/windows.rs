//! Whether the work falls inside the arm's windows, and inside the light that it needs.

use super::bounds;
use crate::fit::place::{Found, down, narrow, up};
use crate::fit::ready::Ready;
use crate::fit::reasons::{Reason, Unknown, WindowFigures};
use crate::fit::verdict::Judgement;
use crate::fit::windows::orbit;
use crate::places::{ExcursionAt, TaskAt};
use crate::timeline::Light;
use domain::words::GateVerdict::{CannotTell, Met, NotMet};
use domain::words::{GateName, LightNeed};

pub(in crate::fit) fn arm(
    ready: &Ready,
    task: TaskAt,
    excursion: ExcursionAt,
    found: Option<&Found>,
    judge: &mut impl Judgement,
) {
    if !ready.snapshot.tasks[task].arm {
        judge.say(GateName::Arm, Met, Reason::NoArmNeeded);
    } else if ready.windows[excursion].arm.is_empty() {
        let what = Unknown::ArmWindows { excursion };
        judge.say(GateName::Arm, CannotTell, Reason::Unknown(what));
    } else if let Some(found) = found {
        let (closes, _) = closing(ready, excursion, found);
        inside(ready, GateName::Arm, found, (closes, found.inside.arm), judge);
    } else {
        judge.say(GateName::Arm, CannotTell, Reason::NoPlace);
    }
}

pub(in crate::fit) fn lighting(
    ready: &Ready,
    task: TaskAt,
    excursion: ExcursionAt,
    found: Option<&Found>,
    judge: &mut impl Judgement,
) {
    let mut say = |verdict, reason| judge.say(GateName::Lighting, verdict, reason);
    let windows = &ready.windows[excursion];
    let none = match ready.snapshot.tasks[task].lighting {
        None | Some(LightNeed::Any) => return say(Met, Reason::AnyLight),
        Some(LightNeed::DaylightOnly) => windows.days.is_empty(),
        Some(LightNeed::NightOnly) => windows.nights.is_empty(),
    };
    let here = &ready.snapshot.excursions[excursion];
    let at = excursion;
    match orbit(here) {
        None => {
            for (missing, what) in [
                (here.orbit.altitude.is_none(), Unknown::Altitude { excursion: at }),
                (here.orbit.beta.is_none(), Unknown::Beta { excursion: at }),
                (here.orbit.first_sunrise.is_none(), Unknown::FirstSunrise { excursion: at }),
            ] {
                if missing {
                    say(CannotTell, Reason::Unknown(what));
                }
            }
        }
        Some(orbit) if orbit.near_critical(ready.constants.near_critical_beta) => {
            say(CannotTell, Reason::NearCriticalBeta { excursion: at });
        }
        Some(_) if none => say(NotMet, Reason::NoSuchLight),
        Some(_) => match found {
            Some(found) => {
                let (_, closes) = closing(ready, excursion, found);
                inside(ready, GateName::Lighting, found, (closes, found.inside.light), judge);
            }
            None => say(CannotTell, Reason::NoPlace),
        },
    }
}

fn closing(ready: &Ready, excursion: ExcursionAt, found: &Found) -> (Option<f64>, Option<f64>) {
    let (arm, light) = (found.stop.arm, found.stop.light);
    debug_assert!(arm || light != Light::Any);
    ready.windows[excursion].closes(arm, light, found.own.start)
}

/// The chance that the work ends before its window closes.
fn inside(
    ready: &Ready,
    gate: GateName,
    found: &Found,
    (closes, chance): (Option<f64>, f64),
    judge: &mut impl Judgement,
) {
    let figures = WindowFigures {
        start: up(found.own.start),
        end: up(found.own.end),
        closes: closes.map_or(0, down),
        chance: narrow(chance),
    };
    let verdict = ready.constants.by_chance(chance);
    judge.say(gate, verdict, Reason::Window(figures));
    bounds(ready, gate, verdict, judge);
}
