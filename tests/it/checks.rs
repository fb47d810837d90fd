//! The check of the whole record: each rule is broken behind the service's back, and named.

use app::{checks, standing};
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions as _, Connection as _, SqlitePool};
use store::Db;

use crate::small_record::lay;
use crate::support::TestApp;

/// Breaks the small record by these statements, which nothing holds back, and gives what the
/// check says then. Before that it says nothing.
async fn broken(pool: SqlitePool, statements: &'static str) -> Vec<String> {
    let file = pool.connect_options().get_filename().to_owned();
    let test = TestApp::new(pool).await;
    lay(&test.app).await;
    // As the start of the service does: what no rules derived is not compared.
    standing::renew(&test.app).await.unwrap();
    assert_eq!(faults(&test.app.db).await, [] as [String; 0]);
    let options = SqliteConnectOptions::new()
        .filename(file)
        .foreign_keys(false)
        .pragma("ignore_check_constraints", "on");
    let mut raw = options.connect().await.unwrap();
    sqlx::raw_sql(statements).execute(&mut raw).await.unwrap();
    raw.close().await.unwrap();
    faults(&test.app.db).await
}

async fn faults(db: &Db) -> Vec<String> {
    let report = checks::run(db, |_, _| {}).await.unwrap();
    report.faults.into_iter().map(|fault| format!("{}: {}", fault.check, fault.words)).collect()
}

#[track_caller]
fn says(faults: &[String], sentence: &str) {
    assert!(faults.iter().any(|fault| fault.contains(sentence)), "{sentence}: {faults:#?}");
}

#[sqlx::test]
async fn a_state_that_the_events_do_not_give_is_named(pool: SqlitePool) {
    let found = broken(pool, "UPDATE standing SET state = 'open' WHERE task = 'T-1'").await;
    says(&found, "standing: T-1: its stored state differs from its events");
    says(&found, "state is stored as \"open\" and is \"set\"");
}

#[sqlx::test]
async fn a_share_left_that_the_events_do_not_give_is_named(pool: SqlitePool) {
    let found = broken(pool, "UPDATE standing SET share_left = 101 WHERE task = 'T-3'").await;
    says(&found, "standing: T-3: its stored state");
    says(&found, "% left is stored as 101 and is 100");
}

#[sqlx::test]
async fn sister_units_affected_are_compared(pool: SqlitePool) {
    let affected = "INSERT INTO heard (what, family, technique, side, attempt, units, named)
        SELECT 'in question', 'F-1', 'K-1', 'nadir', 'A-404', 2, 'T-2, T-3'";
    let found = broken(pool, affected).await;
    says(&found, "standing: F-1: the sister units affected differ from those stored");
}

#[sqlx::test]
async fn sister_units_affected_in_a_family_without_tasks_are_named(pool: SqlitePool) {
    let affected = "INSERT INTO family (code, name) VALUES ('F-99', NULL);
        INSERT INTO heard (what, family, technique, side, attempt, units, named)
        SELECT 'offered', 'F-99', 'K-1', 'nadir', 'A-404', 2, 'T-2, T-3'";
    let found = broken(pool, affected).await;
    says(&found, "F-99 has no task, and sister units affected are stored for it");
}

#[sqlx::test]
async fn a_carry_count_that_the_events_do_not_give_is_named(pool: SqlitePool) {
    let found = broken(pool, "UPDATE standing SET carry_count = 2 WHERE task = 'T-3'").await;
    says(&found, "carry count is stored as 2 and is 0");
}

#[sqlx::test]
async fn a_last_reason_that_the_events_do_not_give_is_named(pool: SqlitePool) {
    let found = broken(pool, "UPDATE standing SET why_words = 'so' WHERE task = 'T-3'").await;
    says(&found, "last reason is stored as \"so\" and is \"never tried\"");
}

