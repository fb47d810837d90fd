-- What the open units of each family hear of their sisters, an approach a row, so that the first page
-- need not work it out for every family. Derived and written as `standing` is, and compared by
-- `holdover check`.

CREATE TABLE heard (
    what          TEXT NOT NULL CHECK (what IN ('in question', 'offered')),
    family        TEXT NOT NULL REFERENCES family (code),
    technique     TEXT NOT NULL,
    side          TEXT NOT NULL,
    -- The failure that put it in question on the first of them, or the attempt that ended done.
    attempt       TEXT NOT NULL REFERENCES attempt (code) ON DELETE CASCADE,
    -- How many open units hear of it, and the tasks of the first of them.
    units         INTEGER NOT NULL CHECK (units > 0),
    named         TEXT NOT NULL,
    PRIMARY KEY (what, family, technique, side)
) STRICT, WITHOUT ROWID;
CREATE INDEX heard_by_family ON heard (family);
CREATE INDEX heard_by_attempt ON heard (attempt);

PRAGMA user_version = 160;
