-- A check of a slot that was set may be a note: met, with something to know.

CREATE TABLE slot_gate_with_notes (
    slot          TEXT NOT NULL REFERENCES slot (code),
    gate          TEXT NOT NULL,
    verdict       TEXT NOT NULL CHECK (verdict IN
                      ('met', 'note', 'tight', 'not met', 'cannot tell', 'not checked')),
    reason        TEXT NOT NULL,
    at            INTEGER NOT NULL,
    PRIMARY KEY (slot, gate)
) STRICT, WITHOUT ROWID;
INSERT INTO slot_gate_with_notes (slot, gate, verdict, reason, at)
SELECT slot, gate, verdict, reason, at FROM slot_gate;
DROP TABLE slot_gate;
ALTER TABLE slot_gate_with_notes RENAME TO slot_gate;

PRAGMA user_version = 105;