#[sqlx::test]
async fn flights_and_words_that_a_task_does_not_have_are_named(pool: SqlitePool) {
    let statements = "DELETE FROM task_flight WHERE task = 'T-1';
        UPDATE task_words SET notes = 'other' WHERE task = 'T-2'";
    let found = broken(pool, statements).await;
    says(&found, "T-1: its stored state differs from its events: it touches G-37");
    says(&found, "T-2: its stored state differs from its events: its words in the search differ");
}

#[sqlx::test]
async fn a_task_without_its_stored_half_is_named(pool: SqlitePool) {
    let statements = "DELETE FROM standing WHERE task = 'T-3';
        DELETE FROM task_words WHERE task = 'T-2'";
    let found = broken(pool, statements).await;
    says(&found, "tasks: task T-3 lacks how it stands");
    says(&found, "tasks: task T-2 lacks its words for the search");
}

#[sqlx::test]
async fn a_closed_excursion_with_a_result_owing_is_named(pool: SqlitePool) {
    let statements = "UPDATE excursion SET state = 'flown', closed_at = 1 WHERE code = 'E-37.1'";
    let found = broken(pool, statements).await;
    says(&found, "debriefs: S-1 (T-1) is set and has no result, and E-37.1 is closed");
}

#[sqlx::test]
async fn a_set_slot_on_an_excursion_that_was_called_off_is_named(pool: SqlitePool) {
    let statements = "UPDATE excursion SET state = 'called off' WHERE code = 'E-37.1'";
    says(
        &broken(pool, statements).await,
        "S-2 (T-2) is set and has no result, and E-37.1 is called off",
    );
}

#[sqlx::test]
async fn a_pencil_on_an_excursion_that_is_over_is_named(pool: SqlitePool) {
    let statements = "UPDATE slot SET state = 'pencilled';
        UPDATE excursion SET state = 'flown', closed_at = 1 WHERE code = 'E-37.1';
        UPDATE excursion SET state = 'called off' WHERE code = 'E-37.2';
        UPDATE slot SET excursion = 'E-37.2' WHERE code = 'S-2'";
    let found = broken(pool, statements).await;
    says(&found, "pencils: S-1 (T-1) is pencilled, and E-37.1 is closed");
    says(&found, "pencils: S-2 (T-2) is pencilled, and E-37.2 is called off");
}

#[sqlx::test]
async fn set_shares_beyond_the_share_left_are_named(pool: SqlitePool) {
    let statements = "UPDATE slot SET task = 'T-1', share = 70 WHERE code = 'S-2';
        UPDATE slot SET share = 60 WHERE code = 'S-1'";
    let found = broken(pool, statements).await;
    says(&found, "shares: T-1 has 100 % left, and its set slots plan 130 % or more: S-1, S-2");
}

#[sqlx::test]
async fn two_set_slots_that_both_plan_all_that_is_left_are_named(pool: SqlitePool) {
    let found = broken(pool, "UPDATE slot SET task = 'T-1' WHERE code = 'S-2'").await;
    says(&found, "shares: T-1 has 100 % left");
}

#[sqlx::test]
async fn a_finding_that_its_author_reviewed_is_named(pool: SqlitePool) {
    let statements = "INSERT INTO finding (code, author, reviewed_by) VALUES ('N-1', 'odd', 'Odd');
        INSERT INTO exemption (code, task, author, reviewed_by) VALUES ('X-1', 'T-1', 'odd', 'odd')";
    let found = broken(pool, statements).await;
    says(&found, "second person: finding N-1 was reviewed by Odd, its author");
    says(&found, "second person: exemption X-1 was reviewed by odd, its author");
}

#[sqlx::test]
async fn a_remedy_that_its_owner_verified_is_named(pool: SqlitePool) {
    let statements = "INSERT INTO remedy (code, what, reach, state, owner, verified_by)
        VALUES ('R-1', 'a spreader', 'this unit', 'verified', 'odd', 'odd')";
    says(
        &broken(pool, statements).await,
        "second person: remedy R-1 was verified by odd, its owner",
    );
}

