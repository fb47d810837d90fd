-- A slot may begin no earlier than a minute of elapsed time, on purpose: to wait for a window, or for
-- a tool that is in other hands until then. An empty cell: as soon as it can begin.
ALTER TABLE slot ADD COLUMN not_before INTEGER CHECK (not_before >= 0);

PRAGMA user_version = 150;
