//! What people pressed on the board of a day, and the practice runs of it.

use sqlx::SqliteConnection;

use crate::StoreError;
use domain::codes::{ExcursionCode, SlotCode, TaskCode, TechniqueCode};
use domain::day::{Act, Added, Press, added};
use domain::seats::Seats;
use domain::sides::Side;
use domain::time::Moment;
use domain::units::Pet;

/// A practice run of the day of an excursion.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Run {
    pub code: String,
    pub excursion: ExcursionCode,
    pub seed: i64,
    /// Minutes of the excursion in a minute of life.
    pub pace: i64,
    pub started_at: Moment,
    pub who: String,
}

/// A press as its row says it.
struct PressRow {
    number: i64,
    key: String,
    act: Act,
    slot: Option<SlotCode>,
    step: Option<i64>,
    pet: Option<Pet>,
    egress_at: Option<Moment>,
    undoes: Option<String>,
    task: Option<TaskCode>,
    seat: Option<i64>,
    seats: Option<Seats>,
    technique: Option<TechniqueCode>,
    side: Option<Side>,
    goes_before: Option<SlotCode>,
    pressed_at: Moment,
    saved_at: Moment,
    who: String,
}

impl From<PressRow> for Press {
    fn from(row: PressRow) -> Self {
        let PressRow { task, seat, seats, technique, side, goes_before: before, .. } = row;
        let one = seat.and_then(|seat| u8::try_from(seat).ok()).map(|seat| Seats::of([seat]));
        let seats = seats.or(one);
        let slot = row.slot.or_else(|| task.as_ref().map(added::name_of));
        let adds =
            task.zip(seats).map(|(task, seats)| Added { task, seats, technique, side, before });
        Self {
            number: row.number,
            key: row.key,
            act: row.act,
            slot,
            step: row.step,
            pet: row.pet,
            egress_at: row.egress_at,
            undoes: row.undoes,
            adds,
            pressed_at: row.pressed_at,
            saved_at: row.saved_at,
            who: row.who,
        }
    }
}

/// The presses of a day, or of a practice run of it, in the order in which they were saved.
pub async fn presses(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
    run: Option<&str>,
) -> Result<Vec<Press>, StoreError> {
    let rows = sqlx::query_as!(
        PressRow,
        r#"SELECT number AS "number!", key, act AS "act: Act", slot AS "slot: SlotCode",
                  step, pet AS "pet: Pet", egress_at AS "egress_at: Moment", undoes,
                  task AS "task: TaskCode", seat, seats AS "seats: Seats", technique AS "technique: TechniqueCode",
                  side AS "side: Side", goes_before AS "goes_before: SlotCode",
                  pressed_at AS "pressed_at: Moment", saved_at AS "saved_at: Moment", who
           FROM day_press WHERE excursion = ?1 AND run IS ?2 ORDER BY number"#,
        excursion,
        run
    )
    .fetch_all(db)
    .await?;
    Ok(rows.into_iter().map(Press::from).collect())
}

/// The number of the last press that was saved; 0 where there is none.
pub async fn last_number(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
    run: Option<&str>,
) -> Result<i64, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT coalesce(max(number), 0) AS "last!: i64"
           FROM day_press WHERE excursion = ?1 AND run IS ?2"#,
        excursion,
        run
    )
    .fetch_one(db)
    .await?)
}

/// Keeps a press; says whether it was not there yet. Its number is given by the database.
pub async fn keep(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
    run: Option<&str>,
    press: &Press,
) -> Result<bool, StoreError> {
    let task = press.slot.as_ref().and_then(added::task_of);
    let slot = press.slot.as_ref().filter(|_| task.is_none());
    let adds = press.adds.as_ref();
    let seat = adds.and_then(|adds| adds.seats.numbers().next()).map(i64::from);
    let several = adds.map(|adds| &adds.seats).filter(|seats| seats.0.len() > 1);
    let technique = adds.and_then(|adds| adds.technique.as_ref());
    let side = adds.and_then(|adds| adds.side.as_ref());
    let before = adds.and_then(|adds| adds.before.as_ref());
    let done = sqlx::query!(
        "INSERT INTO day_press
             (excursion, run, key, act, slot, step, pet, egress_at, undoes, pressed_at, saved_at,
              who, task, seat, technique, side, goes_before, seats)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18)
         ON CONFLICT DO NOTHING",
        excursion,
        run,
        press.key,
        press.act,
        slot,
        press.step,
        press.pet,
        press.egress_at,
        press.undoes,
        press.pressed_at,
        press.saved_at,
        press.who,
        task,
        seat,
        technique,
        side,
        before,
        several
    )
    .execute(db)
    .await?;
    Ok(done.rows_affected() > 0)
}

pub async fn run(db: &mut SqliteConnection, code: &str) -> Result<Option<Run>, StoreError> {
    Ok(sqlx::query_as!(
        Run,
        r#"SELECT code, excursion AS "excursion: ExcursionCode", seed, pace,
                  started_at AS "started_at: Moment", who
           FROM day_run WHERE code = ?"#,
        code
    )
    .fetch_optional(db)
    .await?)
}

