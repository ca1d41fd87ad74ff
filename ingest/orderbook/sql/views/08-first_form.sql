-- first_form: the first form of each order. The work a rule makes is counted
-- on these.
--
--   columns as in form
CREATE VIEW first_form AS
SELECT * FROM form ANTI JOIN later_form USING (form_id);
