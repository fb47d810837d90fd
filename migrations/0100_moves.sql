-- A set slot that moved to an earlier excursion names the slot that took its place there: the move
-- is told by its history, and no deferral is written.
ALTER TABLE slot_step ADD COLUMN moved_to TEXT REFERENCES slot (code);

PRAGMA user_version = 100;
