-- The day of an excursion: what people pressed on its board. Presses are kept for good and in the
-- order in which they were saved; an undo is a press too. A practice run has a row of its own, and
-- goes with all its presses.

CREATE TABLE day_run (
    code          TEXT PRIMARY KEY NOT NULL CHECK (length(code) > 0),
    excursion     TEXT NOT NULL REFERENCES excursion (code),
    seed          INTEGER NOT NULL,
    -- Minutes of the excursion in a minute of life.
    pace          INTEGER NOT NULL CHECK (pace BETWEEN 1 AND 120),
    started_at    INTEGER NOT NULL,
    who           TEXT NOT NULL
) STRICT;
CREATE INDEX day_run_by_excursion ON day_run (excursion);

CREATE TABLE day_press (
    number        INTEGER PRIMARY KEY,
    excursion     TEXT NOT NULL REFERENCES excursion (code),
    -- Of a practice run; NULL: the day itself.
    run           TEXT REFERENCES day_run (code) ON DELETE CASCADE,
    key           TEXT NOT NULL CHECK (length(key) BETWEEN 1 AND 200),
    act           TEXT NOT NULL,
    slot          TEXT REFERENCES slot (code),
    pet           INTEGER CHECK (pet BETWEEN 0 AND 1440),
    egress_at     INTEGER,
    undoes        TEXT,
    pressed_at    INTEGER NOT NULL,
    saved_at      INTEGER NOT NULL,
    who           TEXT NOT NULL
) STRICT;
-- A press counts once, whoever sends it again.
CREATE UNIQUE INDEX day_press_once ON day_press (excursion, coalesce(run, ''), key);
CREATE INDEX day_press_by_slot ON day_press (slot);
CREATE INDEX day_press_by_run ON day_press (run);

-- How much of the work is done at a slot's stopping point, in per cent.
ALTER TABLE slot ADD COLUMN stopping_share INTEGER
    CHECK (stopping_share IS NULL OR stopping_share BETWEEN 1 AND 99);

-- If–then of a slot: after those minutes, or when what the words say is seen, the other technique.
ALTER TABLE slot ADD COLUMN trigger_minutes INTEGER;
ALTER TABLE slot ADD COLUMN trigger_words TEXT;
ALTER TABLE slot ADD COLUMN then_technique TEXT REFERENCES technique (code);
ALTER TABLE slot ADD COLUMN then_side TEXT;
ALTER TABLE slot ADD COLUMN then_chance INTEGER
    CHECK (then_chance IS NULL OR then_chance BETWEEN 0 AND 100);

PRAGMA user_version = 170;
