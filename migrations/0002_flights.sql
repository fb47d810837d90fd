-- Flights, worksites, routes, excursions.

CREATE TABLE flight (
    code          TEXT PRIMARY KEY NOT NULL,
    name          TEXT,
    launch        TEXT,
    landing       TEXT,
    sequence      INTEGER,
    state         TEXT NOT NULL CHECK (state IN ('coming', 'under way', 'flown', 'cancelled')),
    notes         TEXT NOT NULL DEFAULT '',
    -- Derived: the day by which flights are ordered (launch, else the first excursion).
    order_day     TEXT NOT NULL DEFAULT '0000-00-00',
    CHECK (launch IS NULL OR landing IS NULL OR launch <= landing)
) STRICT;
CREATE INDEX flight_in_order ON flight (order_day, sequence, code);

CREATE TABLE worksite (
    code          TEXT PRIMARY KEY NOT NULL,
    name          TEXT,
    setup         INTEGER CHECK (setup >= 0),
    cleanup       INTEGER CHECK (cleanup >= 0),
    map_x         REAL CHECK (map_x BETWEEN 0 AND 100),
    map_y         REAL CHECK (map_y BETWEEN 0 AND 100),
    notes         TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE route (
    code          TEXT PRIMARY KEY NOT NULL,
    from_site     TEXT NOT NULL REFERENCES worksite (code),
    to_site       TEXT NOT NULL REFERENCES worksite (code),
    minutes       INTEGER NOT NULL CHECK (minutes >= 0),
    minutes_back  INTEGER CHECK (minutes_back >= 0),
    aid           TEXT REFERENCES outside_item (code),
    notes         TEXT NOT NULL DEFAULT '',
    CHECK (from_site <> to_site)
) STRICT;
CREATE INDEX route_by_from ON route (from_site);
CREATE INDEX route_by_to ON route (to_site);
CREATE INDEX route_by_aid ON route (aid);

CREATE TABLE position (
    code          TEXT PRIMARY KEY NOT NULL,
    worksite      TEXT REFERENCES worksite (code),
    notes         TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX position_by_worksite ON position (worksite);

CREATE TABLE excursion (
    code          TEXT PRIMARY KEY NOT NULL,
    flight        TEXT REFERENCES flight (code),
    number        INTEGER,
    day           TEXT,
    state         TEXT NOT NULL CHECK (state IN ('planned', 'flown', 'called off')),
    planned       INTEGER CHECK (planned >= 0),
    "limit"       INTEGER CHECK ("limit" >= 0),
    egress        INTEGER CHECK (egress >= 0),
    ingress       INTEGER CHECK (ingress >= 0),
    seats         TEXT NOT NULL DEFAULT '',
    airlock       TEXT REFERENCES worksite (code),
    "deferrable"  INTEGER NOT NULL DEFAULT 0 CHECK ("deferrable" IN (0, 1)),
    flown_chance  INTEGER CHECK (flown_chance BETWEEN 0 AND 100),
    arm_windows   TEXT NOT NULL DEFAULT '',
    orbit_period  REAL,
    orbit_altitude REAL,
    beta          REAL,
    first_sunrise INTEGER,
    oxygen        REAL,
    scrubber      REAL,
    water         REAL,
    battery       INTEGER,
    bag_out       REAL,
    bag_in        REAL,
    tools         TEXT NOT NULL DEFAULT '',
    egress_at     INTEGER,
    actual        INTEGER CHECK (actual >= 0),
    ended_early   TEXT,
    notes         TEXT NOT NULL DEFAULT '',
    -- Set when the debrief is complete; an excursion flown with results owing has none.
    closed_at     INTEGER
) STRICT;
CREATE INDEX excursion_by_flight ON excursion (flight, number, code);
CREATE INDEX excursion_by_state ON excursion (state, day, code);
