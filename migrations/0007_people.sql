-- Links that let a person choose a password, once. Without a person: the first administrator.
CREATE TABLE one_time_link (
    token_hash    BLOB PRIMARY KEY NOT NULL,
    person        TEXT REFERENCES person (name) ON UPDATE CASCADE ON DELETE CASCADE,
    ends_at       INTEGER NOT NULL
) STRICT;
CREATE INDEX one_time_link_by_person ON one_time_link (person);

-- Whose session had ended, where that is known; the form then comes back to nobody else.
ALTER TABLE held_form ADD COLUMN person TEXT;
CREATE INDEX held_form_by_time ON held_form (held_at);
CREATE INDEX session_by_use ON session (seen_at);

-- "Hold": the file says whose it is, and which step it has reached.
PRAGMA application_id = 0x486f6c64;
PRAGMA user_version = 7;
