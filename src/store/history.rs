//! What happened to many tasks at once, in a fixed number of queries. Each is read from its task
//! on (`CROSS JOIN` keeps that order): from the register on, it would walk every record of a kind.

mod guard;

pub use guard::{
    CauseScope, ExemptionRow, NamedByRemedy, SisterTask, answers_to, exemptions_of, scopes,
    tasks_of_families, units_now,
};

use sqlx::SqliteConnection;

use crate::{StoreError, json_array};
use domain::codes::{
    AttemptCode, CauseCode, ExcursionCode, FamilyCode, FlightCode, PositionCode, SlotCode,
    TaskCode, TechniqueCode, UnitCode,
};
use domain::history::StatedAmount;
use domain::repeat_guard::Tells;
use domain::sides::Side;
use domain::time::{Day, Moment};
use domain::units::{Minutes, Pet, Share};
use domain::words::{ClosureKind, DeferralPhase, DeferralReason, Outcome, SlotState};

/// A task with what its standing is derived from beside its events.
#[derive(Debug, Clone)]
pub struct OpeningRow {
    pub task: TaskCode,
    pub entry: i64,
    pub title: String,
    pub notes: String,
    pub family: Option<FamilyCode>,
    pub position: Option<PositionCode>,
    pub worksite: Option<String>,
    pub class: Option<String>,
    pub sides: String,
    pub needed_by_flight: Option<FlightCode>,
    pub needed_by_day: Option<Day>,
    pub opened: Option<Day>,
    pub opened_after: Option<FlightCode>,
    pub from_excursion: Option<ExcursionCode>,
    pub triggered: bool,
}

/// An attempt as history and repeat guard see it.
#[derive(Debug, Clone)]
pub struct AttemptRow {
    pub code: AttemptCode,
    pub entry: i64,
    pub task: TaskCode,
    pub excursion: ExcursionCode,
    pub slot: Option<SlotCode>,
    pub technique: Option<TechniqueCode>,
    pub revision: Option<i64>,
    pub side: Option<Side>,
    pub pet_start: Option<Pet>,
    pub pet_end: Option<Pet>,
    pub minutes: Option<Minutes>,
    pub outcome: Outcome,
    pub left_after: Option<Share>,
    pub share: Option<Share>,
    pub planned_share: Option<Share>,
    pub cause: Option<CauseCode>,
    pub words: String,
    pub as_left: String,
    pub unit: Option<UnitCode>,
    pub position: Option<PositionCode>,
    pub cut_off: Option<Minutes>,
    /// Came in from a file.
    pub is_imported: bool,
    /// The main cause of the last reviewed finding on it.
    pub found_cause: Option<CauseCode>,
    /// Some finding names it, reviewed or not.
    pub has_finding: bool,
    /// What is stored of what it tells.
    pub told: Tells,
    pub told_cause: Option<CauseCode>,
    pub unexplained: bool,
}

impl AttemptRow {
    /// What it says about the amount of work.
    pub fn said(&self) -> Option<StatedAmount> {
        StatedAmount::of(self.left_after, self.share)
    }
}

#[derive(Debug, Clone)]
pub struct DeferralRow {
    pub code: String,
    pub entry: i64,
    pub task: TaskCode,
    pub excursion: ExcursionCode,
    pub slot: Option<SlotCode>,
    pub phase: DeferralPhase,
    pub reason: DeferralReason,
    pub words: String,
    pub day: Option<Day>,
    pub made_at: Moment,
}

#[derive(Debug, Clone)]
pub struct ClosureRow {
    pub code: String,
    pub entry: i64,
    pub task: TaskCode,
    pub kind: ClosureKind,
    pub words: String,
    pub day: Option<Day>,
    pub made_at: Moment,
}

/// A parking or a reopening; the share is a reopening's.
#[derive(Debug, Clone)]
pub struct ParkingOrReopening {
    pub code: String,
    pub entry: i64,
    pub task: TaskCode,
    pub words: String,
    pub day: Option<Day>,
    pub made_at: Moment,
    pub share_left: Option<Share>,
}

