-- Codes of records that were taken back. They are not given again: people may still speak of them.
CREATE TABLE withdrawn_code (
    kind TEXT NOT NULL,
    code TEXT NOT NULL,
    PRIMARY KEY (kind, code)
) STRICT, WITHOUT ROWID;

INSERT INTO withdrawn_code (kind, code)
SELECT DISTINCT kind, code FROM change WHERE action = 'taken back';

PRAGMA user_version = 166;
