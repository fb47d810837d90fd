//! Looks for the place of a task in a plan, and holds the checks against it.

use super::Question;
use crate::fit::gates;
use crate::fit::place::{
    Base, Candidate, Found, Grade, Graded, NoPlace, Search, Searched, Wanted, up,
};
use crate::fit::ready::{Held, Plan, Ready, in_the_way};
use crate::fit::reasons::Reason;
use crate::fit::verdict::{Gates, Judgement, Marks};
use crate::places::{ExcursionAt, TaskAt, ToolAt};
use domain::words::GateVerdict::{CannotTell, Met, NotChecked, NotMet, Note, Tight};
use domain::words::{GateName, GateVerdict};

/// A task with the plan in which it is looked for.
pub(super) struct Looked<'a, 's> {
    pub ready: &'a Ready<'s>,
    pub plan: &'a Plan,
    pub base: &'a Base,
    pub candidate: &'a Candidate,
    pub asked: &'a Question<'a>,
}

/// Where the earliest end is tight by more than this, a later one is not looked for.
const NEAR: f64 = 0.1;

impl Looked<'_, '_> {
    /// The best place; where a check fails there, the best of all that pass. `refused` are the
    /// checks that fail wherever it goes: with one of them no place is looked for that is more
    /// than tight. Where nobody reads more than what decides, `brief`, time alone is enough of an
    /// answer where it is hopeless.
    pub fn find(
        &self,
        search: &mut Search,
        refused: Gates,
        brief: bool,
    ) -> Result<Searched, NoPlace> {
        let Self { ready, plan, base, candidate, .. } = *self;
        let mut enough = Some(if refused.is_empty() { Grade::Passes } else { Grade::Tight });
        let (mut rival, mut shown) = (None, None);
        if !base.tied && !candidate.brings_in && base.passed_on == 0 {
            let found = search.best(ready, plan, base, candidate)?;
            if self.clash(&found) {
                rival = self.rival(&found);
            } else {
                let hopeless = self.time_grade(found.place.chance) == Grade::Fails
                    && candidate.is_late_everywhere(ready, plan, base);
                let mut everywhere = refused;
                if hopeless && brief {
                    everywhere.add(GateName::Time);
                    return Ok(Searched { found, everywhere, elsewhere: Vec::new() });
                }
                if !hopeless && self.is_enough(&found, refused, enough) {
                    return Ok(Searched { found, everywhere, elsewhere: Vec::new() });
                }
                if hopeless {
                    (enough, shown) = (None, Some(found));
                }
            }
        }
        let grade = |found: &Found, everywhere: Gates| self.grade(found, refused, everywhere);
        let wanted = Wanted { enough, brief };
        let mut searched = search.complete((ready, plan), base, candidate, wanted, grade)?;
        if let Some(found) = shown {
            searched.found = found;
        }
        if searched.found.waits_for.is_none() && !searched.everywhere.is_empty() {
            // With one more of the tool the first place would do.
            searched.found.waits_for = rival;
        }
        Ok(searched)
    }

    /// Whether the place that ends earliest is good enough, so that no other is looked for.
    fn is_enough(&self, found: &Found, refused: Gates, enough: Option<Grade>) -> bool {
        let chance = found.place.chance;
        // Time that is far from met there is not met anywhere.
        let far = self.time_grade(chance) == Grade::Tight
            && chance < self.ready.constants.met_from - NEAR;
        let is = if far {
            self.checks_grade(found, refused)
        } else {
            self.grade(found, refused, Gates::default()).grade
        };
        enough.is_some_and(|enough| is <= enough)
    }

    /// Whether it or what it moves would have to wait for a tool.
    fn clash(&self, found: &Found) -> bool {
        let Self { ready, plan, base, candidate, .. } = *self;
        if plan.sequence.uses.is_empty() {
            return false;
        }
        let uses = plan.sequence.uses_with(found.position, &candidate.tools);
        let twice = |&(tool, at): &(ToolAt, usize)| {
            uses.iter().any(|&(other, place)| other == tool && place != at)
        };
        uses.iter().any(twice) && ready.clash(&uses, found.blocks(ready, plan, base, candidate))
    }

    /// A tool that the task would hold, and a task that holds it meanwhile.
    fn rival(&self, found: &Found) -> Option<(ToolAt, TaskAt)> {
        let Self { ready, plan, base, candidate, .. } = *self;
        let blocks = found.blocks(ready, plan, base, candidate);
        candidate.tools.iter().find_map(|&tool| {
            let uses = plan.sequence.uses.iter().filter(|(other, _)| *other == tool);
            let held = uses.map(|&(_, place)| {
                let block = &blocks[place + usize::from(place >= found.position)];
                Held { place, from: block.start, until: block.end }
            });
            let count = ready.count_of(tool);
            let first = in_the_way(count, &held, found.own.start, found.own.end)?;
            Some((tool, ready.task_of(plan, first.place)))
        })
    }

    fn time_grade(&self, chance: f64) -> Grade {
        match self.ready.constants.by_chance(chance) {
            NotMet | CannotTell => Grade::Fails,
            Tight => Grade::Tight,
            Met | Note | NotChecked => Grade::Passes,
        }
    }

