-- What each revision of a technique says, as it flew: who made it, what it answers, who cleared it.

CREATE TABLE revision (
    code          TEXT PRIMARY KEY NOT NULL,
    technique     TEXT NOT NULL REFERENCES technique (code),
    number        INTEGER NOT NULL CHECK (number >= 0),
    changed       TEXT NOT NULL DEFAULT '',
    changes_work  INTEGER NOT NULL DEFAULT 0 CHECK (changes_work IN (0, 1)),
    answers       TEXT NOT NULL DEFAULT '',
    author        TEXT,
    made_on       TEXT,
    cleared_by    TEXT,
    cleared_on    TEXT,
    evidence      TEXT NOT NULL DEFAULT '',
    sides         TEXT NOT NULL DEFAULT '',
    tools         TEXT NOT NULL DEFAULT '',
    seats         INTEGER CHECK (seats IN (1, 2)),
    optimistic    INTEGER CHECK (optimistic >= 0),
    likely        INTEGER CHECK (likely >= 0),
    pessimistic   INTEGER CHECK (pessimistic >= 0),
    steps         TEXT NOT NULL DEFAULT '',
    UNIQUE (technique, number),
    CHECK (cleared_by IS NULL OR author IS NULL OR lower(cleared_by) <> lower(author))
) STRICT;

PRAGMA user_version = 60;
