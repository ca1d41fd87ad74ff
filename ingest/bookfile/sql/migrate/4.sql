-- Version 4: which version of the instructions a form was measured by, as the
-- letter that is printed on it.

ALTER TABLE forms ADD COLUMN instructions VARCHAR;
ALTER TABLE forms_history ADD COLUMN instructions VARCHAR;
