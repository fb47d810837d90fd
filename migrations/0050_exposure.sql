-- An exposure limit may be a date as well as a number of days; where both stand, the earlier holds.
ALTER TABLE outside_item ADD COLUMN limit_until TEXT;

PRAGMA user_version = 50;
