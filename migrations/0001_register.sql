-- Who may do what, what was changed, and the register of every record.

CREATE TABLE person (
    name          TEXT PRIMARY KEY NOT NULL COLLATE NOCASE CHECK (length(name) BETWEEN 1 AND 64),
    role          TEXT NOT NULL CHECK (role IN ('viewer', 'engineer', 'lead', 'administrator')),
    password      TEXT NOT NULL,                       -- argon2id, PHC string
    active        INTEGER NOT NULL DEFAULT 1 CHECK (active IN (0, 1)),
    theme         TEXT NOT NULL DEFAULT 'system' CHECK (theme IN ('system', 'paper', 'night')),
    seen_change   INTEGER NOT NULL DEFAULT 0,          -- the last change this person has looked at
    made_at       INTEGER NOT NULL
) STRICT;

CREATE TABLE session (
    token_hash    BLOB PRIMARY KEY NOT NULL,           -- SHA-256 of the cookie's token
    person        TEXT NOT NULL REFERENCES person (name) ON UPDATE CASCADE ON DELETE CASCADE,
    csrf          TEXT NOT NULL,
    begun_at      INTEGER NOT NULL,
    seen_at       INTEGER NOT NULL,
    address       TEXT NOT NULL,
    agent         TEXT NOT NULL
) STRICT;
CREATE INDEX session_by_person ON session (person);

-- A form that came in after the session had ended, kept until its person signs in again.
CREATE TABLE held_form (
    token_hash    BLOB PRIMARY KEY NOT NULL,
    path          TEXT NOT NULL,
    body          TEXT NOT NULL,
    held_at       INTEGER NOT NULL
) STRICT;

-- Forms that were taken, by their key: the same form sent twice counts once.
CREATE TABLE taken_form (
    key           TEXT PRIMARY KEY NOT NULL,
    person        TEXT NOT NULL,
    answer        TEXT NOT NULL,                       -- where the browser was sent
    taken_at      INTEGER NOT NULL
) STRICT;
CREATE INDEX taken_form_by_time ON taken_form (taken_at);

-- One row per record of any kind. The row number is the order of entry.
CREATE TABLE register (
    entry         INTEGER PRIMARY KEY AUTOINCREMENT,
    kind          TEXT NOT NULL,
    code          TEXT NOT NULL CHECK (length(code) BETWEEN 1 AND 64),
    version       INTEGER NOT NULL DEFAULT 1 CHECK (version >= 1),
    made_by       TEXT NOT NULL,
    made_at       INTEGER NOT NULL,
    changed_by    TEXT NOT NULL,
    changed_at    INTEGER NOT NULL,
    UNIQUE (kind, code)
) STRICT;
CREATE INDEX register_by_code ON register (code COLLATE NOCASE);

-- Rows of files that carried no code, so that the same file twice adds nothing.
CREATE TABLE imported_row (
    kind          TEXT NOT NULL,
    key           TEXT NOT NULL,                       -- hash of the cells, and the number among equal rows
    code          TEXT NOT NULL,
    PRIMARY KEY (kind, key)
) STRICT, WITHOUT ROWID;

-- Append only; each entry carries the hash of the one before it.
CREATE TABLE change (
    seq           INTEGER PRIMARY KEY,
    at            INTEGER NOT NULL,
    who           TEXT NOT NULL,
    kind          TEXT NOT NULL,
    code          TEXT NOT NULL,
    action        TEXT NOT NULL,
    before        TEXT,                                -- JSON, the cells that changed
    after         TEXT,
    why           TEXT,
    previous      BLOB NOT NULL,
    hash          BLOB NOT NULL UNIQUE
) STRICT;
CREATE INDEX change_by_record ON change (kind, code, seq);
CREATE TRIGGER change_is_never_edited BEFORE UPDATE ON change
BEGIN SELECT RAISE(ABORT, 'the change log is append only'); END;
CREATE TRIGGER change_is_never_removed BEFORE DELETE ON change
BEGIN SELECT RAISE(ABORT, 'the change log is append only'); END;

-- Moves with every commit, so that anything worked out can say on which data.
CREATE TABLE data_version (
    one           INTEGER PRIMARY KEY CHECK (one = 1),
    version       INTEGER NOT NULL,
    -- 1: the demo's, 2: and laid out whole.
    is_demo       INTEGER NOT NULL DEFAULT 0 CHECK (is_demo IN (0, 1, 2))
) STRICT;
INSERT INTO data_version (one, version) VALUES (1, 0);

CREATE TABLE view (
    code          TEXT PRIMARY KEY NOT NULL,
    person        TEXT NOT NULL REFERENCES person (name) ON UPDATE CASCADE ON DELETE CASCADE,
    name          TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 80),
    query         TEXT NOT NULL,
    UNIQUE (person, name)
) STRICT;
