-- One typed form in a book of its own (package typed): what is typed are rows of
-- functions, so that nothing is written at a key press and no plan rests on the rows.
-- part: drop
DROP TABLE orders;
DROP TABLE forms;
DROP TABLE form_numbers;
DROP VIEW measurements;
-- part: views
CREATE VIEW orders AS SELECT {orders} FROM typed_orders();
CREATE VIEW forms AS SELECT {forms} FROM typed_forms();
CREATE VIEW written AS SELECT {measurements}, no::INTEGER AS no FROM typed_measurements();
CREATE VIEW measurements AS SELECT * EXCLUDE (no) FROM written;
CREATE VIEW form_numbers AS SELECT {form_numbers} FROM typed_form_numbers();
-- part: numbers
-- What the numbers amount to, as texts, and whether something is wrong with them.
SELECT {columns}, (duplicates OR (SELECT bool_or(concat_ws('', {whys}) <> '') FROM (SELECT *, height_written AS height FROM written) s))::VARCHAR
FROM ({sum})
-- part: wrong
-- What is wrong with the numbers written: the value, and all that is wrong.
SELECT value_written, concat_ws(chr(30), {whys}, CASE WHEN count(*) OVER (PARTITION BY side, clothing, point, height_mm) > 1
	THEN 'value' || chr(31) || 'this place of the form is there twice; leave the right one' END) AS why
FROM (SELECT *, height_written AS height FROM written) s
QUALIFY why <> ''
ORDER BY no
