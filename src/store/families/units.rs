//! Units, and the stays that say where each stood.

use sqlx::SqliteConnection;

use crate::{Kept, StoreError};
use domain::cells::{Cell as _, Line, Prose};
use domain::codes::{AttemptCode, FamilyCode, Own, PositionCode, UnitCode, WorksiteCode};
use domain::families::{Stay, Unit};
use domain::time::Day;

/// A unit with its latest stay. The worksite follows from the position and is not kept here.
macro_rules! unit_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Unit,
            r#"SELECT unit.code AS "code: Own<UnitCode>", unit.family AS "family: FamilyCode",
                   unit.serial AS "serial: Line", stay.position AS "position?: PositionCode",
                   NULL AS "worksite?: WorksiteCode", stay.from_day AS "from_day?: Day",
                   stay.until_day AS "until_day?: Day", unit.notes AS "notes: Prose"
               FROM unit
               LEFT JOIN stay ON stay.unit = unit.code
                   AND stay.ordinal = (SELECT MAX(ordinal) FROM stay WHERE stay.unit = unit.code) "#
            + $rest
            $(, $value)*
        )
    };
}

impl Kept for Unit {
    async fn find(db: &mut SqliteConnection, code: &str) -> Result<Option<Self>, StoreError> {
        Ok(unit_rows!("WHERE unit.code = ?", code).fetch_optional(db).await?)
    }

    async fn save(&self, db: &mut SqliteConnection) -> Result<(), StoreError> {
        sqlx::query!(
            "INSERT INTO unit (code, family, serial, notes) VALUES (?, ?, ?, ?)
             ON CONFLICT (code) DO UPDATE SET family = excluded.family, serial = excluded.serial,
                 notes = excluded.notes",
            self.code,
            self.family,
            self.serial,
            self.notes
        )
        .execute(&mut *db)
        .await?;
        let known = stays(db, &self.code.0).await?;
        let Some(after) = placed(&known, self) else { return Ok(()) };
        write_stays(db, &self.code.0, &after).await
    }

    async fn after(
        db: &mut SqliteConnection,
        after: &str,
        most: i64,
    ) -> Result<Vec<Self>, StoreError> {
        Ok(unit_rows!("WHERE unit.code > ? ORDER BY unit.code LIMIT ?", after, most)
            .fetch_all(db)
            .await?)
    }
}

/// The stays of a unit, the first one first.
pub async fn stays(db: &mut SqliteConnection, unit: &UnitCode) -> Result<Vec<Stay>, StoreError> {
    Ok(sqlx::query_as!(
        Stay,
        r#"SELECT position AS "position: PositionCode", from_day AS "from_day: Day",
               until_day AS "until_day: Day"
           FROM stay WHERE unit = ? ORDER BY ordinal"#,
        unit
    )
    .fetch_all(db)
    .await?)
}

/// The unit that stood at a position on that day, with its serial number; without a day, the one
/// that stands there now. On the day of a swap it is the one that came.
pub async fn unit_at(
    db: &mut SqliteConnection,
    position: &PositionCode,
    day: Option<Day>,
) -> Result<Option<(UnitCode, Option<Line>)>, StoreError> {
    let row = sqlx::query!(
        r#"SELECT stay.unit AS "unit: UnitCode", unit.serial AS "serial: Line"
           FROM stay JOIN unit ON unit.code = stay.unit
           WHERE stay.position = ?1
               AND CASE WHEN ?2 IS NULL
                   THEN stay.until_day IS NULL AND NOT EXISTS (SELECT 1 FROM stay AS later
                       WHERE later.unit = stay.unit AND later.ordinal > stay.ordinal)
                   ELSE COALESCE(stay.from_day, '') <= ?2
                       AND COALESCE(stay.until_day, '9999-12-31') >= ?2
                   END
           ORDER BY COALESCE(stay.from_day, '') DESC,
               EXISTS (SELECT 1 FROM stay AS later
                   WHERE later.unit = stay.unit AND later.ordinal > stay.ordinal),
               stay.ordinal DESC, stay.unit
           LIMIT 1"#,
        position,
        day
    )
    .fetch_optional(db)
    .await?;
    Ok(row.map(|row| (row.unit, row.serial)))
}

