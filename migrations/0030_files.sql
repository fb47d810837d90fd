-- Photographs and files. Their bytes stand in the data directory under `files/`, by their hash.
CREATE TABLE file (
    code          TEXT PRIMARY KEY NOT NULL,
    attempt       TEXT REFERENCES attempt (code),
    finding       TEXT REFERENCES finding (code),
    outside_item  TEXT REFERENCES outside_item (code),
    caption       TEXT,
    on_paper      INTEGER NOT NULL DEFAULT 0 CHECK (on_paper IN (0, 1)),
    name          TEXT NOT NULL CHECK (length(name) > 0),
    media         TEXT NOT NULL,
    bytes         INTEGER NOT NULL CHECK (bytes > 0),
    width         INTEGER CHECK (width > 0),
    height        INTEGER CHECK (height > 0),
    hash          TEXT NOT NULL CHECK (length(hash) = 64),
    preview       TEXT CHECK (length(preview) = 64),
    CHECK ((attempt IS NOT NULL) + (finding IS NOT NULL) + (outside_item IS NOT NULL) = 1),
    CHECK ((width IS NULL) = (height IS NULL) AND (width IS NULL) = (preview IS NULL))
) STRICT;
CREATE INDEX file_by_attempt ON file (attempt);
CREATE INDEX file_by_finding ON file (finding);
CREATE INDEX file_by_outside_item ON file (outside_item);

PRAGMA user_version = 30;
