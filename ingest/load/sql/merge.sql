-- changed: the keys whose rows are new or differ from those in the book, the
-- place of their first row, and how many rows of the book they end. A key's
-- rows are compared as a set: how many, and the sum of their hashes.
-- part: sets
CREATE OR REPLACE TEMP TABLE sets AS
	SELECT {key}, count(*) AS n, sum(hash({content})) AS h, min(ord) AS first FROM accepted_{s} GROUP BY {key};
CREATE OR REPLACE TEMP TABLE existing AS
	SELECT {key}, count(*) AS n, sum(hash({content})) AS h FROM {s} SEMI JOIN sets USING ({key}) GROUP BY {key};
CREATE OR REPLACE TEMP TABLE changed AS
	SELECT s.{key}, s.first, coalesce(b.n, 0) AS old FROM sets s LEFT JOIN existing b USING ({key})
	WHERE b.n IS DISTINCT FROM s.n OR b.h IS DISTINCT FROM s.h;
-- part: forms
CREATE OR REPLACE TEMP TABLE changed AS
	SELECT s.form_id, s.first, coalesce(b.numbers, 0) AS old FROM summaries s LEFT JOIN form_numbers b USING (form_id)
	WHERE b.numbers IS DISTINCT FROM s.numbers OR b.set_hash IS DISTINCT FROM s.set_hash;
-- part: new keys
SELECT (SELECT count(*) FROM {keys}) - (SELECT count(*) FROM changed SEMI JOIN {keys} USING ({key})), (SELECT count(*) FROM changed WHERE old > 0)
-- part: rows
-- ended: rows of the book of changed keys that the load has otherwise. unchanged:
-- rows of the load that stand in the book as they are.
CREATE OR REPLACE TEMP TABLE ended AS
	SELECT b.rowid AS id, {key} FROM {table} b WHERE {key} IN (SELECT {key} FROM changed WHERE old > 0)
		AND {row} NOT IN (SELECT {row} FROM {will} w SEMI JOIN changed USING ({key}));
CREATE OR REPLACE TEMP TABLE unchanged AS
	SELECT ord FROM {ok} SEMI JOIN changed USING ({key})
	WHERE {row} IN (SELECT {row} FROM {table} WHERE {key} IN (SELECT {key} FROM changed WHERE old > 0));
INSERT INTO {table}_history BY NAME
	SELECT b.*, {load} AS until_load FROM {table} b WHERE rowid IN (SELECT id FROM ended);
DELETE FROM {table} WHERE rowid IN (SELECT id FROM ended);
-- part: rows of new keys
-- Where the book has none of the changed keys there are none of these.
CREATE OR REPLACE TEMP TABLE ended (id BIGINT, {key} VARCHAR);
CREATE OR REPLACE TEMP TABLE unchanged (ord BIGINT);
-- part: insert
INSERT INTO {table} BY NAME
	SELECT o.* EXCLUDE (ord), {load} AS load_id FROM {ok} o SEMI JOIN changed USING ({key}) WHERE ord NOT IN (SELECT ord FROM unchanged);
-- part: numbers ended
DELETE FROM form_numbers WHERE form_id IN (SELECT form_id FROM changed WHERE old > 0);
-- part: numbers
INSERT INTO form_numbers
	SELECT * EXCLUDE (first, duplicates) FROM summaries SEMI JOIN changed USING ({key});
-- part: count
-- Rows of one part of a sheet: that hold anything; kept out; taken; and the
-- rows of the book they end. {rows} and {ok} are valid_<sheet> and accepted_<sheet>, or
-- what stands for them with fewer columns.
SELECT
	(SELECT count(*) FROM {rows} WHERE ord {in}),
	(SELECT count(*) FROM rejected_{s} WHERE ord {in}),
	(SELECT count(*) FROM {ok} SEMI JOIN changed USING ({key}) WHERE ord {in}) - (SELECT count(*) FROM unchanged WHERE ord {in}),
	(SELECT count(*) FROM ended JOIN changed USING ({key}) WHERE first {in})
-- part: count new
-- The same where the book had no row of the sheet.
SELECT (SELECT count(*) FROM {rows} WHERE ord {in}), (SELECT count(*) FROM rejected_{s} WHERE ord {in}), (SELECT count(*) FROM {ok} WHERE ord {in}), 0
-- part: all numbers
DELETE FROM form_numbers;
INSERT INTO form_numbers SELECT * EXCLUDE (first, duplicates) FROM summaries;
