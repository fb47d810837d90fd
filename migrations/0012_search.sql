-- The index of everything also knows the kind and the title of a record, so that a search can be
-- narrowed to a kind without reading its finds, and a word in a title weighs more.
CREATE VIRTUAL TABLE words_anew USING fts5 (
    code, kind, title, words,
    tokenize = 'unicode61 remove_diacritics 2', prefix = '2 3'
);
INSERT INTO words_anew (rowid, code, kind, title, words)
    SELECT rowid, code, kind, '', words FROM event_words;
DROP TABLE event_words;
ALTER TABLE words_anew RENAME TO event_words;
-- Every word of that index, for words that were typed with one letter wrong.
CREATE VIRTUAL TABLE event_terms USING fts5vocab ('event_words', 'row');

PRAGMA user_version = 12;
