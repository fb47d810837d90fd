//! What the steps from an older schema make of the records that they meet.

use sqlx::migrate::Migrator;
use sqlx::{SqliteConnection, SqlitePool};

use super::schema::STEPS;
use crate::Kept;
use domain::cells::Cell as _;
use domain::findings::{Cause, Remedy};
use domain::slots::Slot;
use domain::words::Checked;

/// Brings an empty file to the schema before this step, lets `statements` loose on it, and goes on
/// to the newest.
async fn brought_up_from(db: &mut SqliteConnection, step: i64, statements: &'static str) {
    let before = STEPS.iter().filter(|one| one.version < step).cloned().collect();
    Migrator::with_migrations(before).run(&mut *db).await.unwrap();
    sqlx::raw_sql(statements).execute(&mut *db).await.unwrap();
    STEPS.run(&mut *db).await.unwrap();
}

#[sqlx::test(migrations = false)]
async fn an_older_record_keeps_its_kinds_of_cause_and_gets_those_that_it_lacks(pool: SqlitePool) {
    let db = &mut *pool.acquire().await.unwrap();
    let own = "INSERT INTO cause (code, words, cause_group, scope) VALUES
            ('3', 'Thermal blanket in the way', 'access', 'approach'),
            ('17', 'No time left', 'time', 'outside'),
            ('TIGHT', ' reach or glove access too tight', 'access', 'approach');
        INSERT INTO register (kind, code, made_by, made_at, changed_by, changed_at)
            SELECT 'cause', code, 'ada', 0, 'ada', 0 FROM cause";
    brought_up_from(db, 86, own).await;
    let kinds = Cause::after(db, "", 100).await.unwrap();
    let words = |code: &str| {
        kinds.iter().find(|kind| kind.code.0.as_str() == code).map(|kind| kind.words.as_str())
    };
    assert_eq!(words("3"), Some("Thermal blanket in the way"));
    assert_eq!(words("17"), Some("No time left"));
    assert_eq!(words("12"), None, "the record has that kind under a code of its own");
    assert_eq!(words("26"), Some("Cause unknown"));
    assert_eq!(kinds.len(), 26);
    let ran_out = crate::findings::time_ran_out(db).await.unwrap();
    assert_eq!(ran_out, ["17".into()], "it was asked of the code until then");
}

#[sqlx::test(migrations = false)]
async fn older_verifications_are_here_or_imported_as_the_change_log_has_them(pool: SqlitePool) {
    let db = &mut *pool.acquire().await.unwrap();
    let remedies = r#"INSERT INTO remedy (code, what, reach, state, owner, verified_by) VALUES
            ('R-1', 'x', 'this unit', 'verified', 'tools', 'lead'),
            ('R-2', 'x', 'this unit', 'verified', 'tools', 'lead'),
            ('R-3', 'x', 'this unit', 'done', 'tools', NULL);
        INSERT INTO change (seq, at, who, kind, code, action, after, previous, hash) VALUES
            (1, 0, 'Lead', 'remedy', 'R-1', 'changed', '{"verified_by":"lead"}', x'00', x'01'),
            (2, 0, 'engineer', 'remedy', 'R-2', 'made', '{"verified_by":"lead"}', x'00', x'02')"#;
    brought_up_from(db, 85, remedies).await;
    let mut checked = Vec::new();
    for code in ["R-1", "R-2", "R-3"] {
        checked.push(Remedy::find(db, code).await.unwrap().unwrap().checked);
    }
    assert_eq!(checked, [Some(Checked::Here), Some(Checked::Imported), None]);
}

#[sqlx::test(migrations = false)]
async fn the_one_fallback_of_a_slot_becomes_the_first_of_its_list(pool: SqlitePool) {
    let db = &mut *pool.acquire().await.unwrap();
    let slots = "PRAGMA foreign_keys = OFF;
        INSERT INTO slot (code, task, excursion, seats, state, trigger_minutes, trigger_words,
                then_technique, then_side, then_chance) VALUES
            ('S-1', 'T-1', 'E-1', '', 'set', 60, 'the gun jams; or slips, needed', 'K-1', 'nadir', 25),
            ('S-2', 'T-1', 'E-1', '', 'set', 30, NULL, NULL, NULL, NULL),
            ('S-3', 'T-1', 'E-1', '', 'set', NULL, NULL, 'K-1', NULL, NULL),
            ('S-4', 'T-1', 'E-1', '', 'set', NULL, NULL, NULL, NULL, NULL);
        INSERT INTO day_press (excursion, key, act, slot, pet, pressed_at, saved_at, who) VALUES
            ('E-1', 'a', 'fallback used', 'S-1', 70, 0, 0, 'lead'),
            ('E-1', 'b', 'done', 'S-1', 90, 0, 0, 'lead')";
    brought_up_from(db, 205, slots).await;
    let mut lists = Vec::new();
    for code in ["S-1", "S-2", "S-3", "S-4"] {
        lists.push(Slot::find(db, code).await.unwrap().unwrap().fallbacks.show());
    }
    assert_eq!(
        lists,
        [
            "K-1 from nadir, after 60 min, needed 25 %, when the gun jams, or slips, needed",
            "leave as is, after 30 min",
            "K-1, when the approach does not work",
            "",
        ]
    );
    let presses = crate::day::presses(db, &"E-1".into(), None).await.unwrap();
    assert_eq!(presses.iter().map(|press| press.step).collect::<Vec<_>>(), [Some(1), None]);
}