    /// What the checks say of a place that may say otherwise of another. What takes long is left
    /// out where it decides nothing: whether it fails everywhere does not hang on it.
    fn grade(&self, found: &Found, refused: Gates, everywhere: Gates) -> Graded {
        let mut marks = Marks::default();
        let time = self.time_grade(found.place.chance);
        if time == Grade::Fails {
            marks.not_met.add(GateName::Time);
        }
        self.checks_told_at_once(found, &mut marks);
        let fails = !marks.not_met.without(refused).is_empty();
        if !fails || everywhere.has(GateName::Supplies) {
            self.checks_on_all(found, &mut marks);
        }
        let grade = marked(&marks, refused).max(time);
        Graded { grade, fails: marks.not_met }
    }

    /// The same, the chance to end in time left out.
    fn checks_grade(&self, found: &Found, refused: Gates) -> Grade {
        let mut marks = Marks::default();
        self.checks_told_at_once(found, &mut marks);
        self.checks_on_all(found, &mut marks);
        marked(&marks, refused)
    }

    /// The checks that rest on the place in the lanes and are told at once.
    fn checks_told_at_once(&self, found: &Found, judge: &mut impl Judgement) {
        let Question { task, excursion, approach, .. } = *self.asked;
        let ready = self.ready;
        gates::arm(ready, task, excursion, Some(found), judge);
        gates::lighting(ready, task, excursion, Some(found), judge);
        gates::inhibits(ready, task, excursion, Some(found), judge);
        let lanes = Some(found.stop.lanes);
        gates::trained(ready, task, approach, excursion, lanes, judge);
        let fallbacks = self.asked.fallbacks(ready);
        gates::fallbacks_trained(ready, task, fallbacks, excursion, lanes, judge);
    }

    /// The checks that look at all stops of the plan.
    fn checks_on_all(&self, found: &Found, judge: &mut impl Judgement) {
        let Self { ready, plan, base, candidate, .. } = *self;
        gates::pushes(ready, plan, base, candidate, found, judge);
        gates::supplies(ready, plan, base, candidate, found, judge);
    }

    /// Says what the checks say of the place that is shown. Where nobody reads more than what
    /// decides, `brief`, supplies are not asked about that cannot decide.
    pub fn tell(&self, searched: &Searched, brief: bool, judge: &mut impl Judgement) {
        let Self { ready, plan, base, candidate, .. } = *self;
        let Question { task, excursion, .. } = *self.asked;
        let found = &searched.found;
        let mut shown = Shown { searched, excursion, judge: &mut *judge };
        self.checks_told_at_once(found, &mut shown);
        gates::pushes(ready, plan, base, candidate, found, &mut shown);
        let verdict = ready.constants.on_time(&found.figures);
        shown.say(GateName::Time, verdict, Reason::Time(found.figures));
        gates::bounds(ready, GateName::Time, verdict, &mut shown);
        if let Some(begin) = found.place.begin.filter(|_| candidate.begin.is_none()) {
            shown.say(GateName::Time, Note, Reason::BeginsNoEarlier { start: up(begin) });
        }
        let decided = shown.not_met().each().any(|gate| gate < GateName::Supplies);
        if !(brief && decided) {
            gates::supplies(ready, plan, base, candidate, found, &mut shown);
        }
        if verdict != NotMet || !shown.fails_everywhere(GateName::Time) {
            return;
        }
        gates::late_inhibits(self.ready, task, excursion, found, judge);
        if let Some((tool, task)) = found.waits_for {
            let reason = Reason::ToolInOtherHands { tool, task };
            judge.say(GateName::Tools, NotMet, reason);
        }
    }
}

/// Tells a judgement of the place that is shown where no place passes: a check counts as not met
/// that fails everywhere. One that fails here and holds at another place is a note, unless none
/// fails everywhere.
struct Shown<'a, J> {
    searched: &'a Searched,
    excursion: ExcursionAt,
    judge: &'a mut J,
}

impl<J: Judgement> Shown<'_, J> {
    fn fails_everywhere(&self, gate: GateName) -> bool {
        let everywhere = self.searched.everywhere;
        everywhere.is_empty() || everywhere.has(gate)
    }
}

impl<J: Judgement> Judgement for Shown<'_, J> {
    fn not_met(&self) -> Gates {
        self.judge.not_met()
    }

    fn wants_figures(&self) -> bool {
        self.judge.wants_figures()
    }

    fn say(&mut self, gate: GateName, verdict: GateVerdict, reason: Reason) {
        if verdict != NotMet {
            self.judge.say(gate, verdict, reason);
            return;
        }
        let verdict = if self.fails_everywhere(gate) { NotMet } else { Note };
        self.judge.say(gate, verdict, reason);
        let holds = self.searched.elsewhere.iter().find(|(other, ..)| *other == gate);
        if let Some(&(_, lanes, start)) = holds {
            let (excursion, start) = (self.excursion, up(start));
            self.judge.say(gate, verdict, Reason::HoldsElsewhere { excursion, lanes, start });
        }
    }
}

/// The grade that marks give, where those fail that fail anyway.
fn marked(marks: &Marks, refused: Gates) -> Grade {
    let elsewhere = [GateName::Arm, GateName::Lighting, GateName::Supplies, GateName::Time];
    if !marks.not_met.without(refused).is_empty() {
        Grade::Fails
    } else if elsewhere.into_iter().any(|gate| marks.tight.has(gate)) {
        Grade::Tight
    } else {
        Grade::Passes
    }
}
