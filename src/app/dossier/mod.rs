//! What the record knows of some tasks: their events for the history, the tries on their
//! families for the repeat guard. Read with a fixed number of queries, whatever the count.

use async_recursion::async_recursion as boxed;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use sqlx::SqliteConnection;

use crate::Failure;
use crate::calendar::Calendar;
use crate::left;
use domain::cells::{Cell, List};
use domain::codes::{AttemptCode, CauseCode, FamilyCode, PositionCode, TaskCode, UnitCode};
use domain::history::left::LeftBeforeAndAfter;
use domain::history::{AttemptEvent, DeferralEvent, Event, EventKind, Phase, SlotEvent};
use domain::repeat_guard::{
    Account, Answer, Approach, Exempt, Record, Try, UnitKey, deciding_cause, tells,
};
use domain::time::Moment;
use domain::words::{DeferralPhase, SlotState};
use store::history::Texts;
use store::{forms, history};

mod kept;

/// The tries that count together: those of a family, or of one task without a family.
#[derive(Debug, Clone, Default)]
pub struct FamilyRecord {
    pub tries: Vec<Try>,
    pub answers: Vec<Answer>,
    pub exempt: Vec<Exempt>,
    /// The tasks of the family with the units that stand there now.
    pub units: Vec<UnitKey>,
}

impl FamilyRecord {
    pub fn record(&self) -> Record<'_> {
        Record { tries: &self.tries, answers: &self.answers, exempt: &self.exempt }
    }
}

/// Records while they are laid out.
#[derive(Default)]
struct Laid {
    families: HashMap<FamilyCode, FamilyRecord>,
    alone: HashMap<TaskCode, FamilyRecord>,
}

impl Laid {
    fn record_of(&mut self, family: Option<&FamilyCode>, task: &TaskCode) -> &mut FamilyRecord {
        match family {
            Some(family) => self.families.entry(family.clone()).or_default(),
            None => self.alone.entry(task.clone()).or_default(),
        }
    }
}

/// Everything known of some tasks.
#[derive(Debug, Clone, Default)]
pub struct Dossier {
    pub calendar: Calendar,
    pub scopes: HashMap<CauseCode, history::CauseScope>,
    pub events: history::Events,
    families: HashMap<FamilyCode, Arc<FamilyRecord>>,
    alone: HashMap<TaskCode, FamilyRecord>,
    units: HashMap<TaskCode, UnitKey>,
    /// What was left around each attempt, of these tasks and of their sisters.
    left: HashMap<AttemptCode, LeftBeforeAndAfter>,
    nothing: FamilyRecord,
}

impl Dossier {
    /// Loads what is shown or judged. The records of families are kept for the next page, as long as
    /// nothing was saved since.
    #[boxed]
    pub async fn load(db: &mut SqliteConnection, tasks: &[TaskCode]) -> Result<Self, Failure> {
        let calendar = Calendar::load(db).await?;
        let mut dossier = Self::events_alone(db, calendar, tasks, Texts::Read).await?;
        let state = forms::state_read(db).await?;
        let known = state.as_ref().map(|state| kept::of(state, &dossier.families_named()));
        dossier.load_families(db, known.unwrap_or_default()).await?;
        if let Some(state) = state {
            kept::keep(state, &dossier.families);
        }
        Ok(dossier)
    }

    /// The events alone, without what the families' other tasks tell: enough for a list.
    #[boxed]
    pub(crate) async fn events_alone(
        db: &mut SqliteConnection,
        calendar: Calendar,
        tasks: &[TaskCode],
        texts: Texts,
    ) -> Result<Self, Failure> {
        let scopes: HashMap<_, _> = history::scopes(db).await?.into_iter().collect();
        let events = history::events_of(db, tasks, texts).await?;
        let left = left::of_attempts(&calendar, &events.attempts, &events.reopenings);
        Ok(Self { calendar, scopes, events, left, ..Self::default() })
    }

