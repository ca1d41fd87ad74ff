-- Validated rows: valid_<sheet>, and rejected_<sheet> for what is in their cells.
-- part: sheet
CREATE OR REPLACE TEMP TABLE valid_{s} AS {rows};
CREATE OR REPLACE TEMP TABLE rejected_{s} AS SELECT ord, why FROM valid_{s} WHERE why IS NOT NULL;
-- part: measurements
-- What the numbers of places and values mean, and the rows of the measurements
-- by way of them. bad: something is wrong with it; blank: there is nothing in it.
-- Those that the book has not seen are added to it.
CREATE OR REPLACE TEMP TABLE place_read AS {place};
CREATE OR REPLACE TEMP TABLE value_read AS {value};
INSERT INTO places
	SELECT (SELECT coalesce(max(place_id), 0) FROM places) + row_number() OVER (ORDER BY side, clothing, point, height_mm, height_written), * FROM (
		SELECT side, clothing, point, height_mm, height_written FROM place_read WHERE NOT bad
		EXCEPT SELECT side, clothing, point, height_mm, height_written FROM places);
INSERT INTO readings
	SELECT (SELECT coalesce(max(reading_id), 0) FROM readings) + row_number() OVER (ORDER BY value_mm, value_written, unit), * FROM (
		SELECT value_mm, value_written, unit FROM value_read WHERE NOT bad
		EXCEPT SELECT value_mm, value_written, unit FROM readings);
CREATE OR REPLACE TEMP TABLE place AS
	SELECT p.*, place_id, CASE WHEN p.height_mm IS NOT NULL THEN hash(p.height_mm, p.height_written) END AS height_hash
	FROM place_read p LEFT JOIN places b ON b.side = p.side AND b.clothing = p.clothing AND b.point = p.point
		AND b.height_mm IS NOT DISTINCT FROM p.height_mm AND b.height_written IS NOT DISTINCT FROM p.height_written;
CREATE OR REPLACE TEMP TABLE reading AS
	SELECT v.*, reading_id, hash(v.value_mm, v.value_written, v.unit) AS value_hash, dense_rank() OVER (ORDER BY v.value_mm) AS mm_no
	FROM value_read v LEFT JOIN readings b ON b.value_mm = v.value_mm AND b.value_written = v.value_written AND b.unit = v.unit;
CREATE OR REPLACE TEMP VIEW numbered AS
	SELECT nth, ord, form_id, side, clothing, point, height_mm, height_written, value_mm, value_written, unit,
	       height_hash, value_hash, p.bad OR v.bad OR form_id IS NULL AS bad, place_no, value_no, place_id, reading_id
	FROM staged s JOIN place p ON p.no = place_no JOIN reading v ON v.no = value_no
	WHERE NOT (p.blank AND v.blank AND form_id IS NULL);
CREATE OR REPLACE TEMP VIEW valid_measurements AS
	SELECT ord, form_id, side, clothing, point, height_mm, height_written, value_mm, value_written, unit, CASE WHEN bad THEN '' END AS why
	FROM numbered;
CREATE OR REPLACE TEMP VIEW valid_numbers AS
	SELECT nth, ord, form_id, side, clothing, point, height_mm, value_mm, hash(side, clothing, point, height_hash, value_hash) AS row_hash
	FROM numbered WHERE NOT bad;
CREATE OR REPLACE TEMP VIEW retracted AS
	SELECT ord, form_id, side, clothing, point, height_mm
	FROM staged s JOIN place p ON p.no = place_no JOIN reading v ON v.no = value_no
	WHERE v.blank AND NOT p.blank AND NOT p.bad AND form_id IS NOT NULL;
CREATE OR REPLACE TEMP TABLE rejected_measurements (ord BIGINT, why VARCHAR);
-- part: as read
-- The rows in the order of their file: nth says where a row stands, ord its record.
CREATE OR REPLACE TEMP VIEW staged AS
	SELECT rowid AS nth, rowid - {first} AS ord, form_id, place_no, value_no FROM stage_measurements;
-- part: together
-- The same rows, those of a form together.
CREATE TABLE stage.by_form (ord BIGINT, form_id VARCHAR USING COMPRESSION uncompressed, place_no INTEGER, value_no INTEGER);
INSERT INTO stage.by_form SELECT ord, form_id, place_no, value_no FROM staged ORDER BY form_id;
CREATE OR REPLACE TEMP VIEW staged AS SELECT rowid AS nth, ord, form_id, place_no, value_no FROM by_form;
-- part: scattered
-- Of the forms of every {step}th row: how many rows they have, and over how many
-- places these are spread.
SELECT coalesce(sum(n), 0)::BIGINT, coalesce(sum(spread), 0)::BIGINT FROM (
	SELECT form_id, count(*) AS n, max(nth) - min(nth) + 1 AS spread
	FROM staged SEMI JOIN (SELECT form_id FROM staged WHERE nth % {step} = 0) USING (form_id) GROUP BY form_id)
-- part: any
-- Is anything wrong anywhere? Blank places and values are among the bad.
SELECT (SELECT count(*) FROM place WHERE bad) + (SELECT count(*) FROM reading WHERE bad)
	+ (SELECT count(*) FROM staged WHERE form_id IS NULL)
-- part: bad
CREATE OR REPLACE TEMP TABLE stage_bad AS
	SELECT ord, form_id, p.side, p.clothing, p.point, height, height_u, "value", value_u
	FROM numbered JOIN place_texts p ON p.no = place_no JOIN value_texts v ON v.no = value_no
	WHERE bad AND ord NOT IN (SELECT ord FROM retracted);
INSERT INTO rejected_measurements SELECT ord, why FROM ({why});
DROP TABLE stage_bad;
