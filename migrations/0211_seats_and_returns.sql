-- Work that is added to a day for several seats: all of them, where there is more than the one in seat.
ALTER TABLE day_press ADD COLUMN seats TEXT;

-- The flight that takes a tool down, and how many of it.
ALTER TABLE tool ADD COLUMN returns_with TEXT REFERENCES flight (code);
ALTER TABLE tool ADD COLUMN going_down INTEGER CHECK (going_down > 0);
CREATE INDEX tool_by_flight_down ON tool (returns_with) WHERE returns_with IS NOT NULL;

PRAGMA user_version = 211;