/// The stays once the unit stands where it says; `None` where it says nothing new. The same
/// position changes its stay, another one begins a stay and ends the one before; a day that lies
/// before the latest stay puts the new one among the earlier ones.
fn placed(known: &[Stay], unit: &Unit) -> Option<Vec<Stay>> {
    let mut stays = known.to_vec();
    let (from_day, until_day) = (unit.from_day, unit.until_day);
    let Some(position) = unit.position.clone() else {
        stays.last_mut()?.until_day = Some(until_day?);
        return Some(stays);
    };
    let starts_later = |stay: &Stay| from_day.is_some() && stay.from_day > from_day;
    let came_back =
        |stay: &Stay| matches!((stay.until_day, from_day), (Some(left), Some(came)) if came > left);
    let same = match stays.last() {
        Some(last) if last.position == position && !came_back(last) => Some(stays.len() - 1),
        _ => stays.iter().position(|stay| {
            from_day.is_some() && stay.position == position && stay.from_day == from_day
        }),
    };
    let mut stay = Stay { position, from_day, until_day };
    if let Some(at) = same {
        let moved_from = stays[at].from_day;
        if at + 1 < stays.len() {
            stay.until_day = until_day.or(stays[at].until_day);
        }
        stays[at] = stay;
        if let Some(before) = at.checked_sub(1).map(|before| &mut stays[before])
            && moved_from.is_some()
            && before.until_day == moved_from
        {
            before.until_day = from_day.or(moved_from);
        }
    } else {
        let at = stays.iter().position(starts_later).unwrap_or(stays.len());
        if let Some(next) = stays.get(at) {
            stay.until_day = until_day.or(next.from_day);
        }
        if let Some(before) = at.checked_sub(1).map(|before| &mut stays[before])
            && from_day.is_some()
            && before.until_day.is_none_or(|left| Some(left) > from_day)
        {
            before.until_day = from_day;
        }
        stays.insert(at, stay);
    }
    (stays != known).then_some(stays)
}

/// Puts these stays in place of all that a unit has.
pub async fn write_stays(
    db: &mut SqliteConnection,
    unit: &UnitCode,
    stays: &[Stay],
) -> Result<(), StoreError> {
    let rows = written(stays);
    sqlx::query!("DELETE FROM stay WHERE unit = ?", unit).execute(&mut *db).await?;
    sqlx::query!(
        "INSERT INTO stay (unit, ordinal, position, from_day, until_day)
         SELECT ?, key + 1, value ->> 0, value ->> 1, value ->> 2 FROM json_each(?)",
        unit,
        rows
    )
    .execute(db)
    .await?;
    Ok(())
}

/// The units that have a stay at a position.
pub async fn units_with_stays_at(
    db: &mut SqliteConnection,
    position: &PositionCode,
) -> Result<Vec<UnitCode>, StoreError> {
    Ok(sqlx::query_scalar!(
        r#"SELECT DISTINCT unit AS "unit: UnitCode" FROM stay WHERE position = ? ORDER BY unit"#,
        position
    )
    .fetch_all(db)
    .await?)
}

/// How the stays of one unit stood before and after a swap.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SwappedStay {
    pub unit: UnitCode,
    pub before: Vec<Stay>,
    pub after: Vec<Stay>,
}

/// Keeps what the swap of an attempt did to the stays of a unit.
pub async fn keep_swapped(
    db: &mut SqliteConnection,
    attempt: &AttemptCode,
    swapped: &SwappedStay,
) -> Result<(), StoreError> {
    let (before, after) = (written(&swapped.before), written(&swapped.after));
    sqlx::query!(
        "INSERT INTO swapped_stay (attempt, unit, before, after) VALUES (?, ?, ?, ?)",
        attempt,
        swapped.unit,
        before,
        after
    )
    .execute(db)
    .await?;
    Ok(())
}

/// What the swap of an attempt did to the stays of its units.
pub async fn swapped(
    db: &mut SqliteConnection,
    attempt: &AttemptCode,
) -> Result<Vec<SwappedStay>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT unit AS "unit: UnitCode", before, after FROM swapped_stay
           WHERE attempt = ? ORDER BY unit"#,
        attempt
    )
    .fetch_all(db)
    .await?;
    rows.into_iter()
        .map(|row| {
            let (before, after) = (read(&row.before)?, read(&row.after)?);
            Ok(SwappedStay { unit: row.unit, before, after })
        })
        .collect()
}

/// Keeps no longer what the swap of an attempt did.
pub async fn forget_swapped(
    db: &mut SqliteConnection,
    attempt: &AttemptCode,
) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM swapped_stay WHERE attempt = ?", attempt).execute(db).await?;
    Ok(())
}

/// `[["pump A", "2026-03-02", null]]`
fn written(stays: &[Stay]) -> String {
    let day = |day: Option<Day>| day.map(|day| day.to_string());
    let rows: serde_json::Value = stays
        .iter()
        .map(|s| serde_json::json!([s.position.as_str(), day(s.from_day), day(s.until_day)]))
        .collect();
    rows.to_string()
}

fn read(text: &str) -> Result<Vec<Stay>, StoreError> {
    let corrupt = |why: String| StoreError::Corrupt { table: "swapped_stay", why };
    let rows: Vec<(String, Option<String>, Option<String>)> =
        serde_json::from_str(text).map_err(|cause| corrupt(cause.to_string()))?;
    let day = |text: Option<String>| text.map(|text| Day::read(&text)).transpose();
    rows.into_iter()
        .map(|(position, from, until)| {
            Ok(Stay {
                position: PositionCode::from(position.as_str()),
                from_day: day(from).map_err(corrupt)?,
                until_day: day(until).map_err(corrupt)?,
            })
        })
        .collect()
}

/// The units of a family, each where it stands now.
pub async fn of_family(
    db: &mut SqliteConnection,
    family: &FamilyCode,
) -> Result<Vec<Unit>, StoreError> {
    Ok(unit_rows!("WHERE unit.family = ? ORDER BY unit.code", family).fetch_all(db).await?)
}