/// A slot with the steps that matter: when it was set, when it was withdrawn.
#[derive(Debug, Clone)]
pub struct SlotRow {
    pub code: SlotCode,
    pub entry: i64,
    pub task: TaskCode,
    pub excursion: ExcursionCode,
    pub technique: Option<TechniqueCode>,
    pub side: Option<Side>,
    pub state: SlotState,
    /// `None`: all that is left.
    pub share: Option<Share>,
    /// The day on which it was set, as it was entered; a file may not know it.
    pub set_on: Option<Day>,
    /// The first and the last time: a result that is withdrawn sets its slot again.
    pub first_set_at: Option<Moment>,
    pub set_at: Option<Moment>,
    /// The first time.
    pub withdrawn_at: Option<Moment>,
    /// The verdict of its worst gate when it was set: a word of `SlotVerdict`'s making.
    pub worst_gate: Option<String>,
}

/// A set slot that moved to an earlier excursion.
#[derive(Debug, Clone)]
pub struct MoveRow {
    pub slot: SlotCode,
    pub entry: i64,
    pub task: TaskCode,
    pub from: ExcursionCode,
    pub to: ExcursionCode,
    pub at: Moment,
    pub who: String,
    pub why: Option<String>,
}

/// Everything that happened to some tasks, each list by task.
#[derive(Debug, Clone, Default)]
pub struct Events {
    pub openings: Vec<OpeningRow>,
    pub attempts: Vec<AttemptRow>,
    pub deferrals: Vec<DeferralRow>,
    pub closures: Vec<ClosureRow>,
    pub parkings: Vec<ParkingOrReopening>,
    pub reopenings: Vec<ParkingOrReopening>,
    pub slots: Vec<SlotRow>,
    pub moves: Vec<MoveRow>,
}

impl Events {
    pub fn attempts_of(&self, task: &TaskCode) -> &[AttemptRow] {
        run_of(&self.attempts, task, |tried| &tried.task)
    }

    pub fn deferrals_of(&self, task: &TaskCode) -> &[DeferralRow] {
        run_of(&self.deferrals, task, |put_off| &put_off.task)
    }

    pub fn closures_of(&self, task: &TaskCode) -> &[ClosureRow] {
        run_of(&self.closures, task, |ended| &ended.task)
    }

    pub fn parkings_of(&self, task: &TaskCode) -> &[ParkingOrReopening] {
        run_of(&self.parkings, task, |turned| &turned.task)
    }

    pub fn reopenings_of(&self, task: &TaskCode) -> &[ParkingOrReopening] {
        run_of(&self.reopenings, task, |turned| &turned.task)
    }

    pub fn slots_of(&self, task: &TaskCode) -> &[SlotRow] {
        run_of(&self.slots, task, |held| &held.task)
    }

    pub fn moves_of(&self, task: &TaskCode) -> &[MoveRow] {
        run_of(&self.moves, task, |moved| &moved.task)
    }

    /// Lays the lists out by task; within one task the order stays.
    fn by_task(mut self) -> Self {
        self.attempts.sort_by(|a, b| a.task.cmp(&b.task));
        self.deferrals.sort_by(|a, b| a.task.cmp(&b.task));
        self.closures.sort_by(|a, b| a.task.cmp(&b.task));
        self.parkings.sort_by(|a, b| a.task.cmp(&b.task));
        self.reopenings.sort_by(|a, b| a.task.cmp(&b.task));
        self.slots.sort_by(|a, b| a.task.cmp(&b.task));
        self.moves.sort_by(|a, b| a.task.cmp(&b.task));
        self
    }
}

/// The stretch of a list by task that is one task's.
fn run_of<'a, T>(all: &'a [T], task: &TaskCode, of: impl Fn(&T) -> &TaskCode) -> &'a [T] {
    let from = all.partition_point(|one| of(one) < task);
    let length = all[from..].partition_point(|one| of(one) == task);
    &all[from..from + length]
}

/// Whether what was said at an attempt is read: a list of the most carried tasks draws eight thousand
/// attempts and shows no word of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Texts {
    Read,
    LeftOut,
}

