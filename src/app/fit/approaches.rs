//! The approaches of a task, with what the repeat guard and the record say of each.

use std::collections::HashMap;

use super::crews::Crews;
use super::load::three_point;
use crate::dossier::{Dossier, FamilyRecord};
use compute::fit::{self, ApproachAt, Guard as Verdict, RemedyAt, ToolAt};
use domain::codes::{AttemptCode, FamilyCode, TechniqueCode, ToolCode};
use domain::repeat_guard::{
    Against, Answer, Approach, Guard, Try, UnitKey, approaches_left, approaches_of,
};
use domain::sides::Side;
use domain::tasks::Task;
use domain::techniques::{Qualification, Rehearsal, Technique};
use domain::time::Day;
use domain::words::{Reach, RemedyState, TechniqueState};
use typed_index_collections::TiVec;

/// Builds the approaches of a task, with what the repeat guard says of each.
pub(super) struct Approaches<'a> {
    pub dossier: &'a Dossier,
    pub ways: &'a [Technique],
    pub tools: &'a HashMap<ToolCode, ToolAt>,
    pub rehearsals: &'a [Rehearsal],
    pub qualifications: &'a [Qualification],
    pub crews: &'a Crews,
}

pub(super) type Guards<'a> = HashMap<Option<FamilyCode>, Guard<'a>>;

impl<'a> Approaches<'a> {
    /// One guard per family, laid out once.
    pub(crate) fn guards(&self) -> Guards<'a> {
        let mut guards = HashMap::new();
        for opening in &self.dossier.events.openings {
            if opening.family.is_some()
                && let Some(record) = self.dossier.family_of(opening)
            {
                guards.entry(opening.family.clone()).or_insert_with(|| Guard::new(record.record()));
            }
        }
        guards
    }

    pub fn of(
        &mut self,
        task: &Task,
        guards: &Guards<'a>,
        slotted: &[Approach],
    ) -> TiVec<ApproachAt, fit::Approach> {
        let code = &task.code.0;
        let meant = |way: &&Technique| {
            way.task.as_ref() == Some(code) || (way.family.is_some() && way.family == task.family)
        };
        let techniques: Vec<&Technique> = self.ways.iter().filter(meant).collect();
        let listed: Vec<(TechniqueCode, Vec<Side>, TechniqueState)> =
            techniques.iter().map(|t| (t.code.0.clone(), t.sides.0.clone(), t.state)).collect();
        let candidates = approaches_of(&task.sides.0, &listed);
        let unit = self.dossier.unit_of(code);
        let opening = self.dossier.events.openings.iter().find(|o| o.task == *code);
        let empty = FamilyRecord::default();
        let own = opening.and_then(|opening| self.dossier.family_of(opening)).unwrap_or(&empty);
        let laid;
        let guard = if let Some(guard) = guards.get(&task.family) {
            guard
        } else {
            laid = Guard::new(own.record());
            &laid
        };
        let ranked = approaches_left(&unit, &candidates, guard);
        let mut order: Vec<Approach> = ranked.into_iter().map(|left| left.approach).collect();
        for approach in candidates.iter().chain(slotted) {
            if !order.contains(approach) {
                order.push(approach.clone());
            }
        }
        order
            .iter()
            .map(|approach| {
                let against = guard.against(&unit, approach);
                let technique =
                    techniques.iter().find(|t| Some(&t.code.0) == approach.technique.as_ref());
                self.described(approach, technique.copied(), against, (guard, own), &unit)
            })
            .collect()
    }

    fn described(
        &self,
        approach: &Approach,
        technique: Option<&Technique>,
        against: Against,
        (laid_out, family): (&Guard, &FamilyRecord),
        unit: &UnitKey,
    ) -> fit::Approach {
        let state = technique.map(|technique| technique.state);
        let drafted = state == Some(TechniqueState::Drafted);
        let guard = match state {
            Some(TechniqueState::Withdrawn) => Verdict::Withdrawn,
            _ => Verdict::of(&against.judgement(), drafted),
        };
        fit::Approach {
            technique: approach.technique.clone(),
            side: approach.side.clone(),
            guard,
            against,
            drafted,
            work: technique.and_then(|t| three_point(t.optimistic, t.likely, t.pessimistic)),
            seats: technique.and_then(|t| t.seats).and_then(|seats| usize::try_from(seats).ok()),
            tools: technique
                .map(|t| t.tools.iter().filter_map(|tool| self.tools.get(tool).copied()).collect())
                .unwrap_or_default(),
            remedies: remedies(approach, family, laid_out, unit),
            rehearsal_demanded: technique.is_some_and(|t| t.rehearsal_demanded),
            revision: technique.and_then(|t| t.revision),
            rehearsals: self
                .rehearsals
                .iter()
                .filter(|r| Some(&r.technique) == approach.technique.as_ref())
                .map(|r| fit::Rehearsal {
                    kind: r.kind,
                    success: r.success,
                    practice: practice(r.revision, r.side.as_ref(), r.day),
                })
                .collect(),
            may_pause: technique.is_some_and(|t| t.may_pause),
            training_demanded: technique.is_some_and(|t| t.training_demanded),
            qualifications: self
                .qualifications
                .iter()
                .filter(|q| Some(&q.technique) == approach.technique.as_ref())
                .filter_map(|q| {
                    let practice = practice(q.revision, q.side.as_ref(), q.day);
                    Some(fit::Qualification {
                        crew: self.crews.at(Some(q.crew.as_str()))?,
                        practice,
                    })
                })
                .collect(),
        }
    }
}

fn practice(revision: Option<i64>, side: Option<&Side>, day: Option<Day>) -> fit::Practice {
    fit::Practice { revision, side: side.cloned(), day }
}

/// The remedies on which another try of this approach rests: those that name a failure by it here,
/// or one on a sister while they reach every unit.
fn remedies(
    approach: &Approach,
    family: &FamilyRecord,
    guard: &Guard,
    unit: &UnitKey,
) -> TiVec<RemedyAt, fit::Remedy> {
    family
        .answers
        .iter()
        .filter(|answer| answer.state != RemedyState::Withdrawn)
        .filter(|answer| rests_on(answer, approach, guard, unit))
        .map(|answer| fit::Remedy {
            code: answer.remedy.clone(),
            state: answer.state,
            answers: resolved_here(answer, approach, guard, unit),
        })
        .collect()
}

fn rests_on(answer: &Answer, approach: &Approach, guard: &Guard, unit: &UnitKey) -> bool {
    let here = |tried: &Try| {
        answer.reach == Reach::EveryUnit || unit.is_the_unit_of(&tried.unit, tried.account.scope)
    };
    guard.named(answer).into_iter().any(|tried| tried.approach.is(approach) && here(tried))
}

/// The failures that a remedy resolves on this unit once it is verified, as the repeat guard
/// counts them.
fn resolved_here(
    answer: &Answer,
    approach: &Approach,
    guard: &Guard,
    unit: &UnitKey,
) -> Vec<AttemptCode> {
    if !guard.reaches(answer, unit) {
        return Vec::new();
    }
    let by_it = guard.named(answer).into_iter().filter(|tried| tried.approach.could_be(approach));
    by_it.map(|tried| tried.attempt.clone()).collect()
}
