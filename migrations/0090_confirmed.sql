-- What was asked about an attempt because it is unlikely, who answered, and when.

ALTER TABLE attempt ADD COLUMN confirmed TEXT;

PRAGMA user_version = 90;
