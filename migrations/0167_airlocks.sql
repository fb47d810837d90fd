-- Whether an airlock takes seats in one by one, beside the setting for all of them.
ALTER TABLE worksite ADD COLUMN one_by_one INTEGER NOT NULL DEFAULT 0 CHECK (one_by_one IN (0, 1));

PRAGMA user_version = 167;
