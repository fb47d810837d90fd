-- What happened to a task: slots, attempts, deferrals, endings.

CREATE TABLE cause (
    code          TEXT PRIMARY KEY NOT NULL,
    words         TEXT NOT NULL,
    cause_group   TEXT NOT NULL,
    scope         TEXT NOT NULL CHECK (scope IN ('approach', 'hardware', 'outside', 'diagnosis'))
) STRICT;

CREATE TABLE slot (
    code          TEXT PRIMARY KEY NOT NULL,
    task          TEXT NOT NULL REFERENCES task (code),
    excursion     TEXT NOT NULL REFERENCES excursion (code),
    technique     TEXT REFERENCES technique (code),
    side          TEXT,
    seats         TEXT NOT NULL DEFAULT '',
    place         INTEGER,
    state         TEXT NOT NULL CHECK (state IN ('pencilled', 'set', 'flown', 'withdrawn')),
    share         INTEGER CHECK (share BETWEEN 1 AND 100),
    stopping_point TEXT,
    if_it_fails   TEXT,
    must_do       INTEGER NOT NULL DEFAULT 0 CHECK (must_do IN (0, 1)),
    set_on        TEXT,
    optimistic    INTEGER,
    likely        INTEGER,
    pessimistic   INTEGER,
    estimator     TEXT,
    waived_gate   TEXT,
    waiver        TEXT,
    CHECK (waiver IS NULL OR waived_gate IS NOT NULL)
) STRICT;
CREATE INDEX slot_by_task ON slot (task, state);
CREATE INDEX slot_by_excursion ON slot (excursion, place, code);
CREATE INDEX slot_by_state ON slot (state, excursion);
CREATE INDEX slot_by_technique ON slot (technique);

-- A slot's states, dated: a backtest must know what stood when.
CREATE TABLE slot_step (
    slot          TEXT NOT NULL REFERENCES slot (code),
    ordinal       INTEGER NOT NULL,
    state         TEXT NOT NULL,
    at            INTEGER NOT NULL,
    who           TEXT NOT NULL,
    why           TEXT,
    PRIMARY KEY (slot, ordinal)
) STRICT, WITHOUT ROWID;

-- The gate verdicts as they stood when the slot was set.
CREATE TABLE slot_gate (
    slot          TEXT NOT NULL REFERENCES slot (code),
    gate          TEXT NOT NULL,
    verdict       TEXT NOT NULL CHECK (verdict IN ('met', 'tight', 'not met', 'cannot tell', 'not checked')),
    reason        TEXT NOT NULL,
    at            INTEGER NOT NULL,
    PRIMARY KEY (slot, gate)
) STRICT, WITHOUT ROWID;

CREATE TABLE waiver (
    slot          TEXT NOT NULL REFERENCES slot (code),
    gate          TEXT NOT NULL,
    reason        TEXT NOT NULL CHECK (length(reason) > 0),
    who           TEXT NOT NULL,
    at            INTEGER NOT NULL,
    PRIMARY KEY (slot, gate)
) STRICT, WITHOUT ROWID;

CREATE TABLE attempt (
    code          TEXT PRIMARY KEY NOT NULL,
    task          TEXT NOT NULL REFERENCES task (code),
    excursion     TEXT NOT NULL REFERENCES excursion (code),
    slot          TEXT REFERENCES slot (code),
    seats         TEXT NOT NULL DEFAULT '',
    technique     TEXT REFERENCES technique (code),
    revision      INTEGER,
    side          TEXT,
    pet_start     INTEGER CHECK (pet_start >= 0),
    pet_end       INTEGER CHECK (pet_end >= 0),
    minutes       INTEGER CHECK (minutes >= 0),
    outcome       TEXT NOT NULL CHECK (outcome IN ('done', 'part done', 'not completed', 'not reached')),
    share         INTEGER CHECK (share BETWEEN 0 AND 100),
    planned_share INTEGER CHECK (planned_share BETWEEN 0 AND 100),
    cause         TEXT REFERENCES cause (code),
    words         TEXT NOT NULL DEFAULT '',
    measured      TEXT NOT NULL DEFAULT '',
    last_step     TEXT,
    as_left       TEXT NOT NULL DEFAULT '',
    safe_until    TEXT,
    safe_until_flight TEXT REFERENCES flight (code),
    forbids       TEXT,
    temporary     TEXT,
    function_after TEXT CHECK (function_after IN ('restored', 'not restored', 'not checked')),
    tools         TEXT NOT NULL DEFAULT '',
    unit          TEXT REFERENCES unit (code),
    serial        TEXT,
    position      TEXT REFERENCES position (code),
    worksite      TEXT REFERENCES worksite (code),
    cut_off       INTEGER,
    recorded_by   TEXT,
    -- Came in from a file; without a slot it counts as planned at launch.
    imported      INTEGER NOT NULL DEFAULT 0 CHECK (imported IN (0, 1)),
    CHECK (pet_start IS NULL OR pet_end IS NULL OR pet_start <= pet_end)
) STRICT;
CREATE INDEX attempt_by_task ON attempt (task);
CREATE INDEX attempt_by_excursion ON attempt (excursion);
CREATE INDEX attempt_by_cause ON attempt (cause);
CREATE INDEX attempt_by_technique ON attempt (technique, side);
CREATE INDEX attempt_by_unit ON attempt (unit);
CREATE INDEX attempt_by_slot ON attempt (slot);

