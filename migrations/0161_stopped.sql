-- Attempts that something stopped, in the order of each thing by which they are counted, so that a count
-- walks one index and sorts nothing.

CREATE INDEX attempt_stopped_by_technique ON attempt (technique, told_cause, excursion)
    WHERE told_cause IS NOT NULL;
CREATE INDEX attempt_stopped_by_side ON attempt (side, told_cause, excursion)
    WHERE told_cause IS NOT NULL;
CREATE INDEX attempt_stopped_by_worksite ON attempt (worksite, told_cause, excursion)
    WHERE told_cause IS NOT NULL;

PRAGMA user_version = 161;
