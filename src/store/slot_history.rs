//! What a slot went through: its dated steps, its gates as they stood when it was set, its waivers.

use std::collections::BTreeMap;

use sqlx::SqliteConnection;

use crate::StoreError;
use domain::codes::SlotCode;
use domain::time::Moment;
use domain::words::{GateName, GateVerdict, SlotState};

/// One step of a slot: from then on it was in that state.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    pub state: SlotState,
    pub at: Moment,
    pub who: String,
    pub why: Option<String>,
}

/// Appends a step; the steps before it stay as they are.
pub async fn add_step(
    db: &mut SqliteConnection,
    slot: &SlotCode,
    step: &Step,
) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO slot_step (slot, ordinal, state, at, who, why)
         SELECT ?1, COALESCE(MAX(ordinal), 0) + 1, ?2, ?3, ?4, ?5 FROM slot_step WHERE slot = ?1",
        slot,
        step.state,
        step.at,
        step.who,
        step.why
    )
    .execute(db)
    .await?;
    Ok(())
}

/// Notes in the last step of a slot, its withdrawal, that it moved to an earlier excursion as that
/// other slot.
pub async fn note_move(
    db: &mut SqliteConnection,
    slot: &SlotCode,
    to: &SlotCode,
) -> Result<(), StoreError> {
    sqlx::query!(
        "UPDATE slot_step SET moved_to = ?2 WHERE slot = ?1
             AND ordinal = (SELECT MAX(ordinal) FROM slot_step WHERE slot = ?1)",
        slot,
        to
    )
    .execute(db)
    .await?;
    Ok(())
}

/// One gate as it stood when the slot was set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GateThen {
    pub gate: GateName,
    pub verdict: GateVerdict,
    pub reason: String,
    pub at: Moment,
}

/// Puts these gates in place of the ones before.
pub async fn replace_gates(
    db: &mut SqliteConnection,
    slot: &SlotCode,
    gates: &[GateThen],
) -> Result<(), StoreError> {
    let rows: serde_json::Value = gates
        .iter()
        .map(|g| serde_json::json!([g.gate.word(), g.verdict.word(), g.reason, g.at.0]))
        .collect();
    let rows = rows.to_string();
    sqlx::query!("DELETE FROM slot_gate WHERE slot = ?", slot).execute(&mut *db).await?;
    sqlx::query!(
        "INSERT INTO slot_gate (slot, gate, verdict, reason, at)
         SELECT ?, value ->> 0, value ->> 1, value ->> 2, value ->> 3 FROM json_each(?)",
        slot,
        rows
    )
    .execute(db)
    .await?;
    Ok(())
}

/// The gates of every slot that is set on a planned excursion, as they stood when it was set.
pub async fn gates_of_coming(
    db: &mut SqliteConnection,
) -> Result<BTreeMap<SlotCode, Vec<GateThen>>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT slot AS "slot: SlotCode", gate AS "gate: GateName",
               verdict AS "verdict: GateVerdict", reason, at AS "at: Moment"
           FROM slot_gate
           WHERE slot IN (SELECT code FROM slot WHERE state = 'set' AND excursion IN
               (SELECT code FROM excursion WHERE state = 'planned'))"#
    )
    .fetch_all(db)
    .await?;
    let mut gates: BTreeMap<SlotCode, Vec<GateThen>> = BTreeMap::new();
    for row in rows {
        let then =
            GateThen { gate: row.gate, verdict: row.verdict, reason: row.reason, at: row.at };
        gates.entry(row.slot).or_default().push(then);
    }
    Ok(gates)
}

/// A lead's recorded decision to go on although a gate says stop: for that slot alone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Waiver {
    pub gate: GateName,
    pub reason: String,
    pub who: String,
    pub at: Moment,
}

/// Adds a waiver; a second one for the same gate takes the place of the first.
pub async fn add_waiver(
    db: &mut SqliteConnection,
    slot: &SlotCode,
    waiver: &Waiver,
) -> Result<(), StoreError> {
    sqlx::query!(
        "INSERT INTO waiver (slot, gate, reason, who, at) VALUES (?, ?, ?, ?, ?)
         ON CONFLICT (slot, gate) DO UPDATE SET reason = excluded.reason, who = excluded.who,
             at = excluded.at",
        slot,
        waiver.gate,
        waiver.reason,
        waiver.who,
        waiver.at
    )
    .execute(db)
    .await?;
    Ok(())
}

