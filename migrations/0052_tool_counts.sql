-- When a tool was counted, how many a flight brings, what came in broken, and which item outside is
-- a tool: what is aboard follows from these.
ALTER TABLE tool ADD COLUMN counted_on TEXT;
ALTER TABLE tool ADD COLUMN arriving INTEGER CHECK (arriving > 0);
ALTER TABLE excursion_tool ADD COLUMN broken INTEGER CHECK (broken >= 0);
ALTER TABLE outside_item ADD COLUMN tool TEXT REFERENCES tool (code);
CREATE INDEX outside_item_by_tool ON outside_item (tool) WHERE tool IS NOT NULL;

-- A count that stands was made, for all that is known, when its entry was last changed.
UPDATE tool SET counted_on = (
    SELECT date(changed_at / 1000, 'unixepoch') FROM register
    WHERE register.kind = 'tool' AND register.code = tool.code)
WHERE on_board IS NOT NULL;

PRAGMA user_version = 52;
