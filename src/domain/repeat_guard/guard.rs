//! The record of one family, laid out once so that many units and approaches can be judged by it.

use std::cell::LazyCell;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::ops::ControlFlow;

use super::judgement::SISTERS_THAT_BLOCK;
use super::numbered::{Numbered, Numbers};
use super::{Against, Answer, Approach, Judgement, Record, Tells, Try, UnitKey, tells};
use crate::codes::{AttemptCode, TaskCode};
use crate::history::{Place, places};
use crate::words::{Outcome, Reach, RemedyState, Scope};

/// A try with what is compared of it again and again.
#[derive(Debug, Clone, Copy)]
pub(super) struct Weighed<'a> {
    pub tried: &'a Try,
    pub tells: Tells,
    unit: Numbered,
}

/// Tries of one approach, in the order of the record.
type ByApproach<'a> = BTreeMap<&'a Approach, Vec<Weighed<'a>>>;

/// Judges approaches by everything that was tried on a family.
#[derive(Debug)]
pub struct Guard<'a> {
    /// Failures that no remedy answers for every unit, by approach.
    failures: BTreeMap<&'a Approach, Vec<Failed<'a>>>,
    /// As they happened.
    dones: BTreeMap<&'a Approach, Vec<Done<'a>>>,
    /// Every try, by approach: what the approaches that are left are ranked by.
    tries: ByApproach<'a>,
    exempt: BTreeMap<&'a TaskCode, BTreeSet<&'a AttemptCode>>,
    /// Every try by its code, with its number in the record.
    known: HashMap<&'a AttemptCode, (usize, &'a Try)>,
    /// The failures, in the order of the record.
    failed: Vec<Weighed<'a>>,
    numbers: Numbers<'a>,
}

#[derive(Debug, Clone, Copy)]
struct Done<'a> {
    place: Place,
    tried: &'a Try,
    unit: Numbered,
}

/// Against what a failure counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Counts {
    Here,
    OnSister,
    /// Nobody knows whether it was this approach.
    Unclear,
}

#[derive(Debug)]
struct Failed<'a> {
    place: Place,
    tried: &'a Try,
    unit: Numbered,
    /// The tries whose units a verified remedy reaches that names this failure.
    answered_on: Vec<(&'a Try, Numbered)>,
}

impl<'a> Guard<'a> {
    /// Source: MIL-STD-2155(AS), foreword, 1985: a failure is closed once its corrective action is
    /// implemented and verified to prevent recurrence; a remedy that is only done answers nothing.
    pub fn new(record: Record<'a>) -> Self {
        let whens: Vec<_> = record.tries.iter().map(|tried| &tried.when).collect();
        let numbered = record.tries.iter().enumerate();
        let known: HashMap<&AttemptCode, (usize, &Try)> =
            numbered.map(|(number, tried)| (&tried.attempt, (number, tried))).collect();
        let mut answers: BTreeMap<&AttemptCode, Vec<&Answer>> = BTreeMap::new();
        for answer in record.answers.iter().filter(|a| a.state == RemedyState::Verified) {
            for attempt in &answer.attempts {
                answers.entry(attempt).or_default().push(answer);
            }
        }
        let mut exempt: BTreeMap<_, BTreeSet<_>> = BTreeMap::new();
        for exemption in record.exempt.iter().filter(|exemption| exemption.reviewed) {
            exempt.entry(&exemption.task).or_default().extend(&exemption.attempts);
        }
        let mut failures: BTreeMap<_, Vec<_>> = BTreeMap::new();
        let mut dones: BTreeMap<_, Vec<_>> = BTreeMap::new();
        let mut tries = ByApproach::new();
        let mut all_failed = Vec::new();
        let (numbers, units) = Numbers::of(record.tries);
        let placed = places(&whens, |_| true).into_iter().zip(units);
        for ((place, unit), tried) in placed.zip(record.tries) {
            let tells = tells(&tried.account);
            let weighed = Weighed { tried, tells, unit };
            tries.entry(&tried.approach).or_default().push(weighed);
            if tried.account.outcome == Outcome::Done {
                dones.entry(&tried.approach).or_default().push(Done { place, tried, unit });
            }
            if tells != Tells::Failure {
                continue;
            }
            all_failed.push(weighed);
            let answers = answers.get(&tried.attempt).map_or(&[][..], Vec::as_slice);
            if answers.iter().all(|answer| answer.reach != Reach::EveryUnit) {
                let named = answers.iter().flat_map(|answer| &answer.attempts);
                let named = named.filter_map(|code| Some(known.get(code)?.1));
                let answered_on = named.map(|on: &Try| (on, numbers.unit(&on.unit))).collect();
                let failed = Failed { place, tried, unit, answered_on };
                failures.entry(&tried.approach).or_default().push(failed);
            }
        }
        for all in dones.values_mut() {
            all.sort_by_key(|done| done.place);
        }
        Self { failures, dones, tries, exempt, known, failed: all_failed, numbers }
    }

