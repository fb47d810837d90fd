-- What must be switched off before work is safe, what became of that on each excursion, and who is
-- trained in what.

CREATE TABLE inhibit (
    code  TEXT PRIMARY KEY NOT NULL,
    what  TEXT NOT NULL,
    owner TEXT,
    lead  INTEGER CHECK (lead >= 0),
    cost  TEXT,
    notes TEXT NOT NULL DEFAULT ''
) STRICT;

-- One state an inhibit and excursion; none is “not asked for”.
CREATE TABLE arrangement (
    code      TEXT PRIMARY KEY NOT NULL,
    inhibit   TEXT NOT NULL REFERENCES inhibit (code),
    excursion TEXT NOT NULL REFERENCES excursion (code),
    state     TEXT NOT NULL CHECK (state IN ('asked', 'arranged', 'in place', 'released')),
    from_pet  INTEGER,
    until_pet INTEGER,
    notes     TEXT NOT NULL DEFAULT '',
    CHECK (until_pet >= from_pet),
    UNIQUE (excursion, inhibit)
) STRICT;
CREATE INDEX arrangement_by_inhibit ON arrangement (inhibit);

-- The inhibits that a task needs, by code; the words of `inhibits` stay as they were entered.
ALTER TABLE task ADD COLUMN needs_inhibits TEXT NOT NULL DEFAULT '';

-- Rewritten with its task, so that who needs an inhibit is found by it.
CREATE TABLE task_inhibit (
    task    TEXT NOT NULL REFERENCES task (code),
    inhibit TEXT NOT NULL REFERENCES inhibit (code),
    PRIMARY KEY (task, inhibit)
) STRICT, WITHOUT ROWID;
CREATE INDEX task_inhibit_by_inhibit ON task_inhibit (inhibit);

CREATE TABLE qualification (
    code      TEXT PRIMARY KEY NOT NULL,
    crew      TEXT NOT NULL,
    technique TEXT NOT NULL REFERENCES technique (code),
    revision  INTEGER,
    side      TEXT,
    day       TEXT,
    place     TEXT,
    notes     TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX qualification_by_technique ON qualification (technique);
CREATE INDEX qualification_by_crew ON qualification (crew);

ALTER TABLE technique ADD COLUMN training_demanded INTEGER NOT NULL DEFAULT 0
    CHECK (training_demanded IN (0, 1));

PRAGMA user_version = 17;
