-- What the reckoning takes as given: bounds and factors, and the rates of the suits.

-- At most one row. An empty cell is the default that stands in the program.
CREATE TABLE settings (
    code               TEXT PRIMARY KEY NOT NULL CHECK (code = 'TEAM'),
    tight_from         INTEGER,
    met_from           INTEGER,
    crew_day           REAL,
    slow_from          REAL,
    slow_by            REAL,
    near_critical_beta REAL,
    rehearsal_days     INTEGER,
    supply_reserve     INTEGER,
    class_1            REAL,
    class_2            REAL,
    class_3            REAL,
    class_4            REAL,
    class_5            REAL,
    of_dependents      INTEGER,
    waiting            INTEGER,
    why                TEXT NOT NULL DEFAULT ''
) STRICT;

-- By whom a suit is worn; an empty crew code stands for everyone without rates of their own.
CREATE TABLE suit_rates (
    code           TEXT PRIMARY KEY NOT NULL,
    crew           TEXT,
    light          REAL NOT NULL,
    moderate       REAL NOT NULL,
    heavy          REAL NOT NULL,
    overhead       REAL NOT NULL,
    quotient       REAL NOT NULL,
    leakage        REAL NOT NULL,
    external_work  INTEGER NOT NULL,
    electrics      REAL NOT NULL,
    environment    REAL NOT NULL,
    water_heat     REAL NOT NULL,
    source         TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX suit_rates_by_crew ON suit_rates (coalesce(crew, ''));

PRAGMA user_version = 16;