    /// The tries that a remedy names, in the order of the record.
    pub fn named(&self, answer: &Answer) -> Vec<&'a Try> {
        let known = answer.attempts.iter().filter_map(|code| self.known.get(code).copied());
        let mut named: Vec<(usize, &Try)> = known.collect();
        named.sort_by_key(|(number, _)| *number);
        named.dedup_by_key(|(number, _)| *number);
        named.into_iter().map(|(_, tried)| tried).collect()
    }

    /// Whether a remedy reaches a unit: every unit, or one of those on which the attempts that it
    /// names were made.
    pub fn reaches(&self, answer: &Answer, unit: &UnitKey) -> bool {
        let on_it = |tried: &&Try| unit.is_the_unit_of(&tried.unit, tried.account.scope);
        answer.reach == Reach::EveryUnit || self.named(answer).iter().any(on_it)
    }

    /// Judges an approach for a unit.
    pub fn judge(&self, unit: &UnitKey, approach: &Approach) -> Judgement {
        self.against(unit, approach).judgement()
    }

    /// All failures that count against an approach on a unit, those too that decide nothing beside
    /// the others.
    pub fn against(&self, unit: &UnitKey, approach: &Approach) -> Against {
        self.against_without(unit, approach, None)
    }

    /// The same as if one attempt had not been made.
    pub(super) fn against_without(
        &self,
        unit: &UnitKey,
        approach: &Approach,
        without: Option<&AttemptCode>,
    ) -> Against {
        let (mut here, mut sisters, mut unclear) = (Vec::new(), Vec::new(), Vec::new());
        let _ = self.weigh(unit, approach, without, |counts, failed| {
            let counts = match counts {
                Counts::Here => &mut here,
                Counts::OnSister => &mut sisters,
                Counts::Unclear => &mut unclear,
            };
            counts.push((failed.place, &failed.tried.attempt));
            ControlFlow::Continue(())
        });
        let [here, sisters, unclear] = [here, sisters, unclear].map(in_order);
        Against { here, sisters, unclear }
    }

    /// Whether `judge` would say “in question”. It stops at the first failure that decides
    /// otherwise, which matters in a family of a thousand units.
    pub fn is_in_question(&self, unit: &UnitKey, approach: &Approach) -> bool {
        let mut sisters = 0;
        let decided = self.weigh(unit, approach, None, |counts, _| match counts {
            Counts::OnSister if sisters + 1 < SISTERS_THAT_BLOCK => {
                sisters += 1;
                ControlFlow::Continue(())
            }
            Counts::Here | Counts::Unclear | Counts::OnSister => ControlFlow::Break(()),
        });
        decided.is_continue() && sisters > 0
    }

    /// Whether `judge` would say “clear”: no failure counts. It stops at the first that does.
    pub fn is_clear(&self, unit: &UnitKey, approach: &Approach) -> bool {
        self.weigh(unit, approach, None, |_, _| ControlFlow::Break(())).is_continue()
    }

    /// The approaches that were tried, those alone that were fully recorded.
    pub fn tried(&self) -> impl Iterator<Item = &'a Approach> {
        self.tries.keys().copied().filter(|approach| approach.is_whole())
    }

    /// The tries of one approach, in the order of the record.
    pub(super) fn tries_by(&self, approach: &Approach) -> &[Weighed<'a>] {
        self.tries.get(approach).map_or(&[], Vec::as_slice)
    }

    /// Those of these tries that were made at another position than this unit's.
    pub(super) fn on_sisters<'g>(
        &self,
        unit: &UnitKey,
        tries: &'g [Weighed<'a>],
    ) -> impl Iterator<Item = &'g Weighed<'a>> {
        let unit = self.numbers.unit(unit);
        tries.iter().filter(move |other| !unit.is_the_unit_of(other.unit, None))
    }

    /// The failures of the same serial at another position, and of another serial at the same one, in
    /// the order of the record.
    pub(super) fn failed_before_a_move(&self, unit: &UnitKey) -> impl Iterator<Item = &'a Try> {
        let unit = self.numbers.unit(unit);
        let apart = self.failed.iter().filter(move |other| unit.was_moved_or_swapped(other.unit));
        apart.map(|other| other.tried)
    }

    /// The first `done` by each approach that was fully recorded: the one that was new then.
    pub fn first_dones(&self) -> impl Iterator<Item = (&'a Approach, &'a Try)> {
        let whole = self.dones.iter().filter(|(approach, _)| approach.is_whole());
        whole.filter_map(|(approach, dones)| Some((*approach, dones.first()?.tried)))
    }

    /// Goes through the failures that count for this approach on this unit, as if `without` had not
    /// been made.
    fn weigh<'g>(
        &'g self,
        unit: &UnitKey,
        approach: &Approach,
        without: Option<&AttemptCode>,
        mut each: impl FnMut(Counts, &'g Failed<'a>) -> ControlFlow<()>,
    ) -> ControlFlow<()> {
        let dones = self.dones.get(approach);
        let last_done = dones.and_then(|dones| dones.last()).map(|done| done.place);
        let own = self.numbers.unit(unit);
        let outlived = LazyCell::new(|| Outlived::new(own, dones, approach));
        let could_be = self.failures.iter().filter(|(by, _)| by.could_be(approach));
        for (by, failed) in could_be.flat_map(|(by, all)| all.iter().map(move |f| (*by, f))) {
            if without == Some(&failed.tried.attempt) {
                continue;
            }
            let scope = failed.tried.account.scope;
            let on_this_unit = own.is_the_unit_of(failed.unit, scope);
            let done_since = last_done.is_some_and(|done| done > failed.place);
            if (done_since && outlived.covers(failed, on_this_unit))
                || failed.is_answered_for(own, without)
            {
                continue;
            }
            let counts = match (on_this_unit, by.is(approach)) {
                (true, true) => Counts::Here,
                (false, _) if self.is_exempt(unit, failed) => continue,
                (false, true) => Counts::OnSister,
                (_, false) => Counts::Unclear,
            };
            each(counts, failed)?;
        }
        ControlFlow::Continue(())
    }

    fn is_exempt(&self, unit: &UnitKey, failed: &Failed<'_>) -> bool {
        self.exempt.get(&unit.task).is_some_and(|these| these.contains(&failed.tried.attempt))
    }
}

