-- What an attempt leaves of its task. `share` stays for records that say what an attempt added.
ALTER TABLE attempt ADD COLUMN left_after INTEGER
    CHECK (left_after BETWEEN 0 AND 100 AND (left_after IS NULL OR share IS NULL));

-- The attempt after which nobody knows how much of the task is left; derived as the rest is.
ALTER TABLE standing ADD COLUMN left_unknown TEXT;
CREATE INDEX standing_left_unknown ON standing (task) WHERE left_unknown IS NOT NULL;

PRAGMA user_version = 80;
