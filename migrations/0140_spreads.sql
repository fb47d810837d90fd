-- How far egress, ingress, travel, and setup and cleanup spread; and whether the airlock takes the
-- seats in one by one instead of together. An empty cell is the default that stands in the program.

ALTER TABLE settings ADD COLUMN egress_spread REAL;
ALTER TABLE settings ADD COLUMN ingress_spread REAL;
ALTER TABLE settings ADD COLUMN travel_spread REAL;
ALTER TABLE settings ADD COLUMN site_spread REAL;
ALTER TABLE settings ADD COLUMN one_by_one INTEGER NOT NULL DEFAULT 0 CHECK (one_by_one IN (0, 1));

-- Work in daylight may stop at sunset and continue at sunrise.
ALTER TABLE technique ADD COLUMN may_pause INTEGER NOT NULL DEFAULT 0 CHECK (may_pause IN (0, 1));

PRAGMA user_version = 140;
