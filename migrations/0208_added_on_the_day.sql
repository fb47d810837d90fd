-- Work that is added to a day on its board: the task with the seat, the approach and the place in the
-- sequence. Later presses for it name the task, as no slot stands for it.

ALTER TABLE day_press ADD COLUMN task TEXT REFERENCES task (code);
ALTER TABLE day_press ADD COLUMN seat INTEGER CHECK (seat IS NULL OR seat BETWEEN 1 AND 9);
ALTER TABLE day_press ADD COLUMN technique TEXT REFERENCES technique (code);
ALTER TABLE day_press ADD COLUMN side TEXT;
-- A slot, or added work by its name on the board.
ALTER TABLE day_press ADD COLUMN goes_before TEXT;
CREATE INDEX day_press_by_task ON day_press (task);
CREATE INDEX day_press_by_technique ON day_press (technique);

PRAGMA user_version = 208;
