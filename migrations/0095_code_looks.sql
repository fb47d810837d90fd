-- What each code could be taken for, so that a new one that looks the same is refused.

CREATE TABLE code_look (
    kind TEXT NOT NULL,
    -- Its shape (the skeleton of Unicode Technical Standard #39), or itself without its case.
    look TEXT NOT NULL,
    code TEXT NOT NULL,
    PRIMARY KEY (kind, look, code)
) STRICT, WITHOUT ROWID;

-- Codes of ASCII letters have the same shape here as in the program; the others get theirs when
-- they are changed next.
INSERT INTO code_look (kind, look, code)
SELECT kind, 'case ' || lower(code), code FROM register WHERE kind <> 'view'
UNION
SELECT kind, 'shape ' || replace(replace(replace(replace(replace(replace(
    code, '0', 'O'), '1', 'l'), 'I', 'l'), '|', 'l'), 'm', 'rn'), '`', ''''), code
FROM register WHERE kind <> 'view';

PRAGMA user_version = 95;
