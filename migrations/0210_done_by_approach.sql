-- Where an approach ended done is told from this index alone, however often it was tried.
DROP INDEX attempt_by_technique;
CREATE INDEX attempt_by_technique ON attempt (technique, side, outcome, excursion, task);

PRAGMA user_version = 210;
