-- A session that somebody ended is known for a while, so that a form that its window still sends is
-- kept for its person.
ALTER TABLE session ADD COLUMN is_ended INTEGER NOT NULL DEFAULT 0 CHECK (is_ended IN (0, 1));

PRAGMA user_version = 141;
