-- What an attempt says of the hardware outside, in words that can be held against the outside list.
ALTER TABLE attempt ADD COLUMN outside_after TEXT
    CHECK (outside_after IN ('temporary hardware left', 'nothing left', 'item brought in'));
ALTER TABLE attempt ADD COLUMN outside_items TEXT NOT NULL DEFAULT '';
CREATE INDEX attempt_by_outside_after ON attempt (outside_after) WHERE outside_after IS NOT NULL;

PRAGMA user_version = 51;
