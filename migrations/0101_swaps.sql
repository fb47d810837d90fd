-- A task that takes a unit out and puts another in; what an attempt at it took out and put in; and
-- how the stays of both units stood before and after, so that a correction can put them back.
ALTER TABLE task ADD COLUMN swaps_unit INTEGER NOT NULL DEFAULT 0 CHECK (swaps_unit IN (0, 1));
ALTER TABLE attempt ADD COLUMN came_out TEXT;
ALTER TABLE attempt ADD COLUMN went_in TEXT;

CREATE TABLE swapped_stay (
    attempt       TEXT NOT NULL,
    unit          TEXT NOT NULL REFERENCES unit (code),
    before        TEXT NOT NULL CHECK (json_valid(before)),
    after         TEXT NOT NULL CHECK (json_valid(after)),
    PRIMARY KEY (attempt, unit)
) STRICT, WITHOUT ROWID;
CREATE INDEX swapped_stay_by_unit ON swapped_stay (unit);

PRAGMA user_version = 101;
