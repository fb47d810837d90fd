-- The kinds of cause with which a record begins. A record that keeps its own gets those that it
-- lacks: a code or words that are taken stay as they are.

-- Whether a kind says that time ran out: it counts by the minutes spent, not by its scope alone.
-- Until now that was asked of the code.
ALTER TABLE cause ADD COLUMN time_ran_out INTEGER NOT NULL DEFAULT 0 CHECK (time_ran_out IN (0, 1));
UPDATE cause SET time_ran_out = 1 WHERE code = '17';

WITH kind (code, words, cause_group, scope, time_ran_out) AS (VALUES
    ('1', 'Connector or quick disconnect will not demate', 'connections', 'hardware', 0),
    ('2', 'Connector will not mate (alignment, bent pin, key)', 'connections', 'hardware', 0),
    ('3', 'Line pressure side-loads the disconnect', 'connections', 'approach', 0),
    ('4', 'Bolt or pin binds (galling, debris, thread damage)', 'fasteners', 'hardware', 0),
    ('5', 'Bolt torque higher than predicted (preload, cold, dry)', 'fasteners', 'hardware', 0),
    ('6', 'Misalignment, or tolerances that add up', 'fit and mechanism', 'approach', 0),
    ('7', 'Mechanism jammed by a foreign object', 'fit and mechanism', 'hardware', 0),
    ('8', 'Part installed the wrong way round or by the wrong hand', 'fit and mechanism', 'approach', 0),
    ('9', 'Interference not shown on any drawing', 'fit and mechanism', 'approach', 0),
    ('10', 'As-built differs from drawing or mock-up', 'fit and mechanism', 'approach', 0),
    ('11', 'Stance or body restraint not good enough', 'access and restraint', 'approach', 0),
    ('12', 'Reach or glove access too tight', 'access and restraint', 'approach', 0),
    ('13', 'Tool unsuitable or too weak', 'tools', 'approach', 0),
    ('14', 'Tool failed in use (battery, ratchet, tip)', 'tools', 'approach', 0),
    ('15', 'Tool or fastener lost', 'fasteners', 'approach', 0),
    ('16', 'Tool or part missing, or in the wrong bag', 'tools', 'outside', 0),
    ('17', 'Time ran out', 'time and start', 'outside', 1),
    ('18', 'Late start (suit, airlock, communications, prebreathe)', 'time and start', 'outside', 0),
    ('19', 'Consumable limit (carbon dioxide, oxygen, battery, cooling water)', 'suit and crew', 'outside', 0),
    ('20', 'Suit malfunction', 'suit and crew', 'outside', 0),
    ('21', 'Crew fatigue or high work rate', 'suit and crew', 'approach', 0),
    ('22', 'Lighting or visibility', 'conditions', 'approach', 0),
    ('23', 'Ground go, inhibit or arm not ready', 'ground and arm', 'outside', 0),
    ('24', 'Contamination or hazard stopped the work', 'conditions', 'outside', 0),
    ('25', 'Wrong diagnosis: the work could not have cured it', 'diagnosis', 'diagnosis', 0),
    ('26', 'Cause unknown', 'unknown', 'approach', 0)
)
INSERT INTO cause (code, words, cause_group, scope, time_ran_out)
SELECT * FROM kind
WHERE NOT EXISTS (SELECT 1 FROM cause WHERE cause.code = kind.code COLLATE NOCASE
    OR lower(trim(cause.words)) = lower(kind.words));

-- They are the service's: it made them, and no entry of the change log says that a person did.
INSERT INTO register (kind, code, made_by, made_at, changed_by, changed_at)
SELECT 'cause', code, 'holdover', unixepoch() * 1000, 'holdover', unixepoch() * 1000 FROM cause
WHERE NOT EXISTS (SELECT 1 FROM register WHERE register.kind = 'cause' AND register.code = cause.code)
ORDER BY CAST(code AS INTEGER);
INSERT INTO event_words (rowid, code, kind, title, words)
SELECT register.entry, cause.code, 'cause', '', cause.words || char(10) || cause.cause_group
FROM register JOIN cause ON cause.code = register.code
WHERE register.kind = 'cause' AND register.made_by = 'holdover';

PRAGMA user_version = 86;
