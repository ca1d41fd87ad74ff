-- Staging of the measurements as the numbers of their texts: place_texts and
-- value_texts hold the different texts of some columns, stage_measurements a form and
-- two numbers a row. unlearned are the texts of a row that had no number when it was
-- read, in the order of the columns of place_texts and value_texts. Forms stand here
-- as they are: read twice and thrown away, they cost more to pack than they fill.
-- part: open
ATTACH {path} AS stage;
SET search_path = {search};
CREATE OR REPLACE TEMP TABLE place_texts (no INTEGER, {place columns});
CREATE OR REPLACE TEMP TABLE value_texts (no INTEGER, {value columns});
CREATE TABLE stage.stage_measurements (form_id VARCHAR USING COMPRESSION uncompressed, place_no INTEGER, value_no INTEGER, unlearned VARCHAR[]);
-- part: close
USE {book};
DETACH DATABASE IF EXISTS stage;
-- part: sample
CREATE OR REPLACE TEMP TABLE sampled AS SELECT * FROM ({rows}) t({names}) USING SAMPLE {n} ROWS
-- part: frequent
SELECT {column} FROM sampled WHERE {column} IS NOT NULL GROUP BY ALL ORDER BY count(*) DESC, {column} LIMIT {n}
-- part: stage
INSERT INTO stage_measurements
SELECT form_id, CASE WHEN NOT unknown THEN place_no END, CASE WHEN NOT unknown THEN value_no END, CASE WHEN unknown THEN [{texts}] END
FROM (SELECT *, place_no IS NULL OR value_no IS NULL AS unknown FROM (SELECT *, {place} AS place_no, {value} AS value_no FROM ({rows}) t({names})))
-- part: used
SELECT place_no::VARCHAR, value_no::VARCHAR FROM stage_measurements WHERE place_no >= {first} GROUP BY GROUPING SETS ((place_no), (value_no))
-- part: unlearned
CREATE OR REPLACE TEMP TABLE unlearned AS SELECT DISTINCT unlearned FROM stage_measurements WHERE place_no IS NULL
-- part: learn
INSERT INTO {texts} SELECT (SELECT coalesce(max(no), 0) FROM {texts}) + row_number() OVER (), *
	FROM (SELECT {columns} FROM (SELECT {cells} FROM unlearned) EXCEPT SELECT {columns} FROM {texts});
-- part: learned
-- The numbers of a row are missing together; but asked for by place_no alone the
-- engine compares every row, which is five times as slow.
UPDATE stage_measurements s SET place_no = m.p, value_no = m.v
FROM (SELECT unlearned, p.no AS p, v.no AS v FROM unlearned JOIN place_texts p ON {same place} JOIN value_texts v ON {same value}) m
WHERE (place_no IS NULL OR value_no IS NULL) AND s.unlearned = m.unlearned;
