-- The highest number among the codes of a kind is asked for whenever a record is made without a
-- code; among 1,000,000 attempts looking at each took a second.
CREATE INDEX register_by_number ON register (kind, length(code), code);

PRAGMA user_version = 212;
