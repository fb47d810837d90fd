-- Personal addresses under which a calendar and the changes can be had without signing in. Only the
-- hash of the secret in the address is kept; a person has one at most.

CREATE TABLE feed (
    person        TEXT PRIMARY KEY NOT NULL REFERENCES person (name) ON UPDATE CASCADE ON DELETE CASCADE,
    hash          BLOB NOT NULL UNIQUE,
    made_at       INTEGER NOT NULL,
    used_at       INTEGER
) STRICT;

PRAGMA user_version = 181;