pub async fn events_of(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
    texts: Texts,
) -> Result<Events, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    let openings = sqlx::query_as!(
        OpeningRow,
        r#"SELECT task.code AS "task: TaskCode", register.entry, task.title, task.notes,
               task.family AS "family: FamilyCode", task.position AS "position: PositionCode",
               task.worksite, task.class, task.sides,
               task.needed_by_flight AS "needed_by_flight: FlightCode",
               task.needed_by_day AS "needed_by_day: Day", task.opened AS "opened: Day",
               task.opened_after AS "opened_after: FlightCode",
               task.from_excursion AS "from_excursion: ExcursionCode",
               task.triggered AS "triggered: bool"
           FROM task CROSS JOIN register ON register.kind = 'task' AND register.code = task.code
           WHERE task.code IN (SELECT value FROM json_each(?))"#,
        tasks
    )
    .fetch_all(&mut *db)
    .await?;
    let deferrals = sqlx::query_as!(
        DeferralRow,
        r#"SELECT deferral.code, register.entry, task AS "task: TaskCode",
               excursion AS "excursion: ExcursionCode", slot AS "slot: SlotCode",
               phase AS "phase: DeferralPhase", reason AS "reason: DeferralReason", words,
               day AS "day: Day", register.made_at AS "made_at: Moment"
           FROM deferral CROSS JOIN register ON register.kind = 'deferral' AND register.code = deferral.code
           WHERE task IN (SELECT value FROM json_each(?))"#,
        tasks
    )
    .fetch_all(&mut *db)
    .await?;
    let closures = sqlx::query_as!(
        ClosureRow,
        r#"SELECT closure.code, register.entry, task AS "task: TaskCode",
               closure.kind AS "kind: ClosureKind", words, day AS "day: Day",
               register.made_at AS "made_at: Moment"
           FROM closure CROSS JOIN register ON register.kind = 'closure' AND register.code = closure.code
           WHERE task IN (SELECT value FROM json_each(?))"#,
        tasks
    )
    .fetch_all(&mut *db)
    .await?;
    let parkings = sqlx::query_as!(
        ParkingOrReopening,
        r#"SELECT parking.code, register.entry, task AS "task: TaskCode", why AS "words",
               day AS "day: Day", register.made_at AS "made_at: Moment", NULL AS "share_left: Share"
           FROM parking CROSS JOIN register ON register.kind = 'parking' AND register.code = parking.code
           WHERE task IN (SELECT value FROM json_each(?))"#,
        tasks
    )
    .fetch_all(&mut *db)
    .await?;
    let reopenings = reopened(db, &tasks).await?;
    let slots = sqlx::query_as!(
        SlotRow,
        r#"SELECT slot.code AS "code: SlotCode", register.entry, task AS "task: TaskCode",
               excursion AS "excursion: ExcursionCode", technique AS "technique: TechniqueCode",
               side AS "side: Side", state AS "state: SlotState", share AS "share: Share",
               set_on AS "set_on: Day",
               (SELECT MIN(at) FROM slot_step WHERE slot_step.slot = slot.code
                    AND slot_step.state = 'set') AS "first_set_at: Moment",
               (SELECT MAX(at) FROM slot_step WHERE slot_step.slot = slot.code
                    AND slot_step.state = 'set') AS "set_at: Moment",
               (SELECT MIN(at) FROM slot_step WHERE slot_step.slot = slot.code
                    AND slot_step.state = 'withdrawn') AS "withdrawn_at: Moment",
               (SELECT verdict FROM slot_gate WHERE slot_gate.slot = slot.code
                    ORDER BY CASE verdict WHEN 'not met' THEN 1 WHEN 'cannot tell' THEN 2
                        WHEN 'tight' THEN 3 WHEN 'note' THEN 4 ELSE 5 END LIMIT 1) AS "worst_gate: String"
           FROM slot CROSS JOIN register ON register.kind = 'slot' AND register.code = slot.code
           WHERE task IN (SELECT value FROM json_each(?))"#,
        tasks
    )
    .fetch_all(&mut *db)
    .await?;
    let moves = moved(db, &tasks).await?;
    let attempts = tried(db, &tasks, texts).await?;
    let events =
        Events { openings, attempts, deferrals, closures, parkings, reopenings, slots, moves };
    Ok(events.by_task())
}

