-- cut_form: the form that the lasts and leg patterns of an order were made
-- from. An order without such a form, or with several that claim it, has none.
-- Its columns are those of form.
CREATE VIEW cut_form AS
SELECT * FROM form ANTI JOIN contested_cut USING (order_id) WHERE cut_from;
