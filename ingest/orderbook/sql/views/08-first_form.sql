-- first_form: the first form of each order. The work a rule makes is counted
-- on these. Its columns are those of form.
CREATE VIEW first_form AS
SELECT * FROM form ANTI JOIN later_form USING (form_id);