    /// Loads what is derived, from the rows themselves.
    #[boxed]
    pub(crate) async fn load_with(
        db: &mut SqliteConnection,
        calendar: Calendar,
        tasks: &[TaskCode],
    ) -> Result<Self, Failure> {
        let mut dossier = Self::events_alone(db, calendar, tasks, Texts::Read).await?;
        dossier.load_families(db, HashMap::new()).await?;
        Ok(dossier)
    }

    /// The record of the family to which a task belongs.
    pub fn family_of(&self, opening: &history::OpeningRow) -> Option<&FamilyRecord> {
        match &opening.family {
            Some(family) => self.families.get(family).map(Arc::as_ref),
            None => self.alone.get(&opening.task),
        }
    }

    /// The record of nothing tried.
    pub fn no_family(&self) -> &FamilyRecord {
        &self.nothing
    }

    /// The unit on which a task works, as it stands now.
    pub fn unit_of(&self, task: &TaskCode) -> UnitKey {
        self.units
            .get(task)
            .cloned()
            .unwrap_or_else(|| UnitKey { task: task.clone(), ..UnitKey::default() })
    }

    fn families_named(&self) -> Vec<FamilyCode> {
        let mut families: Vec<FamilyCode> =
            self.events.openings.iter().filter_map(|opening| opening.family.clone()).collect();
        families.sort_unstable();
        families.dedup();
        families
    }

    async fn load_families(
        &mut self,
        db: &mut SqliteConnection,
        known: HashMap<FamilyCode, Arc<FamilyRecord>>,
    ) -> Result<(), Failure> {
        let mut families = self.families_named();
        families.retain(|family| !known.contains_key(family));
        let sisters = history::tasks_of_families(db, &families).await?;
        let lone = self.events.openings.iter().filter(|opening| opening.family.is_none());
        let mut home: BTreeMap<TaskCode, (Option<FamilyCode>, Option<PositionCode>)> = sisters
            .into_iter()
            .map(|sister| (sister.task, (Some(sister.family), sister.position)))
            .collect();
        home.extend(lone.map(|o| (o.task.clone(), (None, o.position.clone()))));
        let tasks: Vec<TaskCode> = home.keys().cloned().collect();
        let positions: Vec<PositionCode> =
            home.values().filter_map(|(_, position)| position.clone()).collect();
        let standing: HashMap<PositionCode, UnitCode> =
            history::units_now(db, &positions).await?.into_iter().collect();
        let mut laid = Laid::default();
        for (task, (family, position)) in &home {
            let unit = position.as_ref().and_then(|position| standing.get(position).cloned());
            let key = UnitKey { task: task.clone(), unit, position: position.clone() };
            laid.record_of(family.as_ref(), task).units.push(key);
        }
        let tries = history::tries_of(db, &tasks).await?;
        let reopenings = history::reopenings_of(db, &tasks).await?;
        self.left.extend(left::of_attempts(&self.calendar, &tries, &reopenings));
        for tried in tries {
            let family = home.get(&tried.task).and_then(|(family, _)| family.clone());
            let made = self.a_try(&tried);
            laid.record_of(family.as_ref(), &tried.task).tries.push(made);
        }
        let of_attempt: HashMap<AttemptCode, TaskCode> = laid
            .families
            .values()
            .chain(laid.alone.values())
            .flat_map(|record| record.tries.iter())
            .map(|tried| (tried.attempt.clone(), tried.unit.task.clone()))
            .collect();
        for answering in history::answers_to(db, &tasks).await? {
            let Some(task) = of_attempt.get(&answering.attempt) else { continue };
            let family = home.get(task).and_then(|(family, _)| family.clone());
            let when = self.calendar.on_day(answering.verified_on, None, answering.entry);
            let answers = &mut laid.record_of(family.as_ref(), task).answers;
            match answers.iter_mut().find(|answer| answer.remedy == answering.remedy) {
                Some(answer) => answer.attempts.push(answering.attempt),
                None => answers.push(Answer {
                    remedy: answering.remedy,
                    attempts: vec![answering.attempt],
                    reach: answering.reach,
                    state: answering.state,
                    when,
                    technique: answering.technique,
                    revision: answering.revision,
                }),
            }
        }
        for exempted in history::exemptions_of(db, &tasks).await? {
            let family = home.get(&exempted.task).and_then(|(family, _)| family.clone());
            let attempts = List::<AttemptCode>::read(&exempted.attempts).unwrap_or_default();
            let exempt = Exempt {
                exemption: exempted.code,
                task: exempted.task.clone(),
                attempts: attempts.0,
                reviewed: exempted.is_reviewed,
            };
            laid.record_of(family.as_ref(), &exempted.task).exempt.push(exempt);
        }
        self.alone = laid.alone;
        self.families = known;
        self.families
            .extend(laid.families.into_iter().map(|(code, record)| (code, Arc::new(record))));
        let records = self.families.values().map(Arc::as_ref).chain(self.alone.values());
        self.units = records
            .flat_map(|record| &record.units)
            .map(|unit| (unit.task.clone(), unit.clone()))
            .collect();
        Ok(())
    }