/// The moves to an earlier excursion of the tasks in a JSON array of codes.
async fn moved(db: &mut SqliteConnection, tasks: &str) -> Result<Vec<MoveRow>, StoreError> {
    Ok(sqlx::query_as!(
        MoveRow,
        r#"SELECT slot.code AS "slot: SlotCode", register.entry, slot.task AS "task: TaskCode",
               slot.excursion AS "from: ExcursionCode", earlier.excursion AS "to: ExcursionCode",
               slot_step.at AS "at: Moment", slot_step.who, slot_step.why
           FROM slot CROSS JOIN slot_step ON slot_step.slot = slot.code
               CROSS JOIN slot AS earlier ON earlier.code = slot_step.moved_to
               CROSS JOIN register ON register.kind = 'slot' AND register.code = slot.code
           WHERE slot.task IN (SELECT value FROM json_each(?))"#,
        tasks
    )
    .fetch_all(db)
    .await?)
}

/// The attempts of the tasks in a JSON array of codes.
async fn tried(
    db: &mut SqliteConnection,
    tasks: &str,
    texts: Texts,
) -> Result<Vec<AttemptRow>, StoreError> {
    let with_texts = texts == Texts::Read;
    Ok(sqlx::query_as!(
        AttemptRow,
        r#"SELECT attempt.code AS "code: AttemptCode", register.entry, task AS "task: TaskCode",
               excursion AS "excursion: ExcursionCode", slot AS "slot: SlotCode",
               technique AS "technique: TechniqueCode", revision, side AS "side: Side",
               pet_start AS "pet_start: Pet", pet_end AS "pet_end: Pet", minutes AS "minutes: Minutes",
               outcome AS "outcome: Outcome", left_after AS "left_after: Share",
               share AS "share: Share", planned_share AS "planned_share: Share", attempt.cause AS "cause: CauseCode",
               CASE WHEN ?2 THEN words ELSE '' END AS "words!: String",
               CASE WHEN ?2 THEN as_left ELSE '' END AS "as_left!: String",
               unit AS "unit: UnitCode", position AS "position: PositionCode",
               cut_off AS "cut_off: Minutes", imported AS "is_imported: bool",
               (SELECT finding.cause FROM finding_attempt
                    JOIN finding ON finding.code = finding_attempt.finding
                    WHERE finding_attempt.attempt = attempt.code AND finding.reviewed_by IS NOT NULL
                        AND finding.cause IS NOT NULL
                    ORDER BY finding.reviewed_on DESC, finding.code DESC LIMIT 1)
                   AS "found_cause: CauseCode",
               EXISTS (SELECT 1 FROM finding_attempt WHERE finding_attempt.attempt = attempt.code)
                   AS "has_finding!: bool",
               told AS "told: Tells", told_cause AS "told_cause: CauseCode",
               unexplained AS "unexplained: bool"
           FROM attempt CROSS JOIN register ON register.kind = 'attempt' AND register.code = attempt.code
           WHERE task IN (SELECT value FROM json_each(?1))"#,
        tasks,
        with_texts
    )
    .fetch_all(db)
    .await?)
}

/// The reopenings of the tasks in a JSON array of codes.
async fn reopened(
    db: &mut SqliteConnection,
    tasks: &str,
) -> Result<Vec<ParkingOrReopening>, StoreError> {
    Ok(sqlx::query_as!(
        ParkingOrReopening,
        r#"SELECT reopening.code, register.entry, task AS "task: TaskCode", words,
               day AS "day: Day", register.made_at AS "made_at: Moment", share_left AS "share_left: Share"
           FROM reopening CROSS JOIN register ON register.kind = 'reopening' AND register.code = reopening.code
           WHERE task IN (SELECT value FROM json_each(?))"#,
        tasks
    )
    .fetch_all(db)
    .await?)
}

/// The reopenings of these tasks.
pub async fn reopenings_of(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<ParkingOrReopening>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    reopened(db, &tasks).await
}

/// The tasks whose tries count together: a family's, or one task's where it has no family.
pub async fn tries_of(
    db: &mut SqliteConnection,
    tasks: &[TaskCode],
) -> Result<Vec<AttemptRow>, StoreError> {
    let tasks = json_array(tasks.iter().map(TaskCode::as_str));
    tried(db, &tasks, Texts::Read).await
}

#[cfg(test)]
mod tests;