pub async fn waivers_of(
    db: &mut SqliteConnection,
    slot: &SlotCode,
) -> Result<Vec<Waiver>, StoreError> {
    Ok(sqlx::query_as!(
        Waiver,
        r#"SELECT gate AS "gate: GateName", reason, who, at AS "at: Moment"
           FROM waiver WHERE slot = ? ORDER BY at, gate"#,
        slot
    )
    .fetch_all(db)
    .await?)
}

/// Takes every waiver of a slot away; they are gone with the slot.
pub async fn remove_waivers(db: &mut SqliteConnection, slot: &SlotCode) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM waiver WHERE slot = ?", slot).execute(db).await?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use sqlx::SqlitePool;

    use super::*;
    use crate::tests::world;

    /// The steps of a slot, the first one first.
    async fn steps_of(db: &mut SqliteConnection, slot: &SlotCode) -> Result<Vec<Step>, StoreError> {
        Ok(sqlx::query_as!(
            Step,
            r#"SELECT state AS "state: SlotState", at AS "at: Moment", who, why
               FROM slot_step WHERE slot = ? ORDER BY ordinal"#,
            slot
        )
        .fetch_all(db)
        .await?)
    }

    /// The gates of a slot in the order in which they are read.
    async fn gates_of(
        db: &mut SqliteConnection,
        slot: &SlotCode,
    ) -> Result<Vec<GateThen>, StoreError> {
        let mut gates = sqlx::query_as!(
            GateThen,
            r#"SELECT gate AS "gate: GateName", verdict AS "verdict: GateVerdict", reason,
                   at AS "at: Moment"
               FROM slot_gate WHERE slot = ?"#,
            slot
        )
        .fetch_all(db)
        .await?;
        gates.sort_by_key(|gate| gate.gate);
        Ok(gates)
    }

    #[sqlx::test(migrations = "../../migrations")]
    async fn steps_are_appended_and_kept(pool: SqlitePool) {
        let db = &mut pool.acquire().await.unwrap();
        world(db).await;
        let step = |state, at, why: Option<&str>| Step {
            state,
            at: Moment(at),
            who: "lead".to_owned(),
            why: why.map(str::to_owned),
        };
        let pencilled = step(SlotState::Pencilled, 1, None);
        let set = step(SlotState::Set, 2, Some("the spreader is aboard"));

        add_step(db, &"S-1".into(), &pencilled).await.unwrap();
        add_step(db, &"S-1".into(), &set).await.unwrap();

        assert_eq!(steps_of(db, &"S-1".into()).await.unwrap(), [pencilled, set]);
    }

    #[sqlx::test(migrations = "../../migrations")]
    async fn gates_are_replaced_whole_and_read_in_their_order(pool: SqlitePool) {
        let db = &mut pool.acquire().await.unwrap();
        world(db).await;
        let gate = |gate, verdict| GateThen {
            gate,
            verdict,
            reason: "0:34 min of “margin”".to_owned(),
            at: Moment(7),
        };
        let old = [gate(GateName::Bag, GateVerdict::NotChecked)];
        replace_gates(db, &"S-1".into(), &old).await.unwrap();
        let tools = gate(GateName::Tools, GateVerdict::Met);
        let time = gate(GateName::Time, GateVerdict::Tight);

        replace_gates(db, &"S-1".into(), &[tools.clone(), time.clone()]).await.unwrap();

        assert_eq!(gates_of(db, &"S-1".into()).await.unwrap(), [time, tools]);
    }

    #[sqlx::test(migrations = "../../migrations")]
    async fn a_waiver_goes_with_its_slot(pool: SqlitePool) {
        let db = &mut pool.acquire().await.unwrap();
        world(db).await;
        let waiver = Waiver {
            gate: GateName::Approach,
            reason: "one more try".to_owned(),
            who: "lead".to_owned(),
            at: Moment(7),
        };
        add_waiver(db, &"S-1".into(), &waiver).await.unwrap();
        add_waiver(db, &"S-1".into(), &waiver).await.unwrap();
        assert_eq!(waivers_of(db, &"S-1".into()).await.unwrap(), [waiver]);

        remove_waivers(db, &"S-1".into()).await.unwrap();

        assert!(waivers_of(db, &"S-1".into()).await.unwrap().is_empty());
    }
}