/// R-1, owned by tools, verified by odd; and what the change log says of it.
macro_rules! verified_after {
    ($($entry:literal),+) => {
        concat!(
            "INSERT INTO remedy (code, what, reach, state, owner, done_on, verified_by, verified_on,
                 evidence, checked)
             VALUES ('R-1', 'a spreader', 'this unit', 'verified', 'tools', '2030-11-02', 'odd',
                 '2030-11-03', 'seen', 'here');
             INSERT INTO change (seq, at, who, kind, code, action, before, after, previous, hash) VALUES ",
            $($entry, ", "),+,
            "(990, 0, 'odd', 'task', 'T-1', 'looked at', NULL, NULL, x'00', x'ff')"
        )
    };
}

#[sqlx::test]
async fn a_remedy_that_was_verified_by_who_marked_it_done_is_named(pool: SqlitePool) {
    let statements = verified_after!(
        r#"(901, 0, 'even', 'remedy', 'R-1', 'made', NULL, '{"code":"R-1","state":"open"}', x'00', x'01')"#,
        r#"(902, 0, 'Odd', 'remedy', 'R-1', 'changed', '{"state":"open"}', '{"state":"done","done_on":"2030-11-02"}', x'00', x'02')"#,
        r#"(903, 0, 'odd', 'remedy', 'R-1', 'changed', '{"state":"done"}', '{"state":"verified","verified_by":"odd"}', x'00', x'03')"#
    );
    let found = broken(pool, statements).await;
    says(&found, "second person: remedy R-1 was verified by odd, who marked it done on 1970-01-01");
}

#[sqlx::test]
async fn a_verification_that_somebody_else_entered_is_named(pool: SqlitePool) {
    let statements = verified_after!(
        r#"(901, 0, 'even', 'remedy', 'R-1', 'made', NULL, '{"code":"R-1","state":"verified","verified_by":"odd"}', x'00', x'01')"#
    );
    let found = broken(pool, statements).await;
    says(&found, "second person: remedy R-1 was verified by odd, and even entered that");
}

#[sqlx::test]
async fn a_verified_remedy_that_was_changed_since_is_named(pool: SqlitePool) {
    let statements = verified_after!(
        r#"(901, 0, 'even', 'remedy', 'R-1', 'made', NULL, '{"code":"R-1","state":"done"}', x'00', x'01')"#,
        r#"(902, 0, 'odd', 'remedy', 'R-1', 'changed', '{"state":"done"}', '{"state":"verified","verified_by":"odd"}', x'00', x'02')"#,
        r#"(903, 0, 'even', 'remedy', 'R-1', 'changed', '{"reach":"this unit"}', '{"reach":"every unit"}', x'00', x'03')"#
    );
    let found = broken(pool, statements).await;
    says(&found, "remedy R-1 was changed by even on 1970-01-01 after it was verified");
}

#[sqlx::test]
async fn a_verification_that_rests_on_nothing_is_named(pool: SqlitePool) {
    let statements = "INSERT INTO attempt (code, task, excursion, outcome)
            VALUES ('A-1', 'T-1', 'E-37.1', 'not completed');
        INSERT INTO finding (code) VALUES ('N-1');
        INSERT INTO remedy (code, what, reach, state, finding, attempts, done_on, verified_by,
            verified_on) VALUES ('R-1', 'a spreader', 'this unit', 'verified', 'N-1', 'A-1',
            '2030-11-05', 'odd', '2030-11-03');
        INSERT INTO remedy_attempt (remedy, attempt) VALUES ('R-1', 'A-1')";
    let found = broken(pool, statements).await;
    for sentence in [
        "remedy R-1 was verified by odd, and no change says when",
        "remedy R-1 is verified, and there is no evidence",
        "remedy R-1 is verified, and N-1, on which it rests, is not reviewed",
        "remedy R-1 is verified, and it was done on 2030-11-05, after that",
        "remedy R-1 is verified, and A-1 was made on 2031-03-11, after that",
    ] {
        says(&found, sentence);
    }
}

