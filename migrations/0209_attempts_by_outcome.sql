-- How attempts ended, excursion by excursion, without reading one of them.
DROP INDEX attempt_by_excursion;
CREATE INDEX attempt_by_excursion ON attempt (excursion, outcome);

PRAGMA user_version = 209;
