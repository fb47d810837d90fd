-- The backlog per flight: what was opened after which flight, and on which excursion each task ended,
-- counted in indexes alone.
CREATE INDEX task_by_opening ON task (opened_after, opened);
CREATE INDEX attempt_done ON attempt (task, excursion) WHERE outcome = 'done';
CREATE INDEX standing_waiting ON standing (task)
    WHERE is_open = 0 AND state NOT IN ('done', 'dropped');

PRAGMA user_version = 190;
