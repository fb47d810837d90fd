-- What a failure report asks for beside what an attempt and a finding held already.
ALTER TABLE attempt ADD COLUMN symptom TEXT;
ALTER TABLE attempt ADD COLUMN indications TEXT;
ALTER TABLE attempt ADD COLUMN tried TEXT NOT NULL DEFAULT '';
ALTER TABLE attempt ADD COLUMN lighting TEXT
    CHECK (lighting IN ('daylight', 'night', 'day and night', 'lamps alone'));
ALTER TABLE attempt ADD COLUMN temperature REAL;
ALTER TABLE attempt ADD COLUMN time_left INTEGER CHECK (time_left >= 0);
ALTER TABLE attempt ADD COLUMN operated REAL CHECK (operated >= 0);
ALTER TABLE finding ADD COLUMN confirmed TEXT;
ALTER TABLE finding ADD COLUMN confidence TEXT
    CHECK (confidence IN ('confirmed', 'likely', 'possible'));
ALTER TABLE finding ADD COLUMN disposition TEXT
    CHECK (disposition IN ('used as it is', 'repaired in place', 'replaced', 'brought inside',
        'not decided yet'));

PRAGMA user_version = 31;
