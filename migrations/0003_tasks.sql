-- Families, units and where they stood, techniques, tools, tasks and their links.

CREATE TABLE family (
    code          TEXT PRIMARY KEY NOT NULL,
    name          TEXT,
    notes         TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE unit (
    code          TEXT PRIMARY KEY NOT NULL,
    family        TEXT NOT NULL REFERENCES family (code),
    serial        TEXT,
    notes         TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX unit_by_family ON unit (family, serial);

-- Where a unit stood, from … until. A swap or a move ends one stay and begins another.
CREATE TABLE stay (
    unit          TEXT NOT NULL REFERENCES unit (code),
    ordinal       INTEGER NOT NULL,
    position      TEXT NOT NULL REFERENCES position (code),
    from_day      TEXT,
    until_day     TEXT,
    PRIMARY KEY (unit, ordinal),
    CHECK (from_day IS NULL OR until_day IS NULL OR from_day <= until_day)
) STRICT, WITHOUT ROWID;
CREATE INDEX stay_by_position ON stay (position, from_day);

CREATE TABLE tool (
    code          TEXT PRIMARY KEY NOT NULL,
    name          TEXT NOT NULL,
    mass          REAL,
    volume        REAL,
    on_board      INTEGER CHECK (on_board >= 0),
    arrives_with  TEXT REFERENCES flight (code),
    state         TEXT NOT NULL CHECK (state IN ('usable', 'lost', 'broken')),
    notes         TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX tool_by_flight ON tool (arrives_with);

CREATE TABLE technique (
    code          TEXT PRIMARY KEY NOT NULL,
    name          TEXT NOT NULL,
    family        TEXT REFERENCES family (code),
    task          TEXT REFERENCES task (code),
    revision      INTEGER NOT NULL DEFAULT 1 CHECK (revision >= 0),
    state         TEXT NOT NULL CHECK (state IN ('drafted', 'rehearsed', 'cleared', 'withdrawn')),
    sides         TEXT NOT NULL DEFAULT '',
    tools         TEXT NOT NULL DEFAULT '',
    seats         INTEGER CHECK (seats IN (1, 2)),
    optimistic    INTEGER CHECK (optimistic >= 0),
    likely        INTEGER CHECK (likely >= 0),
    pessimistic   INTEGER CHECK (pessimistic >= 0),
    rehearsal_demanded INTEGER NOT NULL DEFAULT 0 CHECK (rehearsal_demanded IN (0, 1)),
    steps         TEXT NOT NULL DEFAULT '',
    notes         TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX technique_by_family ON technique (family);
CREATE INDEX technique_by_task ON technique (task);

-- The tools a technique needs, kept beside its cell so that a tool knows where it is needed.
CREATE TABLE technique_tool (
    technique     TEXT NOT NULL REFERENCES technique (code),
    tool          TEXT NOT NULL REFERENCES tool (code),
    PRIMARY KEY (technique, tool)
) STRICT, WITHOUT ROWID;
CREATE INDEX technique_tool_by_tool ON technique_tool (tool);

CREATE TABLE rehearsal (
    code          TEXT PRIMARY KEY NOT NULL,
    technique     TEXT NOT NULL REFERENCES technique (code),
    revision      INTEGER,
    side          TEXT,
    kind          TEXT NOT NULL CHECK (kind IN ('tank', '1-g', 'analysis')),
    day           TEXT,
    success       INTEGER NOT NULL CHECK (success IN (0, 1)),
    minutes       INTEGER CHECK (minutes >= 0),
    notes         TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX rehearsal_by_technique ON rehearsal (technique, day);

CREATE TABLE task (
    code          TEXT PRIMARY KEY NOT NULL,
    title         TEXT NOT NULL,
    family        TEXT REFERENCES family (code),
    position      TEXT REFERENCES position (code),
    worksite      TEXT REFERENCES worksite (code),
    sides         TEXT NOT NULL DEFAULT '',
    class         TEXT CHECK (class IN ('1', '2', '3', '4', '5')),
    needed_by_flight TEXT REFERENCES flight (code),
    needed_by_day TEXT,
    late_means    TEXT,
    late_is_moot  INTEGER NOT NULL DEFAULT 0 CHECK (late_is_moot IN (0, 1)),
    back_inside_by TEXT REFERENCES flight (code),
    optimistic    INTEGER CHECK (optimistic >= 0),
    likely        INTEGER CHECK (likely >= 0),
    pessimistic   INTEGER CHECK (pessimistic >= 0),
    estimator     TEXT,
    seats         INTEGER CHECK (seats IN (1, 2)),
    work_rate     TEXT CHECK (work_rate IN ('light', 'moderate', 'heavy')),
    lighting      TEXT NOT NULL CHECK (lighting IN ('any', 'daylight only', 'night only')),
    arm           INTEGER NOT NULL DEFAULT 0 CHECK (arm IN (0, 1)),
    takes_out     REAL,
    brings_in     REAL,
    inhibits      TEXT,
    hazards       TEXT NOT NULL DEFAULT '',
    notes         TEXT NOT NULL DEFAULT '',
    opened        TEXT,
    opened_after  TEXT REFERENCES flight (code),
    from_excursion TEXT REFERENCES excursion (code),
    triggered     INTEGER NOT NULL DEFAULT 0 CHECK (triggered IN (0, 1)),
    CHECK (optimistic IS NULL OR likely IS NULL OR optimistic <= likely),
    CHECK (likely IS NULL OR pessimistic IS NULL OR likely <= pessimistic)
) STRICT;
CREATE INDEX task_by_family ON task (family);
CREATE INDEX task_by_position ON task (position);
CREATE INDEX task_by_worksite ON task (worksite);
CREATE INDEX task_by_need ON task (needed_by_flight);
CREATE INDEX task_by_origin ON task (from_excursion);

CREATE TABLE link (
    code          TEXT PRIMARY KEY NOT NULL,
    task          TEXT NOT NULL REFERENCES task (code),
    kind          TEXT NOT NULL CHECK (kind IN ('needs', 'same visit as', 'continues',
                      'makes permanent', 'undoes', 'instead of', 'only if')),
    other         TEXT NOT NULL REFERENCES task (code),
    words         TEXT,
    UNIQUE (task, kind, other),
    CHECK (task <> other)
) STRICT;
CREATE INDEX link_by_other ON link (other, kind);