/// The stays of all units of a family.
pub async fn stays_of_family(
    db: &mut SqliteConnection,
    family: &FamilyCode,
) -> Result<Vec<(UnitCode, Stay)>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT unit AS "unit: UnitCode", position AS "position: PositionCode",
               from_day AS "from_day: Day", until_day AS "until_day: Day"
           FROM stay WHERE unit IN (SELECT code FROM unit WHERE family = ?)
           ORDER BY unit, ordinal"#,
        family
    )
    .fetch_all(db)
    .await?;
    Ok(rows
        .into_iter()
        .map(|row| {
            let stay =
                Stay { position: row.position, from_day: row.from_day, until_day: row.until_day };
            (row.unit, stay)
        })
        .collect())
}

#[cfg(test)]
mod tests {
    use sqlx::SqlitePool;

    use super::*;
    use crate::tests::{record, saved, world};

    fn stay(cells: &str) -> Unit {
        record(&format!("code: U | family: F-1 | {cells}"))
    }

    /// The stays after each record in turn, written `position from..until`.
    fn after(records: &[&str]) -> Vec<String> {
        let mut stays = Vec::new();
        for cells in records {
            if let Some(changed) = placed(&stays, &stay(cells)) {
                stays = changed;
            }
        }
        let day = |day: Option<Day>| day.map_or("?".to_owned(), |day| day.to_string());
        stays
            .iter()
            .map(|s| format!("{} {}..{}", s.position, day(s.from_day), day(s.until_day)))
            .collect()
    }

    #[test]
    fn a_move_ends_the_stay_before() {
        let moved = after(&["position: P-1", "position: P-2 | from_day: 2031-02-01"]);
        assert_eq!(moved, ["P-1 ?..2031-02-01", "P-2 2031-02-01..?"]);
    }

    #[test]
    fn the_same_position_changes_its_stay_and_the_end_of_the_one_before() {
        let moved = after(&[
            "position: P-1 | from_day: 2030-01-01",
            "position: P-2 | from_day: 2031-02-01",
            "position: P-2 | from_day: 2031-02-03 | until_day: 2031-05-05",
        ]);
        assert_eq!(moved, ["P-1 2030-01-01..2031-02-03", "P-2 2031-02-03..2031-05-05"]);
    }

    #[test]
    fn an_end_that_was_known_stays_where_the_unit_was_nowhere_for_a_while() {
        let moved = after(&[
            "position: P-1 | from_day: 2030-01-01 | until_day: 2030-06-01",
            "position: P-1 | from_day: 2031-02-01",
        ]);
        assert_eq!(moved, ["P-1 2030-01-01..2030-06-01", "P-1 2031-02-01..?"]);
    }

    #[test]
    fn an_earlier_stay_that_comes_late_takes_its_place_and_comes_once() {
        let late = "position: P-1 | from_day: 2030-01-01";
        let moved = after(&["position: P-2 | from_day: 2031-02-01", late, late]);
        assert_eq!(moved, ["P-1 2030-01-01..2031-02-01", "P-2 2031-02-01..?"]);
    }

    #[test]
    fn no_position_ends_the_stay_or_says_nothing() {
        assert_eq!(after(&["position: P-1", "notes: spare"]), ["P-1 ?..?"]);
        assert_eq!(after(&["position: P-1", "until_day: 2031-01-01"]), ["P-1 ?..2031-01-01"]);
        assert!(after(&["until_day: 2031-01-01"]).is_empty());
    }

    #[sqlx::test(migrations = "../../migrations")]
    async fn a_swap_leaves_each_unit_where_it_stood(pool: SqlitePool) {
        let db = &mut pool.acquire().await.unwrap();
        world(db).await;
        let place = PositionCode::from("P-2");
        let day = |text: &str| Some(domain::cells::Cell::read(text).unwrap());
        saved::<Unit>(db, "code: U-2 | family: F-1 | serial: 002 | position: P-2").await;
        saved::<Unit>(db, "code: U-3 | family: F-1 | position: P-1 | from_day: 2030-01-01").await;
        saved::<Unit>(
            db,
            "code: U-2 | family: F-1 | serial: 002 | position: P-1 | from_day: 2031-01-05",
        )
        .await;
        saved::<Unit>(db, "code: U-3 | family: F-1 | position: P-2 | from_day: 2031-01-05").await;

        let before = unit_at(db, &place, day("2030-12-31")).await.unwrap();
        let on_the_day = unit_at(db, &place, day("2031-01-05")).await.unwrap();
        let now = unit_at(db, &place, None).await.unwrap();

        assert_eq!(before, Some(("U-2".into(), Some(Line::known("002")))));
        assert_eq!(on_the_day, Some(("U-3".into(), None)));
        assert_eq!(now, on_the_day);
        assert_eq!(unit_at(db, &"P-404".into(), None).await.unwrap(), None);
        assert_eq!(stays(db, &"U-3".into()).await.unwrap().len(), 2);
        let found = Unit::find(db, "U-3").await.unwrap().unwrap();
        assert_eq!(found.position, Some(place));
    }
}
