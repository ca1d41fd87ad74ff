-- Version 3: a report of fit may have a number of its own, by which a later
-- sheet corrects it.

ALTER TABLE outcomes ADD COLUMN outcome_id VARCHAR;
ALTER TABLE outcomes_history ADD COLUMN outcome_id VARCHAR;