CREATE TABLE deferral (
    code          TEXT PRIMARY KEY NOT NULL,
    task          TEXT NOT NULL REFERENCES task (code),
    excursion     TEXT NOT NULL REFERENCES excursion (code),
    slot          TEXT REFERENCES slot (code),
    phase         TEXT NOT NULL CHECK (phase IN ('before launch', 'in flight before egress', 'during')),
    reason        TEXT NOT NULL,
    words         TEXT NOT NULL DEFAULT '',
    decided_by    TEXT,
    to_excursion  TEXT REFERENCES excursion (code),
    day           TEXT
) STRICT;
CREATE INDEX deferral_by_task ON deferral (task);
CREATE INDEX deferral_by_excursion ON deferral (excursion);
CREATE INDEX deferral_by_slot ON deferral (slot);

CREATE TABLE closure (
    code          TEXT PRIMARY KEY NOT NULL,
    task          TEXT NOT NULL REFERENCES task (code),
    kind          TEXT NOT NULL,
    duplicate_of  TEXT REFERENCES task (code),
    words         TEXT NOT NULL DEFAULT '',
    evidence      TEXT NOT NULL DEFAULT '',
    day           TEXT,
    CHECK ((kind = 'duplicate of') = (duplicate_of IS NOT NULL))
) STRICT;
CREATE INDEX closure_by_task ON closure (task);

CREATE TABLE parking (
    code          TEXT PRIMARY KEY NOT NULL,
    task          TEXT NOT NULL REFERENCES task (code),
    why           TEXT NOT NULL,
    until_day     TEXT,
    until_flight  TEXT REFERENCES flight (code),
    day           TEXT
) STRICT;
CREATE INDEX parking_by_task ON parking (task);

CREATE TABLE reopening (
    code          TEXT PRIMARY KEY NOT NULL,
    task          TEXT NOT NULL REFERENCES task (code),
    share_left    INTEGER NOT NULL CHECK (share_left BETWEEN 1 AND 100),
    words         TEXT NOT NULL,
    day           TEXT
) STRICT;
CREATE INDEX reopening_by_task ON reopening (task);

-- What an excursion took out, and what came back of it.
CREATE TABLE excursion_tool (
    code          TEXT PRIMARY KEY NOT NULL,
    excursion     TEXT NOT NULL REFERENCES excursion (code),
    tool          TEXT NOT NULL REFERENCES tool (code),
    taken_out     INTEGER NOT NULL CHECK (taken_out >= 0),
    brought_in    INTEGER CHECK (brought_in >= 0),
    left_outside  INTEGER CHECK (left_outside >= 0),
    lost          INTEGER CHECK (lost >= 0),
    not_counted   TEXT,
    UNIQUE (excursion, tool)
) STRICT;
CREATE INDEX excursion_tool_by_tool ON excursion_tool (tool);

-- Rows of a debrief that are not valid yet, as typed.
CREATE TABLE debrief_draft (
    excursion     TEXT NOT NULL REFERENCES excursion (code),
    row           TEXT NOT NULL,
    body          TEXT NOT NULL,
    typed_by      TEXT NOT NULL,
    typed_at      INTEGER NOT NULL,
    PRIMARY KEY (excursion, row)
) STRICT, WITHOUT ROWID;