/// The practice runs of an excursion, the newest first.
pub async fn runs_of(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
) -> Result<Vec<Run>, StoreError> {
    Ok(sqlx::query_as!(
        Run,
        r#"SELECT code, excursion AS "excursion: ExcursionCode", seed, pace,
                  started_at AS "started_at: Moment", who
           FROM day_run WHERE excursion = ? ORDER BY started_at DESC, code"#,
        excursion
    )
    .fetch_all(db)
    .await?)
}

pub async fn begin_run(db: &mut SqliteConnection, run: &Run) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO day_run (code, excursion, seed, pace, started_at, who)
         VALUES (?, ?, ?, ?, ?, ?)",
        run.code,
        run.excursion,
        run.seed,
        run.pace,
        run.started_at,
        run.who
    )
    .execute(db)
    .await?;
    Ok(())
}

/// Removes a practice run with all its presses.
pub async fn discard_run(db: &mut SqliteConnection, code: &str) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM day_run WHERE code = ?", code).execute(db).await?;
    Ok(())
}

/// Removes the practice runs that began before then.
pub async fn forget_runs(db: &mut SqliteConnection, before: Moment) -> Result<u64, StoreError> {
    Ok(sqlx::query!("DELETE FROM day_run WHERE started_at < ?", before)
        .execute(db)
        .await?
        .rows_affected())
}

#[cfg(test)]
mod tests {
    use sqlx::SqlitePool;

    use super::*;
    use crate::tests::world;

    fn press(key: &str, act: Act) -> Press {
        Press {
            number: 0,
            key: key.to_owned(),
            act,
            slot: None,
            step: None,
            pet: Some(Pet(40)),
            egress_at: None,
            undoes: None,
            adds: None,
            pressed_at: Moment(5),
            saved_at: Moment(6),
            who: "engineer".to_owned(),
        }
    }

    #[sqlx::test(migrations = "../../migrations")]
    async fn a_press_is_kept_once_and_a_run_goes_with_its_presses(pool: SqlitePool) {
        let db = &mut pool.acquire().await.unwrap();
        world(db).await;
        let excursion = ExcursionCode::from("E-2");
        let run = Run {
            code: "r1".to_owned(),
            excursion: excursion.clone(),
            seed: 7,
            pace: 60,
            started_at: Moment(1),
            who: "engineer".to_owned(),
        };
        begin_run(db, &run).await.unwrap();
        assert_eq!(runs_of(db, &excursion).await.unwrap(), std::slice::from_ref(&run));

        assert!(keep(db, &excursion, None, &press("a", Act::Egress)).await.unwrap());
        assert!(!keep(db, &excursion, None, &press("a", Act::Done)).await.unwrap());
        assert!(keep(db, &excursion, Some("r1"), &press("a", Act::Egress)).await.unwrap());
        let kept = presses(db, &excursion, None).await.unwrap();
        assert_eq!(kept.len(), 1);
        assert_eq!((kept[0].act, kept[0].pet), (Act::Egress, Some(Pet(40))));
        assert_eq!(presses(db, &excursion, Some("r1")).await.unwrap().len(), 1);
        assert!(last_number(db, &excursion, Some("r1")).await.unwrap() > kept[0].number);

        discard_run(db, "r1").await.unwrap();
        assert_eq!(super::run(db, "r1").await.unwrap(), None);
        assert!(presses(db, &excursion, Some("r1")).await.unwrap().is_empty());
        assert_eq!(presses(db, &excursion, None).await.unwrap().len(), 1);
    }

    #[sqlx::test(migrations = "../../migrations")]
    async fn added_work_and_presses_for_it_come_back_as_they_were(pool: SqlitePool) {
        let db = &mut pool.acquire().await.unwrap();
        world(db).await;
        let excursion = ExcursionCode::from("E-2");
        let slot = Some(added::name_of(&"T-1".into()));
        let adds = Added {
            task: "T-1".into(),
            seats: Seats::of([2]),
            technique: Some("K-1".into()),
            side: <Side as domain::cells::Cell>::read("nadir").ok(),
            before: Some("S-1".into()),
        };
        let add = Press { slot: slot.clone(), adds: Some(adds), ..press("a", Act::Added) };
        let start = Press { slot, ..press("b", Act::Started) };
        let mut both = Press { key: "c".to_owned(), ..add.clone() };
        if let Some(adds) = &mut both.adds {
            adds.seats = Seats::of([1, 2]);
        }
        for press in [&add, &start, &both] {
            assert!(keep(db, &excursion, None, press).await.unwrap());
        }
        let kept = presses(db, &excursion, None).await.unwrap();
        let same =
            |kept: &Press, press: &Press| *kept == Press { number: kept.number, ..press.clone() };
        assert!(same(&kept[0], &add) && same(&kept[1], &start), "{kept:?}");
        assert!(same(&kept[2], &both), "{kept:?}");
    }
}
