-- What each attempt tells and the cause that decides, kept beside it for lists, counts and look-ups;
-- the remedies that did not hold. Derived and written as `standing` is, and compared by `holdover check`.

ALTER TABLE attempt ADD COLUMN told TEXT NOT NULL DEFAULT 'nothing'
    CHECK (told IN ('success', 'failure', 'nothing'));
ALTER TABLE attempt ADD COLUMN told_cause TEXT REFERENCES cause (code);
-- It failed, no finding names it, and its task is open.
ALTER TABLE attempt ADD COLUMN unexplained INTEGER NOT NULL DEFAULT 0 CHECK (unexplained IN (0, 1));
-- Within a cause and a side the rows lie in the order of entry, so that the newest are read alone.
CREATE INDEX attempt_by_told_cause ON attempt (told_cause, side) WHERE told_cause IS NOT NULL;
-- Causes are counted by any of these without reading an attempt.
CREATE INDEX attempt_told ON attempt (told_cause, excursion, technique, side, worksite)
    WHERE told_cause IS NOT NULL;
CREATE INDEX attempt_unexplained ON attempt (excursion) WHERE unexplained = 1;

-- A failure after a verified remedy that was to prevent it.
CREATE TABLE not_held (
    remedy        TEXT NOT NULL REFERENCES remedy (code) ON DELETE CASCADE,
    attempt       TEXT NOT NULL REFERENCES attempt (code) ON DELETE CASCADE,
    task          TEXT NOT NULL REFERENCES task (code),
    -- Another verified remedy names that failure, so the question is closed again.
    is_answered   INTEGER NOT NULL CHECK (is_answered IN (0, 1)),
    PRIMARY KEY (remedy, attempt)
) STRICT, WITHOUT ROWID;
CREATE INDEX not_held_by_task ON not_held (task);
CREATE INDEX not_held_by_attempt ON not_held (attempt);
CREATE INDEX not_held_open ON not_held (remedy) WHERE is_answered = 0;

-- By which rules the stored copies were derived. A program with newer ones derives them all anew.
CREATE TABLE derived (
    one           INTEGER PRIMARY KEY CHECK (one = 1),
    rules         INTEGER NOT NULL
) STRICT;
INSERT INTO derived (one, rules) VALUES (1, 0);

PRAGMA user_version = 40;