    /// The cause that decides what an attempt tells.
    pub(crate) fn cause_of(tried: &history::AttemptRow) -> Option<&CauseCode> {
        let found = tried.found_cause.as_ref();
        found.or_else(|| deciding_cause(tried.cause.as_ref(), &[]))
    }

    pub fn account(&self, tried: &history::AttemptRow) -> Account {
        let deciding = Self::cause_of(tried).and_then(|cause| self.scopes.get(cause));
        Account {
            outcome: tried.outcome,
            added: self.left.get(&tried.code).and_then(|left| left.added(tried.said())),
            planned: tried.planned_share,
            scope: deciding.map(|cause| cause.scope),
            time_ran_out: deciding.is_some_and(|cause| cause.time_ran_out),
            minutes: tried.minutes,
            cut_off: tried.cut_off,
        }
    }

    /// What was left of its task around an attempt.
    pub fn left_around(&self, attempt: &AttemptCode) -> Option<&LeftBeforeAndAfter> {
        self.left.get(attempt)
    }

    fn a_try(&self, tried: &history::AttemptRow) -> Try {
        Try {
            attempt: tried.code.clone(),
            unit: UnitKey {
                task: tried.task.clone(),
                unit: tried.unit.clone(),
                position: tried.position.clone(),
            },
            approach: Approach { technique: tried.technique.clone(), side: tried.side.clone() },
            revision: tried.revision,
            when: self.calendar.on(&tried.excursion, Phase::During, tried.pet_start, tried.entry),
            account: self.account(tried),
        }
    }