impl Failed<'_> {
    fn is_answered_for(&self, unit: Numbered, without: Option<&AttemptCode>) -> bool {
        let mut named = self.answered_on.iter().filter(|(on, _)| without != Some(&on.attempt));
        named.any(|(on, reached)| unit.is_the_unit_of(*reached, on.account.scope))
    }
}

/// When the approach was last `done`: on this unit for failures of this unit, on any sister for
/// failures of sisters. What is “this unit” hangs on the scope of the failure.
struct Outlived {
    by_serial: Latest,
    by_place: Latest,
}

#[derive(Default)]
struct Latest {
    here: Option<Place>,
    on_sisters: Option<Place>,
}

impl Outlived {
    fn new(unit: Numbered, dones: Option<&Vec<Done<'_>>>, approach: &Approach) -> Self {
        // A `done` by an approach that was not fully recorded is not known to be by this one.
        let dones = dones.filter(|_| approach.is_whole()).map_or(&[][..], Vec::as_slice);
        let latest = |scope| {
            let mut latest = Latest::default();
            for done in dones {
                let here = unit.is_the_unit_of(done.unit, scope);
                let last = if here { &mut latest.here } else { &mut latest.on_sisters };
                *last = (*last).max(Some(done.place));
            }
            latest
        };
        Self { by_serial: latest(Some(Scope::Hardware)), by_place: latest(None) }
    }

    fn covers(&self, failed: &Failed<'_>, on_this_unit: bool) -> bool {
        let by_serial = failed.tried.account.scope == Some(Scope::Hardware);
        let latest = if by_serial { &self.by_serial } else { &self.by_place };
        let done = if on_this_unit { latest.here } else { latest.on_sisters };
        done.is_some_and(|done| done > failed.place)
    }
}

fn in_order(mut counted: Vec<(Place, &AttemptCode)>) -> Vec<AttemptCode> {
    counted.sort();
    counted.into_iter().map(|(_, attempt)| attempt.clone()).collect()
}
