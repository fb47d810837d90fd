-- What the vehicle may not do meanwhile, because of what attempts and outside items left behind.

CREATE TABLE vehicle_constraint (
    code              TEXT PRIMARY KEY NOT NULL,
    forbidden         TEXT NOT NULL,
    function          TEXT,
    owner             TEXT,
    attempts          TEXT NOT NULL DEFAULT '',
    outside_items     TEXT NOT NULL DEFAULT '',
    findings          TEXT NOT NULL DEFAULT '',
    since             TEXT,
    safe_until        TEXT,
    safe_until_flight TEXT REFERENCES flight (code),
    safe_until_words  TEXT,
    task              TEXT REFERENCES task (code),
    ends_when         TEXT,
    author            TEXT,
    lifted_by         TEXT,
    lifted_on         TEXT,
    lift_reason       TEXT NOT NULL DEFAULT '',
    lift_evidence     TEXT NOT NULL DEFAULT '',
    checked           TEXT
) STRICT;
CREATE INDEX vehicle_constraint_by_task ON vehicle_constraint (task);
CREATE INDEX vehicle_constraint_by_flight ON vehicle_constraint (safe_until_flight);

-- A table of constraints may be imported before the attempts that it names, so this is no reference.
CREATE TABLE constraint_attempt (
    vehicle_constraint TEXT NOT NULL REFERENCES vehicle_constraint (code),
    attempt            TEXT NOT NULL,
    PRIMARY KEY (attempt, vehicle_constraint)
) STRICT, WITHOUT ROWID;
CREATE INDEX constraint_attempt_by_constraint ON constraint_attempt (vehicle_constraint);

-- The record whose date comes before the task's own needed-by date: a constraint, an outside item.
ALTER TABLE standing ADD COLUMN need_from TEXT;

PRAGMA user_version = 180;
