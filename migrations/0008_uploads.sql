-- Tables that were sent in and are being looked at before they are taken.
CREATE TABLE upload (
    code          TEXT PRIMARY KEY NOT NULL,
    person        TEXT NOT NULL REFERENCES person (name) ON UPDATE CASCADE ON DELETE CASCADE,
    kind          TEXT NOT NULL,
    name          TEXT NOT NULL,
    bytes         BLOB NOT NULL,
    sent_at       INTEGER NOT NULL
) STRICT;
CREATE INDEX upload_by_person ON upload (person, sent_at);

-- Every step says which one the file has reached.
PRAGMA user_version = 8;
