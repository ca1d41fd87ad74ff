-- What a load does not speak of is carried over (see carry.go).
-- part: lacking
UPDATE valid_{s} SET {sets} FROM {s} b WHERE valid_{s}.{key} = b.{key} AND ord BETWEEN {lo} AND {hi};
-- part: lacking of events
-- Each event of the load has what the book has of the one that it replaces: that of its
-- number, else the one of its day and kind, else the one of its day, else the one of its
-- kind without a day. Where either could be of several there is no telling.
UPDATE valid_{s} SET {sets} FROM (
	SELECT o.ord AS replaced_by, b.*, CASE WHEN {same number} THEN 0 WHEN o.{day} IS DISTINCT FROM b.{day} THEN 3
		WHEN o.{kind} IS NOT DISTINCT FROM b.{kind} THEN 1 ELSE 2 END AS likeness
	FROM valid_{s} o JOIN {s} b ON o.{key} = b.{key} AND ({same number} OR NOT {two numbers}
		AND (o.{day} IS NOT DISTINCT FROM b.{day} OR b.{day} IS NULL AND o.{kind} IS NOT DISTINCT FROM b.{kind}))
	QUALIFY likeness = min(likeness) OVER (PARTITION BY o.ord) AND count(*) OVER (PARTITION BY o.ord, likeness) = 1
		AND likeness = min(likeness) OVER (PARTITION BY b.rowid) AND count(*) OVER (PARTITION BY b.rowid, likeness) = 1) b
WHERE valid_{s}.ord = b.replaced_by AND ord BETWEEN {lo} AND {hi};
-- part: events
INSERT INTO valid_{s} BY NAME
	SELECT {carried} AS ord, {content} FROM {s} b WHERE {key} IN (SELECT {key} FROM accepted_{s})
		AND NOT EXISTS (SELECT 1 FROM accepted_{s} o WHERE o.{key} = b.{key} AND o.{day} IS NOT DISTINCT FROM b.{day} AND NOT {two numbers})
		AND NOT EXISTS (SELECT 1 FROM accepted_{s} o WHERE b.{day} IS NULL AND o.{key} = b.{key} AND o.{kind} IS NOT DISTINCT FROM b.{kind} AND NOT {two numbers})
		AND NOT EXISTS (SELECT 1 FROM accepted_{s} o WHERE o.{key} = b.{key} AND {same number});
-- part: tables
CREATE OR REPLACE TEMP TABLE partial_forms (form_id VARCHAR);
CREATE OR REPLACE TEMP TABLE carried (form_id VARCHAR, place_id INTEGER, reading_id INTEGER);
CREATE OR REPLACE TEMP VIEW resulting_numbered AS SELECT form_id, place_id, reading_id FROM accepted_numbered UNION ALL FROM carried;
-- part: partial
INSERT INTO partial_forms
	SELECT form_id FROM summaries s JOIN form_numbers b USING (form_id) WHERE b.numbers <> s.numbers OR b.set_hash <> s.set_hash
	UNION SELECT form_id FROM retracted JOIN form_numbers USING (form_id)
-- part: numbers
CREATE OR REPLACE TEMP TABLE mentioned AS
	SELECT form_id, side, clothing, point, coalesce(height_mm, -1) AS height
	FROM accepted_numbered SEMI JOIN partial_forms USING (form_id) JOIN places USING (place_id)
	UNION SELECT form_id, side, clothing, point, coalesce(height_mm, -1) FROM retracted;
INSERT INTO carried
	SELECT b.form_id, b.place_id, b.reading_id FROM measured b SEMI JOIN partial_forms USING (form_id) JOIN places p USING (place_id)
	ANTI JOIN mentioned s ON s.form_id = b.form_id AND s.side = p.side AND s.clothing = p.clothing AND s.point = p.point AND s.height = coalesce(p.height_mm, -1);
CREATE OR REPLACE TEMP TABLE combined AS
	SELECT o.ord, o.form_id, p.side, p.clothing, p.point, p.height_mm, r.value_mm, {number hash} AS row_hash
	FROM (SELECT ord, form_id, place_id, reading_id FROM accepted_numbered SEMI JOIN partial_forms USING (form_id) UNION ALL SELECT {carried}, * FROM carried) o
	JOIN places p USING (place_id) JOIN readings r USING (reading_id);
DELETE FROM summaries WHERE form_id IN (SELECT form_id FROM partial_forms);
-- part: first
-- What ends is reported of the row that says so.
UPDATE summaries SET first = t.first FROM (SELECT form_id, min(ord) AS first FROM retracted GROUP BY form_id) t
	WHERE summaries.form_id = t.form_id AND summaries.first >= {carried}
-- part: emptied
-- The forms of which every number was taken back are changed too.
INSERT INTO changed
	SELECT form_id, min(ord), any_value(numbers) FROM retracted JOIN form_numbers USING (form_id)
	WHERE form_id IN (SELECT form_id FROM partial_forms) AND form_id NOT IN (SELECT form_id FROM summaries) GROUP BY form_id