#[sqlx::test]
async fn a_revision_that_its_author_cleared_or_that_is_cleared_in_vain_is_named(pool: SqlitePool) {
    let statements = "UPDATE revision SET author = 'odd', cleared_by = 'Odd', changes_work = 1,
        answers = 'A-1'";
    let found = broken(pool, statements).await;
    says(&found, "second person: revision K-1.1 was cleared by Odd, its author");
    says(&found, "revisions: K-1.1 is cleared as a change of the work without a verified remedy");
}

#[sqlx::test]
async fn tasks_that_come_after_each_other_in_a_ring_are_named(pool: SqlitePool) {
    let statements = "INSERT INTO link (code, task, kind, other) VALUES
        ('J-1', 'T-1', 'needs', 'T-2'), ('J-2', 'T-2', 'undoes', 'T-1')";
    let found = broken(pool, statements).await;
    says(&found, "links: each would come after the next: T-1 needs T-2, T-2 undoes T-1");
}

#[sqlx::test]
async fn tools_of_a_closed_excursion_that_do_not_add_up_are_named(pool: SqlitePool) {
    let statements = "INSERT INTO excursion_tool (code, excursion, tool, taken_out, brought_in)
            VALUES ('M-1', 'E-37.1', 'L-1', 2, 1);
        UPDATE excursion SET state = 'flown', closed_at = 1 WHERE code = 'E-37.1'";
    let found = broken(pool, statements).await;
    says(
        &found,
        "tool counts: L-1 (M-1): 2 went out on E-37.1, which is closed; 1 are accounted for",
    );
}

#[sqlx::test]
async fn a_tool_that_nobody_counted_for_a_reason_is_none(pool: SqlitePool) {
    let statements = "INSERT INTO excursion_tool (code, excursion, tool, taken_out, not_counted)
            VALUES ('M-1', 'E-37.1', 'L-1', 2, 'the bag was shut');
        UPDATE excursion SET state = 'flown', closed_at = 1 WHERE code = 'E-37.1'";
    let found = broken(pool, statements).await;
    assert!(!found.iter().any(|fault| fault.contains("tool counts")), "{found:#?}");
}

#[sqlx::test]
async fn a_flown_slot_on_an_excursion_that_was_not_flown_is_named(pool: SqlitePool) {
    let found = broken(pool, "UPDATE slot SET state = 'flown' WHERE code = 'S-1'").await;
    says(&found, "slots: S-1 (T-1) is flown, and E-37.1 is planned");
    says(&found, "steps: S-1 is flown, and its last step says set");
}

#[sqlx::test]
async fn a_slot_without_any_step_is_named(pool: SqlitePool) {
    let found = broken(pool, "DELETE FROM slot_step WHERE slot = 'S-2'").await;
    says(&found, "steps: S-2 is set, and no step says since when");
}

#[sqlx::test]
async fn a_record_that_the_register_does_not_know_is_named(pool: SqlitePool) {
    let statements = "DELETE FROM register WHERE kind = 'worksite' AND code = 'W-B'";
    says(&broken(pool, statements).await, "register: worksite W-B is not in the register");
}

#[sqlx::test]
async fn an_entry_of_the_register_without_a_record_is_named(pool: SqlitePool) {
    let statements = "INSERT INTO register (kind, code, made_by, made_at, changed_by, changed_at)
        VALUES ('excursion tool', 'M-9', 'odd', 0, 'odd', 0)";
    let found = broken(pool, statements).await;
    says(&found, "register: the register names excursion tool M-9, which is not there");
}

#[sqlx::test]
async fn a_version_that_the_log_does_not_know_is_named(pool: SqlitePool) {
    let found = broken(pool, "UPDATE register SET version = 7 WHERE code = 'T-1'").await;
    says(&found, "versions: task T-1 has version 7, and the change log knows of 1");
}

#[sqlx::test]
async fn an_entry_of_the_log_that_was_edited_or_removed_is_named(pool: SqlitePool) {
    let statements = "DROP TRIGGER change_is_never_edited; DROP TRIGGER change_is_never_removed;
        UPDATE change SET who = 'odd' WHERE seq = 2; DELETE FROM change WHERE seq = 5";
    let found = broken(pool, statements).await;
    says(&found, "change log: entry 2 is not what it was when it was written");
    says(&found, "change log: entry 4 is followed by entry 6");
}

