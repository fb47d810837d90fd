-- If–then of a slot becomes an ordered list of fallbacks in one cell: what follows, after which
-- minutes of the approach before it or when, and how likely it is needed. The one that stood in
-- five columns is the first of the list.

ALTER TABLE slot ADD COLUMN fallbacks TEXT NOT NULL DEFAULT '';
UPDATE slot SET fallbacks =
    CASE WHEN then_technique IS NULL THEN 'leave as is'
         WHEN then_side IS NULL THEN then_technique
         ELSE then_technique || ' from ' || then_side END
    || coalesce(', after ' || trigger_minutes || ' min', '')
    || coalesce(', needed ' || then_chance || ' %', '')
    || CASE WHEN trigger_words IS NOT NULL
            THEN ', when ' || replace(replace(replace(trigger_words, ';', ','),
                                              ', after ', ' after '), ', needed ', ' needed ')
            WHEN trigger_minutes IS NULL THEN ', when the approach does not work'
            ELSE '' END
WHERE coalesce(then_technique, trigger_minutes, trigger_words) IS NOT NULL;

ALTER TABLE slot DROP COLUMN trigger_minutes;
ALTER TABLE slot DROP COLUMN trigger_words;
ALTER TABLE slot DROP COLUMN then_technique;
ALTER TABLE slot DROP COLUMN then_side;
ALTER TABLE slot DROP COLUMN then_chance;

-- Which fallback of the slot was taken up, 1 for the first.
ALTER TABLE day_press ADD COLUMN step INTEGER CHECK (step IS NULL OR step BETWEEN 1 AND 9);
UPDATE day_press SET step = 1 WHERE act = 'fallback used';

PRAGMA user_version = 205;
