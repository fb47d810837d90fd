//! The approaches that follow where the first one does not work: each is held against the same
//! checks as the first. What a check says of one that holds is left out.

use super::{approach, rehearsal, remedies, seats, small, tools, trained};
use crate::fit::ready::Ready;
use crate::fit::reasons::{OfFallback, Reason};
use crate::fit::snapshot::Fallback;
use crate::fit::verdict::{Gates, Judgement};
use crate::places::{ApproachAt, ExcursionAt, TaskAt};
use crate::timeline::Lanes;
use domain::words::GateVerdict::{Met, NotMet};
use domain::words::{GateName, GateVerdict};

/// Seats, approach, tools, remedies and rehearsal of every fallback. `chosen` seats; none where
/// nobody chose any.
pub(in crate::fit) fn fallbacks(
    ready: &Ready,
    task: TaskAt,
    excursion: ExcursionAt,
    (fallbacks, chosen): (&[Fallback], usize),
    judge: &mut impl Judgement,
) {
    for at in fallbacks.iter().filter_map(|then| then.approach) {
        let by = &ready.snapshot.tasks[task].approaches[at];
        let mut of = FallbackJudgement { approach: at, excursion, judge: &mut *judge };
        seats(ready, task, Some(at), excursion, &mut of);
        let takes = super::seats_taken(ready, task, Some(at)).unwrap_or(1);
        if chosen > 0 && takes > chosen {
            let reason = Reason::SeatsChosen { takes: small(takes), chosen: small(chosen) };
            of.say(GateName::Seats, NotMet, reason);
        }
        approach(ready, task, Some(at), &mut of);
        tools(ready, Some(by), excursion, &mut of);
        remedies(Some((at, by)), &mut of);
        rehearsal(ready, task, Some(at), excursion, &mut of);
    }
}

/// Whether who sits in those seats is trained in every fallback.
pub(in crate::fit) fn fallbacks_trained(
    ready: &Ready,
    task: TaskAt,
    fallbacks: &[Fallback],
    excursion: ExcursionAt,
    lanes: Option<Lanes>,
    judge: &mut impl Judgement,
) {
    for at in fallbacks.iter().filter_map(|then| then.approach) {
        let mut of = FallbackJudgement { approach: at, excursion, judge: &mut *judge };
        trained(ready, task, Some(at), excursion, lanes, &mut of);
    }
}

/// Says of a fallback what a check says of an approach.
struct FallbackJudgement<'a, J> {
    approach: ApproachAt,
    excursion: ExcursionAt,
    judge: &'a mut J,
}

impl<J: Judgement> Judgement for FallbackJudgement<'_, J> {
    fn not_met(&self) -> Gates {
        self.judge.not_met()
    }

    fn wants_figures(&self) -> bool {
        self.judge.wants_figures()
    }

    fn say(&mut self, gate: GateName, verdict: GateVerdict, reason: Reason) {
        if verdict != Met {
            let of = OfFallback::of(reason, self.excursion);
            let approach = self.approach;
            let reason = of.map_or(reason, |of| Reason::OfFallback { approach, of });
            self.judge.say(gate, verdict, reason);
        }
    }
}
