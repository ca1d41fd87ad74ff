-- valid_{s}: the rows as read. rejected_{s}: those that are not taken, with the
-- reasons. duplicate_{s}: rows that repeat another row of the load to the letter.
-- part: start
CREATE OR REPLACE TEMP TABLE duplicate_{s} (ord BIGINT);
-- part: repeated keys
CREATE OR REPLACE TEMP TABLE repeated AS
	SELECT {key} FROM valid_{s} WHERE why IS NULL GROUP BY {key} HAVING count(*) > 1;
-- part: keys
-- Rows of one key with different content are all kept out; of rows that agree
-- in everything the first is taken.
CREATE OR REPLACE TEMP TABLE key_counts AS
	SELECT {key}, min(ord) AS first, count(*) AS n, count(DISTINCT hash({content})) AS kinds
	FROM valid_{s} SEMI JOIN repeated USING ({key}) WHERE why IS NULL GROUP BY {key};
INSERT INTO rejected_{s}
	SELECT ord, '{key}' || chr(31) || 'is on ' || n || ' rows of this load with different content; leave the right one'
	FROM valid_{s} JOIN key_counts USING ({key}) WHERE why IS NULL AND kinds > 1 AND ord NOT IN (SELECT ord FROM rejected_{s});
INSERT INTO duplicate_{s}
	SELECT ord FROM valid_{s} JOIN key_counts USING ({key}) WHERE why IS NULL AND kinds = 1 AND ord <> first;
-- part: repeated rows
CREATE OR REPLACE TEMP TABLE repeated AS
	SELECT hash({content}) AS h FROM valid_{s} WHERE why IS NULL GROUP BY h HAVING count(*) > 1;
-- part: rows
-- Of rows of a set that agree in everything the first is taken.
INSERT INTO duplicate_{s}
	SELECT ord FROM (SELECT ord, row_number() OVER (PARTITION BY {content} ORDER BY ord) AS nth
		FROM valid_{s} WHERE why IS NULL AND hash({content}) IN (SELECT h FROM repeated)) WHERE nth > 1;
-- part: numbered rows
-- Of one report only one row can be right.
INSERT INTO rejected_{s}
	SELECT ord, 'outcome_id' || chr(31) || 'is on ' || n || ' rows of this order in this load with different content; leave the right one'
	FROM valid_{s} JOIN (
		SELECT {key}, outcome_id, count(*) AS n FROM valid_{s} WHERE why IS NULL AND outcome_id IS NOT NULL
		GROUP BY ALL HAVING count(DISTINCT hash({content})) > 1) USING ({key}, outcome_id)
	WHERE why IS NULL AND ord NOT IN (SELECT ord FROM rejected_{s});
-- part: places
-- Two numbers of one place of a form are both kept out when they differ; of
-- numbers that agree the first is taken.
CREATE OR REPLACE TEMP TABLE key_counts AS
	SELECT form_id, side, clothing, point, height_mm, min(ord) AS first, count(*) AS n, count(DISTINCT hash({content})) AS kinds
	FROM valid_{s} WHERE why IS NULL AND form_id IN (SELECT form_id FROM summaries WHERE duplicates)
	GROUP BY form_id, side, clothing, point, height_mm;
CREATE OR REPLACE TEMP TABLE repeated AS
	SELECT g.ord, m.first, m.n, m.kinds
	FROM valid_{s} g JOIN key_counts m ON g.form_id = m.form_id AND g.side = m.side AND g.clothing = m.clothing AND g.point = m.point
		AND g.height_mm IS NOT DISTINCT FROM m.height_mm
	WHERE why IS NULL AND n > 1;
INSERT INTO rejected_{s}
	SELECT ord, 'value' || chr(31) || 'this place of the form is on ' || n || ' rows of this load with different content; leave the right one'
	FROM repeated WHERE kinds > 1;
INSERT INTO duplicate_{s} SELECT ord FROM repeated WHERE kinds = 1 AND ord <> first;
-- part: orphans
-- Rows that name a key which neither the load ({staged}) nor the book holds.
CREATE OR REPLACE TEMP TABLE orphans AS
	SELECT {column} FROM {from} WHERE {column} IS NOT NULL EXCEPT (SELECT {column} FROM {other}{staged});
-- part: rows of orphans
INSERT INTO rejected_{s}
	SELECT ord, '{column}' || chr(31) || 'is on no row of the sheet {other}, in this load or in the book'
	FROM valid_{s} WHERE why IS NULL AND {column} IN (SELECT {column} FROM orphans) AND ord NOT IN (SELECT ord FROM rejected_{s});
-- part: closer look
DELETE FROM summaries WHERE duplicates;
INSERT INTO summaries {summaries};
-- part: without orphans
DELETE FROM summaries WHERE form_id IN (SELECT form_id FROM orphans);
-- part: others
-- Is any row rejected for another reason than its own cells, or a duplicate?
SELECT EXISTS (FROM valid_{s} SEMI JOIN rejected_{s} USING (ord) WHERE why IS NULL), EXISTS (FROM duplicate_{s})
-- part: accepted
CREATE OR REPLACE TEMP VIEW accepted_{s} AS SELECT * EXCLUDE (why) FROM valid_{s} WHERE why IS NULL{but};
-- part: accepted numbers
-- The same rows as the book keeps them.
CREATE OR REPLACE TEMP VIEW accepted_numbered AS SELECT ord, form_id, place_id, reading_id FROM numbered WHERE NOT bad{but};
