//! Attempts like one, elsewhere in the record: each with why it is alike, how it ended and what
//! worked after. Read with a fixed number of queries over a bounded number of attempts.

use async_recursion::async_recursion as boxed;
use std::collections::{BTreeSet, HashMap, HashSet};

use sqlx::SqliteConnection;

use crate::Failure;
use crate::calendar::Calendar;
use domain::alike::{
    Likeness, Traits, is_of_the_same_unit, likeness, spellings, telling_words, too_common,
    worth_asking,
};
use domain::codes::{AttemptCode, ExcursionCode, FamilyCode, RemedyCode, TaskCode};
use domain::history::{Phase, Place, places};
use domain::repeat_guard::{Approach, Tells, UnitKey};
use domain::time::Day;
use domain::words::{Outcome, TaskState};
use store::alike::{self as rows, Candidate, RemedyAfter};
use store::history::{self, AttemptRow};
use store::standing;

/// So many are shown, one a task.
const SHOWN: usize = 6;
/// Records that the index ranks for one list.
const RANKED: i64 = 6_000;
/// Of the ranked records so many are looked at.
const BEST: i64 = 120;
/// Of the attempts with the same cause or approach, the newest so many.
const NEWEST: i64 = 60;

/// What attempts are compared with.
#[derive(Debug, Clone)]
pub enum ComparedWith {
    /// Failed attempts; the last one's approach counts.
    Attempts(Vec<AttemptCode>),
    /// A task at which nothing failed yet.
    Words { text: String, family: Option<FamilyCode>, unit: UnitKey },
}

/// An attempt that is like another one.
#[derive(Debug, Clone)]
pub struct SimilarAttempt {
    pub attempt: AttemptCode,
    pub task: TaskCode,
    pub title: String,
    pub family: Option<FamilyCode>,
    pub excursion: ExcursionCode,
    pub day: Option<Day>,
    pub outcome: Outcome,
    pub approach: Approach,
    pub cause: Option<String>,
    pub words: String,
    pub likeness: Likeness,
    /// How its task stands now.
    pub state: Option<TaskState>,
    pub worked: WhatWorked,
}

/// What worked after an attempt.
#[derive(Debug, Clone, Default)]
pub struct WhatWorked {
    /// The first `done` on that task after it.
    pub done: Option<Done>,
    /// Verified remedies that name it.
    pub remedies: Vec<Remedy>,
}

#[derive(Debug, Clone)]
pub struct Done {
    pub attempt: AttemptCode,
    pub excursion: ExcursionCode,
    pub approach: Approach,
}

#[derive(Debug, Clone)]
pub struct Remedy {
    pub code: RemedyCode,
    pub what: String,
    pub did_not_hold: bool,
}

/// The failure at a task that came last.
pub fn last_failure(calendar: &Calendar, tries: &[AttemptRow]) -> Option<AttemptCode> {
    let placed = placed(calendar, tries);
    let failures = tries.iter().zip(placed).filter(|(tried, _)| tried.told == Tells::Failure);
    failures.max_by_key(|(_, place)| *place).map(|(tried, _)| tried.code.clone())
}

/// The attempts most like these, best first.
#[boxed]
pub async fn read(
    db: &mut SqliteConnection,
    calendar: &Calendar,
    of: &ComparedWith,
) -> Result<Vec<SimilarAttempt>, Failure> {
    let (one, own) = source(db, of).await?;
    let (asked, ranked) = ranked(db, &one.words).await?;
    let same = rows::with_the_same(
        db,
        one.cause.as_ref(),
        one.technique.as_ref(),
        one.side.as_ref(),
        NEWEST,
    )
    .await?;
    let mut codes: BTreeSet<AttemptCode> = same.into_iter().collect();
    codes.extend(ranked.keys().cloned());
    let codes: Vec<AttemptCode> = codes.into_iter().collect();
    let mut found: Vec<(Likeness, Candidate)> = rows::candidates(db, &codes)
        .await?
        .into_iter()
        .filter(|other| !is_of_the_same_unit(&unit_of(other), &own))
        .filter_map(|other| {
            let share = ranked.get(&other.code).copied().unwrap_or(0.0);
            Some((likeness(&one, &traits_of(&other), &asked, share)?, other))
        })
        .collect();
    found.sort_by(|(a, one), (b, other)| {
        b.score.total_cmp(&a.score).then_with(|| other.code.cmp(&one.code))
    });
    let mut seen = HashSet::new();
    found.retain(|(_, other)| seen.insert(other.task.clone()));
    found.truncate(SHOWN);
    told(db, calendar, found).await
}

/// By what others are compared, and the units whose own tries are left out.
async fn source(
    db: &mut SqliteConnection,
    of: &ComparedWith,
) -> Result<(Traits, Vec<UnitKey>), Failure> {
    match of {
        ComparedWith::Attempts(codes) => {
            let attempts = rows::candidates(db, codes).await?;
            let own = attempts.iter().map(unit_of).collect();
            let mut one = attempts
                .iter()
                .max_by(|a, b| (a.day, &a.code).cmp(&(b.day, &b.code)))
                .map(traits_of)
                .unwrap_or_default();
            for attempt in &attempts {
                let other = traits_of(attempt);
                one.words.extend(other.words);
                one.tools.extend(other.tools);
            }
            Ok((one, own))
        }
        ComparedWith::Words { text, family, unit } => {
            let words = telling_words(text);
            Ok((Traits { words, family: family.clone(), ..Traits::default() }, vec![unit.clone()]))
        }
    }
}

