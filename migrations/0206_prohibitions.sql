-- The words of an attempt for which a constraint stands, whether or not it words them alike.

ALTER TABLE constraint_attempt ADD COLUMN stands_for TEXT;
UPDATE constraint_attempt SET stands_for =
    (SELECT forbids FROM attempt WHERE attempt.code = constraint_attempt.attempt);

PRAGMA user_version = 206;
