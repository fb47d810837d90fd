-- Why attempts failed and what was changed; what was left outside.

CREATE TABLE finding (
    code          TEXT PRIMARY KEY NOT NULL,
    attempts      TEXT NOT NULL DEFAULT '',
    cause         TEXT REFERENCES cause (code),
    contributing  TEXT NOT NULL DEFAULT '',
    words         TEXT NOT NULL DEFAULT '',
    evidence      TEXT NOT NULL DEFAULT '',
    recommended_technique TEXT REFERENCES technique (code),
    recommended_side TEXT,
    author        TEXT,
    written_on    TEXT,
    reviewed_by   TEXT,
    reviewed_on   TEXT,
    CHECK (reviewed_by IS NULL OR author IS NULL OR lower(reviewed_by) <> lower(author))
) STRICT;
CREATE INDEX finding_by_cause ON finding (cause);
CREATE INDEX finding_by_review ON finding (reviewed_on);

CREATE TABLE finding_attempt (
    finding       TEXT NOT NULL REFERENCES finding (code),
    attempt       TEXT NOT NULL REFERENCES attempt (code),
    PRIMARY KEY (finding, attempt)
) STRICT, WITHOUT ROWID;
CREATE INDEX finding_attempt_by_attempt ON finding_attempt (attempt);

CREATE TABLE finding_cause (
    finding       TEXT NOT NULL REFERENCES finding (code),
    cause         TEXT NOT NULL REFERENCES cause (code),
    PRIMARY KEY (finding, cause)
) STRICT, WITHOUT ROWID;
CREATE INDEX finding_cause_by_cause ON finding_cause (cause);

CREATE TABLE remedy (
    code          TEXT PRIMARY KEY NOT NULL,
    what          TEXT NOT NULL,
    finding       TEXT REFERENCES finding (code),
    attempts      TEXT NOT NULL DEFAULT '',
    reach         TEXT NOT NULL CHECK (reach IN ('this unit', 'every unit')),
    technique     TEXT REFERENCES technique (code),
    revision      INTEGER,
    owner         TEXT,
    needed_by     TEXT REFERENCES flight (code),
    opened_on     TEXT,
    state         TEXT NOT NULL CHECK (state IN ('open', 'done', 'verified', 'withdrawn')),
    done_on       TEXT,
    verified_by   TEXT,
    verified_on   TEXT,
    evidence      TEXT NOT NULL DEFAULT '',
    CHECK (state <> 'verified' OR verified_by IS NOT NULL),
    CHECK (verified_by IS NULL OR owner IS NULL OR lower(verified_by) <> lower(owner))
) STRICT;
CREATE INDEX remedy_by_finding ON remedy (finding);
CREATE INDEX remedy_by_state ON remedy (state, needed_by);
CREATE INDEX remedy_by_technique ON remedy (technique);

CREATE TABLE remedy_attempt (
    remedy        TEXT NOT NULL REFERENCES remedy (code),
    attempt       TEXT NOT NULL REFERENCES attempt (code),
    PRIMARY KEY (remedy, attempt)
) STRICT, WITHOUT ROWID;
CREATE INDEX remedy_attempt_by_attempt ON remedy_attempt (attempt);

CREATE TABLE exemption (
    code          TEXT PRIMARY KEY NOT NULL,
    task          TEXT NOT NULL REFERENCES task (code),
    attempts      TEXT NOT NULL DEFAULT '',
    words         TEXT NOT NULL DEFAULT '',
    author        TEXT,
    written_on    TEXT,
    reviewed_by   TEXT,
    reviewed_on   TEXT,
    CHECK (reviewed_by IS NULL OR author IS NULL OR lower(reviewed_by) <> lower(author))
) STRICT;
CREATE INDEX exemption_by_task ON exemption (task);

CREATE TABLE outside_item (
    code          TEXT PRIMARY KEY NOT NULL,
    what          TEXT NOT NULL,
    worksite      TEXT REFERENCES worksite (code),
    purpose       TEXT,
    left_by       TEXT REFERENCES attempt (code),
    since         TEXT,
    limit_days    INTEGER CHECK (limit_days >= 0),
    brought_back_by TEXT REFERENCES task (code),
    state         TEXT NOT NULL CHECK (state IN ('in place', 'brought in', 'lost')),
    ended_on      TEXT,
    notes         TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX outside_item_by_state ON outside_item (state, worksite);
CREATE INDEX outside_item_by_task ON outside_item (brought_back_by);
CREATE INDEX outside_item_by_attempt ON outside_item (left_by);