/// The words that were asked for, the rarest first, and the attempts whose words are most alike, with their
/// rank as a share of the best.
async fn ranked(
    db: &mut SqliteConnection,
    words: &BTreeSet<String>,
) -> Result<(Vec<String>, HashMap<AttemptCode, f64>), Failure> {
    let ask = |word: &String| {
        let [one, other] = spellings(word);
        format!("{{title words}} : (\"{one}\" OR \"{other}\")")
    };
    let asks: Vec<String> = words.iter().map(ask).collect();
    let common = too_common(rows::last_entry(db).await?);
    let counted = rows::counts(db, &asks, common + 1).await?;
    let counted = words.iter().cloned().zip(counted).filter(|(_, count)| *count <= common);
    let worth = worth_asking(counted.collect(), RANKED);
    if worth.is_empty() {
        return Ok((worth, HashMap::new()));
    }
    let asked: Vec<String> = worth.iter().map(ask).collect();
    let best = rows::best(db, &asked.join(" OR "), BEST).await?;
    let highest = best.first().map_or(0.0, |ranked| ranked.rank);
    let entries: Vec<i64> = best.iter().map(|ranked| ranked.entry).collect();
    let mut shares: HashMap<AttemptCode, f64> = HashMap::new();
    for (place, attempt) in rows::attempts_of(db, &entries).await? {
        let rank = best.get(place).map_or(0.0, |ranked| ranked.rank);
        let share = if highest > 0.0 { rank / highest } else { 0.0 };
        let known = shares.entry(attempt).or_default();
        *known = known.max(share);
    }
    Ok((worth, shares))
}

/// With how each ended and what worked after.
async fn told(
    db: &mut SqliteConnection,
    calendar: &Calendar,
    found: Vec<(Likeness, Candidate)>,
) -> Result<Vec<SimilarAttempt>, Failure> {
    let tasks: Vec<TaskCode> = found.iter().map(|(_, other)| other.task.clone()).collect();
    let attempts: Vec<AttemptCode> = found.iter().map(|(_, other)| other.code.clone()).collect();
    let tries = history::tries_of(db, &tasks).await?;
    let cured = rows::verified_remedies(db, &attempts).await?;
    let states: HashMap<TaskCode, TaskState> = standing::these(db, &tasks)
        .await?
        .into_iter()
        .map(|row| (row.task.clone(), row.state))
        .collect();
    let placed = placed(calendar, &tries);
    Ok(found
        .into_iter()
        .map(|(likeness, other)| {
            let worked = WhatWorked {
                done: done_after(&tries, &placed, &other),
                remedies: remedies_of(&cured, &other.code),
            };
            like(likeness, other, &states, worked)
        })
        .collect())
}

fn like(
    likeness: Likeness,
    other: Candidate,
    states: &HashMap<TaskCode, TaskState>,
    worked: WhatWorked,
) -> SimilarAttempt {
    SimilarAttempt {
        state: states.get(&other.task).copied(),
        approach: Approach { technique: other.technique, side: other.side },
        attempt: other.code,
        task: other.task,
        title: other.title,
        family: other.family,
        excursion: other.excursion,
        day: other.day,
        outcome: other.outcome,
        cause: other.cause_words,
        words: other.words,
        likeness,
        worked,
    }
}

fn done_after(tries: &[AttemptRow], placed: &[Place], other: &Candidate) -> Option<Done> {
    let of_task = || tries.iter().zip(placed).filter(|(tried, _)| tried.task == other.task);
    let (_, since) = of_task().find(|(tried, _)| tried.code == other.code)?;
    of_task()
        .filter(|(tried, place)| tried.outcome == Outcome::Done && *place > since)
        .min_by_key(|(_, place)| **place)
        .map(|(tried, _)| Done {
            attempt: tried.code.clone(),
            excursion: tried.excursion.clone(),
            approach: Approach { technique: tried.technique.clone(), side: tried.side.clone() },
        })
}

fn remedies_of(cured: &[RemedyAfter], attempt: &AttemptCode) -> Vec<Remedy> {
    cured
        .iter()
        .filter(|cured| cured.attempt == *attempt)
        .map(|cured| Remedy {
            code: cured.remedy.clone(),
            what: cured.what.clone(),
            did_not_hold: cured.did_not_hold,
        })
        .collect()
}

fn placed(calendar: &Calendar, tries: &[AttemptRow]) -> Vec<Place> {
    let whens: Vec<_> = tries
        .iter()
        .map(|tried| calendar.on(&tried.excursion, Phase::During, tried.pet_start, tried.entry))
        .collect();
    places(&whens.iter().collect::<Vec<_>>(), |_| true)
}

fn unit_of(attempt: &Candidate) -> UnitKey {
    UnitKey {
        task: attempt.task.clone(),
        unit: attempt.unit.clone(),
        position: attempt.position.clone(),
    }
}

fn traits_of(attempt: &Candidate) -> Traits {
    let texts = [
        attempt.title.as_str(),
        &attempt.words,
        &attempt.as_left,
        attempt.last_step.as_deref().unwrap_or(""),
        attempt.found.as_deref().unwrap_or(""),
    ];
    Traits {
        cause: attempt.cause.clone(),
        cause_group: attempt.cause_group.clone(),
        technique: attempt.technique.clone(),
        side: attempt.side.clone(),
        tools: attempt.tools.iter().cloned().collect(),
        family: attempt.family.clone(),
        words: telling_words(&texts.join("\n")),
    }
}
