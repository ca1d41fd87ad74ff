-- good_{s}: the rows as read. kept_{s}: those that are not taken, with the
-- reasons. twice_{s}: rows that repeat another row of the load to the letter.
-- part: keys
-- Rows of one key with different content are all kept out; of rows that agree
-- in everything the first is taken.
CREATE OR REPLACE TEMP TABLE repeated AS
	SELECT {key} FROM good_{s} WHERE why IS NULL GROUP BY {key} HAVING count(*) > 1;
CREATE OR REPLACE TEMP TABLE many AS
	SELECT {key}, min(ord) AS first, count(*) AS n, count(DISTINCT hash({content})) AS kinds
	FROM good_{s} SEMI JOIN repeated USING ({key}) WHERE why IS NULL GROUP BY {key};
INSERT INTO kept_{s}
	SELECT ord, '{key}' || chr(31) || 'is on ' || n || ' rows of this load with different content; leave the right one'
	FROM good_{s} JOIN many USING ({key}) WHERE why IS NULL AND kinds > 1 AND ord NOT IN (SELECT ord FROM kept_{s});
INSERT INTO twice_{s}
	SELECT ord FROM good_{s} JOIN many USING ({key}) WHERE why IS NULL AND kinds = 1 AND ord <> first;
-- part: rows
-- Of rows of a set that agree in everything the first is taken.
CREATE OR REPLACE TEMP TABLE repeated AS
	SELECT hash({content}) AS h FROM good_{s} WHERE why IS NULL GROUP BY h HAVING count(*) > 1;
INSERT INTO twice_{s}
	SELECT ord FROM (SELECT ord, row_number() OVER (PARTITION BY {content} ORDER BY ord) AS nth
		FROM good_{s} WHERE why IS NULL AND hash({content}) IN (SELECT h FROM repeated)) WHERE nth > 1;
-- part: places
-- Two numbers of one place of a form are both kept out when they differ; of
-- numbers that agree the first is taken.
CREATE OR REPLACE TEMP TABLE many AS
	SELECT form_id, side, clothing, point, height_mm, min(ord) AS first, count(*) AS n, count(DISTINCT hash({content})) AS kinds
	FROM good_{s} WHERE why IS NULL AND form_id IN (SELECT form_id FROM seen WHERE twins)
	GROUP BY form_id, side, clothing, point, height_mm;
CREATE OR REPLACE TEMP TABLE repeated AS
	SELECT g.ord, m.first, m.n, m.kinds
	FROM good_{s} g JOIN many m ON g.form_id = m.form_id AND g.side = m.side AND g.clothing = m.clothing AND g.point = m.point
		AND g.height_mm IS NOT DISTINCT FROM m.height_mm
	WHERE why IS NULL AND n > 1;
INSERT INTO kept_{s}
	SELECT ord, 'value' || chr(31) || 'this place of the form is on ' || n || ' rows of this load with different content; leave the right one'
	FROM repeated WHERE kinds > 1;
INSERT INTO twice_{s} SELECT ord FROM repeated WHERE kinds = 1 AND ord <> first;
