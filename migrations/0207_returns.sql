-- The flight with which an item goes down once it was brought in.

ALTER TABLE outside_item ADD COLUMN returns_with TEXT REFERENCES flight (code);
CREATE INDEX outside_item_by_flight ON outside_item (returns_with) WHERE returns_with IS NOT NULL;

PRAGMA user_version = 207;
