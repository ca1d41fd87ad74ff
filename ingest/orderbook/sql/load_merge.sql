-- A key's rows are compared as a set, whatever their order: how many, and the
-- sum of their hashes. Rows of a set that differs end and the new ones begin.
CREATE OR REPLACE TEMP TABLE sets AS
	SELECT {key}, count(*) AS n, sum(hash({content})) AS h, min(ord) AS first FROM ok_{s} GROUP BY {key};
CREATE OR REPLACE TEMP TABLE held AS {held};
CREATE OR REPLACE TEMP TABLE changed AS
	SELECT s.{key}, s.n, s.first, coalesce(b.n, 0) AS old FROM sets s LEFT JOIN held b USING ({key})
	WHERE b.n IS DISTINCT FROM s.n OR b.h IS DISTINCT FROM s.h;
INSERT INTO {s}_history
	SELECT b.*, {load} FROM {s} b WHERE {key} IN (SELECT {key} FROM changed WHERE old > 0);
DELETE FROM {s} WHERE {key} IN (SELECT {key} FROM changed WHERE old > 0);
INSERT INTO {s} BY NAME
	SELECT o.* EXCLUDE (ord), {load} AS load_id FROM ok_{s} o SEMI JOIN changed USING ({key});
