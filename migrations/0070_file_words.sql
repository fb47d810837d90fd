-- The figures of a file's hash are no words that anybody looks for.
UPDATE event_words
SET words = (
    SELECT COALESCE(file.caption, '') FROM register JOIN file ON file.code = register.code
    WHERE register.entry = event_words.rowid
)
WHERE rowid IN (SELECT entry FROM register WHERE kind = 'file');

PRAGMA user_version = 70;
