-- The last change of the slots of each excursion: what it did to figures and gates, and the way
-- back from it. The change log keeps every change; this keeps the last one at hand.
CREATE TABLE lane_change (
    excursion     TEXT PRIMARY KEY NOT NULL REFERENCES excursion (code),
    number        INTEGER NOT NULL,
    at            INTEGER NOT NULL,
    who           TEXT NOT NULL,
    words         TEXT NOT NULL CHECK (length(words) > 0),
    effect        TEXT NOT NULL CHECK (json_valid(effect)),
    way_back      TEXT NOT NULL CHECK (json_valid(way_back))
) STRICT;

-- Every step says which one the file has reached.
PRAGMA user_version = 10;