#[sqlx::test]
async fn a_row_that_names_a_missing_one_is_named(pool: SqlitePool) {
    let found = broken(pool, "DELETE FROM worksite WHERE code = 'W-A'").await;
    says(&found, "names a missing row of worksite");
}

#[sqlx::test]
async fn an_attempt_that_cannot_have_been_is_named(pool: SqlitePool) {
    let statements = "UPDATE flight SET landing = '2031-03-20';
        INSERT INTO family (code, name) VALUES ('F-9', 'other');
        INSERT INTO technique (code, name, family, state) VALUES ('K-9', 'other', 'F-9', 'cleared');
        UPDATE excursion SET state = 'flown', actual = 390 WHERE code = 'E-37.1';
        UPDATE task SET opened = '2031-05-01' WHERE code = 'T-1';
        INSERT INTO attempt (code, task, excursion, outcome) VALUES ('A-1', 'T-1', 'E-37.1', 'done');
        INSERT INTO attempt (code, task, excursion, outcome, technique)
            VALUES ('A-2', 'T-2', 'E-37.1', 'done', 'K-9');
        INSERT INTO attempt (code, task, excursion, outcome, side)
            VALUES ('A-3', 'T-2', 'E-37.1', 'done', 'aft');
        INSERT INTO attempt (code, task, excursion, outcome, minutes)
            VALUES ('A-4', 'T-2', 'E-37.1', 'done', 391);
        INSERT INTO attempt (code, task, excursion, outcome, minutes, side, technique)
            VALUES ('A-5', 'T-2', 'E-37.1', 'done', 390, 'zenith', 'K-1');
        UPDATE excursion SET state = 'flown', day = '2031-03-21' WHERE code = 'E-37.2';
        INSERT INTO attempt (code, task, excursion, outcome) VALUES ('A-6', 'T-3', 'E-37.2', 'done')";
    let found = broken(pool, statements).await;
    says(&found, "attempts: A-1 lies before T-1 was opened");
    says(&found, "attempts: A-2 is by K-9, a technique of another family");
    says(&found, "attempts: A-3 is from aft, a side that T-2 lacks");
    says(&found, "attempts: A-4 is longer than E-37.1");
    says(&found, "attempts: A-6 lies outside the flight G-37");
    assert!(!found.iter().any(|fault| fault.starts_with("attempts: A-5")), "{found:#?}");
}

#[sqlx::test]
async fn a_prohibition_for_which_no_constraint_stands_is_named(pool: SqlitePool) {
    let attempt = "INSERT INTO attempt (code, task, excursion, outcome, forbids)
        SELECT 'A-9', 'T-3', 'E-37.1', 'done', 'Fan off';
        INSERT INTO vehicle_constraint (code, forbidden, attempts, task)
        SELECT 'CN-9', 'Fan off', 'A-9', 'T-3';
        INSERT INTO constraint_attempt SELECT 'CN-9', 'A-9', 'Fan off'";
    let found = broken(pool, attempt).await;
    says(&found, "A-9 forbids the vehicle something, and no constraint stands for it");
}

#[sqlx::test]
async fn a_constraint_that_stands_for_other_words_of_its_attempt_is_named(pool: SqlitePool) {
    let attempt = "INSERT INTO attempt (code, task, excursion, outcome, forbids)
        SELECT 'A-9', 'T-3', 'E-37.1', 'part done', 'Fan off';
        INSERT INTO vehicle_constraint (code, forbidden, attempts, task)
        SELECT 'CN-9', 'Fan at half speed', 'A-9', 'T-3';
        INSERT INTO constraint_attempt SELECT 'CN-9', 'A-9', 'Fan at half speed'";
    let found = broken(pool, attempt).await;
    says(&found, "A-9 forbids the vehicle something, and no constraint stands for it");
}
