-- What worked on a sister and was not taken up by a unit, with the reason.

CREATE TABLE decline (
    code          TEXT PRIMARY KEY NOT NULL,
    attempt       TEXT NOT NULL REFERENCES attempt (code),
    task          TEXT NOT NULL REFERENCES task (code),
    words         TEXT NOT NULL DEFAULT '',
    author        TEXT,
    written_on    TEXT,
    UNIQUE (attempt, task)
) STRICT;
CREATE INDEX decline_by_task ON decline (task);

PRAGMA user_version = 61;
