-- The numbers of the forms in touched, packed for the body model.
-- part: forms
DELETE FROM form_evidence WHERE form_id IN (SELECT form_id FROM touched);
-- Forms with the same set of numbers stand together: the model prepares for
-- each set once.
CREATE OR REPLACE TEMP TABLE judged AS
	SELECT n.form_id, numbers, sex, channel,
	       (row_number() OVER (ORDER BY numbers, foot_left, foot_right, leg_left, leg_right, tucked, sex, channel, n.form_id))::INTEGER AS nth
	FROM form_numbers n SEMI JOIN touched USING (form_id)
	LEFT JOIN forms f ON f.form_id = n.form_id LEFT JOIN orders o ON o.order_id = f.order_id;
CREATE OR REPLACE TEMP TABLE height_no AS
	SELECT height_mm, (row_number() OVER (ORDER BY height_mm))::BIGINT AS nth
	FROM (SELECT DISTINCT height_mm FROM places WHERE height_mm IS NOT NULL
		AND place_id IN (SELECT place_id FROM measured SEMI JOIN judged USING (form_id)));
-- part: who
SELECT form_id, coalesce(sex, ''), coalesce(channel, ''), numbers FROM judged ORDER BY nth
-- part: heights
SELECT height_mm FROM height_no ORDER BY nth
-- part: numbers
-- Bits from the lowest: side, clothing, point (3), unit (2), height (20), value
-- in ten-thousandths of a millimetre. The order of a form's numbers is fixed.
-- Each join looks its rows up in the smaller table, as written here.
WITH place AS (
	SELECT place_id, enum_code(side)::BIGINT + enum_code(clothing)::BIGINT * 2 + enum_code(point)::BIGINT * 4
		+ coalesce(least(h.nth, 1048575), 0) * 128 AS bits
	FROM places LEFT JOIN height_no h USING (height_mm)
), reading AS (
	SELECT reading_id, enum_code(unit)::BIGINT * 32 + round(value_mm * 10000)::BIGINT * 134217728 AS bits FROM readings
)
SELECT packed FROM (
	SELECT j.nth, p.bits + r.bits AS packed
	FROM measured m JOIN judged j USING (form_id) JOIN place p USING (place_id) JOIN reading r USING (reading_id)
) ORDER BY nth, packed
