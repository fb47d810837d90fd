-- The tables that people send in and look at stand as files beside the database, so that a large one
-- is read as a stream. Those under way are sent again.
DROP TABLE upload;
CREATE TABLE upload (
    code          TEXT PRIMARY KEY NOT NULL,
    person        TEXT NOT NULL REFERENCES person (name) ON UPDATE CASCADE ON DELETE CASCADE,
    kind          TEXT NOT NULL,
    name          TEXT NOT NULL,
    sent_at       INTEGER NOT NULL
) STRICT;
CREATE INDEX upload_by_person ON upload (person, sent_at);

PRAGMA user_version = 165;
