-- Stored copies of derived things, for filtering and sorting. Written only by the operation that
-- derives them, in the same transaction; `holdover check` derives them anew and compares.

CREATE TABLE standing (
    -- The task's entry in the register, which is its row in `task_words` too: the search compares
    -- numbers and never reads a text to find out whose it is.
    entry         INTEGER PRIMARY KEY,
    task          TEXT NOT NULL UNIQUE REFERENCES task (code),
    state         TEXT NOT NULL CHECK (state IN ('dropped', 'done', 'parked', 'slotted', 'part done', 'open')),
    -- 1 for an open item that counts in the backlog, 0 for ended tasks and untriggered contingencies.
    is_open       INTEGER NOT NULL CHECK (is_open IN (0, 1)),
    share_left    INTEGER NOT NULL,
    carry_count   INTEGER NOT NULL,
    deferred_before INTEGER NOT NULL,
    why           TEXT NOT NULL,       -- the kind of reason it is open
    why_words     TEXT NOT NULL,       -- the sentence of the last event
    why_event     TEXT,                -- kind and code of the event behind it
    class         TEXT NOT NULL,       -- '9' where unknown, so that it sorts last
    need_day      TEXT NOT NULL,       -- '9999-12-31' where nothing needs it
    in_danger     INTEGER NOT NULL CHECK (in_danger IN (0, 1)),
    in_question   INTEGER NOT NULL CHECK (in_question IN (0, 1)),
    twice_same    INTEGER NOT NULL CHECK (twice_same IN (0, 1)),
    held_tool     INTEGER NOT NULL CHECK (held_tool IN (0, 1)),
    held_order    INTEGER NOT NULL CHECK (held_order IN (0, 1)),
    held_remedy   INTEGER NOT NULL CHECK (held_remedy IN (0, 1)),
    worksite      TEXT,
    family        TEXT,
    title         TEXT NOT NULL,
    undated       INTEGER NOT NULL CHECK (undated IN (0, 1))
) STRICT;
CREATE INDEX standing_by_rank ON standing (is_open, class, need_day, carry_count DESC, task);
CREATE INDEX standing_by_code ON standing (is_open, task);
CREATE INDEX standing_by_need ON standing (is_open, need_day, class, task);
CREATE INDEX standing_by_carry ON standing (is_open, carry_count DESC, class, task);
CREATE INDEX standing_by_title ON standing (is_open, title, task);
CREATE INDEX standing_by_site ON standing (is_open, worksite, class, need_day, carry_count DESC, task);
CREATE INDEX standing_by_family ON standing (is_open, family, class, need_day, carry_count DESC, task);
CREATE INDEX standing_by_state ON standing (state, task);
CREATE INDEX standing_in_danger ON standing (class, need_day, task) WHERE in_danger = 1;

-- The flights that a task touches: tried on, deferred from, slotted on.
CREATE TABLE task_flight (
    flight        TEXT NOT NULL REFERENCES flight (code),
    task          TEXT NOT NULL REFERENCES task (code),
    PRIMARY KEY (flight, task)
) STRICT, WITHOUT ROWID;
CREATE INDEX task_flight_by_task ON task_flight (task);

-- The words of a task with those of its attempts, findings and remedies, for the search.
CREATE VIRTUAL TABLE task_words USING fts5 (
    task UNINDEXED, code, title, notes, record,
    tokenize = 'unicode61 remove_diacritics 2', prefix = '2 3'
);
CREATE VIRTUAL TABLE event_words USING fts5 (
    code UNINDEXED, kind UNINDEXED, words, notes,
    tokenize = 'unicode61 remove_diacritics 2', prefix = '2 3'
);
