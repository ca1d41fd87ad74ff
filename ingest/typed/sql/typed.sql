-- One typed form in a book of its own (package typed).
-- part: tables
CREATE TEMP TABLE written AS SELECT *, 0 AS no FROM measurements LIMIT 0;
-- part: wrong
-- What is wrong with the numbers written: the value, and all that is wrong.
SELECT value_written, concat_ws(chr(30), {whys}, CASE WHEN count(*) OVER (PARTITION BY side, clothing, point, height_mm) > 1
	THEN 'value' || chr(31) || 'this place of the form is there twice; leave the right one' END) AS why
FROM (SELECT *, height_written AS height FROM written) s
QUALIFY why <> ''
ORDER BY no
-- part: numbers
INSERT INTO places SELECT no, side, clothing, point, height_mm, height_written FROM written;
INSERT INTO readings SELECT no, value_mm, value_written, unit FROM written;
INSERT INTO measured SELECT form_id, no, no, load_id FROM written;
INSERT INTO form_numbers SELECT * EXCLUDE (first, duplicates) FROM ({sum});