    /// The events of one task, in no order; `history::standing` puts them into theirs.
    pub fn events_of(&self, opening: &history::OpeningRow) -> Vec<Event> {
        let task = &opening.task;
        let calendar = &self.calendar;
        let events = &self.events;
        let mut all = vec![Event {
            code: task.as_str().to_owned(),
            when: self.opened_when(opening),
            what: EventKind::Opened,
        }];
        all.extend(events.attempts_of(task).iter().map(|tried| Event {
            code: tried.code.as_str().to_owned(),
            when: calendar.on(&tried.excursion, Phase::During, tried.pet_start, tried.entry),
            what: EventKind::Attempt(AttemptEvent {
                outcome: tried.outcome,
                said: tried.said(),
                tells: tells(&self.account(tried)),
                cause: tried.found_cause.clone().or_else(|| tried.cause.clone()),
                slot: tried.slot.clone(),
                excursion: tried.excursion.clone(),
                flight: calendar.flight_of(&tried.excursion),
                imported: tried.slot.is_none() && tried.is_imported,
            }),
        }));
        all.extend(events.deferrals_of(task).iter().map(|put_off| {
            let phase = match put_off.phase {
                DeferralPhase::BeforeLaunch => Phase::BeforeLaunch,
                DeferralPhase::BeforeEgress => Phase::BeforeEgress,
                DeferralPhase::During => Phase::During,
            };
            Event {
                code: put_off.code.clone(),
                when: calendar.put_off(put_off, phase),
                what: EventKind::Deferral(DeferralEvent {
                    phase: put_off.phase,
                    reason: put_off.reason,
                    slot: put_off.slot.clone(),
                    excursion: put_off.excursion.clone(),
                    flight: calendar.flight_of(&put_off.excursion),
                }),
            }
        }));
        all.extend(events.closures_of(task).iter().map(|ended| Event {
            code: ended.code.clone(),
            when: calendar.on_day(ended.day, Some(ended.made_at), ended.entry),
            what: EventKind::Closure { kind: ended.kind },
        }));
        all.extend(events.parkings_of(task).iter().map(|turned| {
            let when = calendar.on_day(turned.day, Some(turned.made_at), turned.entry);
            Event { code: turned.code.clone(), when, what: EventKind::Parking }
        }));
        all.extend(events.reopenings_of(task).iter().map(|turned| {
            let share_left = turned.share_left.unwrap_or_default();
            let when = calendar.on_day(turned.day, Some(turned.made_at), turned.entry);
            Event { code: turned.code.clone(), when, what: EventKind::Reopening { share_left } }
        }));
        all.extend(events.slots_of(task).iter().map(|held| Event {
            code: held.code.as_str().to_owned(),
            when: calendar.on_day(held.set_at.map(Moment::day), held.set_at, held.entry),
            what: EventKind::Slot(self.held(held)),
        }));
        all.extend(events.moves_of(task).iter().map(|moved| Event {
            code: moved.slot.as_str().to_owned(),
            when: calendar.on_day(Some(moved.at.day()), Some(moved.at), moved.entry),
            what: EventKind::Move { from: moved.from.clone(), to: moved.to.clone() },
        }));
        all
    }

    fn opened_when(&self, opening: &history::OpeningRow) -> domain::history::When {
        let entry = opening.entry;
        if let Some(flight) = &opening.opened_after {
            return self.calendar.after_flight(flight, entry);
        }
        if let Some(excursion) = &opening.from_excursion {
            return self.calendar.on(excursion, Phase::After, None, entry);
        }
        self.calendar.on_day(opening.opened, None, entry)
    }

    fn held(&self, held: &history::SlotRow) -> SlotEvent {
        let flight = self.calendar.flight_of(&held.excursion);
        let launch = flight
            .as_ref()
            .and_then(|flight| self.calendar.rank(&flight.code))
            .and_then(|rank| self.calendar.flights[rank].launch);
        let was_set =
            held.set_at.is_some() || matches!(held.state, SlotState::Set | SlotState::Flown);
        let put_off_in_flight = self.events.deferrals_of(&held.task).iter().any(|put_off| {
            put_off.slot.as_ref() == Some(&held.code)
                && put_off.phase != DeferralPhase::BeforeLaunch
        });
        // A step that was dated when a file was imported does not tell when the slot was set.
        let first_set = held.first_set_at.filter(|_| held.set_on.is_some()).map(Moment::day);
        let stood = held.set_at.is_some() || held.state == SlotState::Set;
        // What was set after the launch was not taken up at launch, whatever followed in flight.
        let set_at_launch = match (launch, first_set, held.withdrawn_at) {
            (Some(launch), Some(set), _) if set > launch => false,
            _ if put_off_in_flight => true,
            (Some(launch), _, Some(withdrawn)) => stood && withdrawn.day() > launch,
            (None, _, Some(_)) => false,
            (_, _, None) => stood && held.state != SlotState::Withdrawn,
        };
        SlotEvent {
            slot: held.code.clone(),
            state: held.state,
            excursion: held.excursion.clone(),
            visit: self.calendar.visit(&held.excursion),
            flight,
            was_set,
            set_at_launch,
        }
    }
}
