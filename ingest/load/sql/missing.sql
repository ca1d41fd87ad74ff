-- Rows of the book that an export does not hold any more. here_<sheet> has what
-- the export holds, rows that were kept out too: they are there.
-- part: here orders
CREATE OR REPLACE TEMP TABLE here_orders AS SELECT DISTINCT order_id FROM valid_orders WHERE order_id IS NOT NULL;
-- part: here outcomes
CREATE OR REPLACE TEMP TABLE here_outcomes AS
	SELECT DISTINCT order_id, reported_on, result FROM valid_outcomes WHERE ord < {carried};
-- part: gone orders
CREATE OR REPLACE TEMP TABLE gone AS
	SELECT b.rowid AS id, order_id, load_id FROM orders b ANTI JOIN here_orders USING (order_id);
-- part: gone outcomes
-- Where the export writes a day into a report that had none, it is that report.
CREATE OR REPLACE TEMP TABLE gone AS
	SELECT b.rowid AS id, b.order_id, load_id FROM outcomes b
	WHERE NOT EXISTS (SELECT 1 FROM here_outcomes o WHERE o.order_id = b.order_id AND o.result IS NOT DISTINCT FROM b.result
			AND o.reported_on IS NOT DISTINCT FROM b.reported_on)
		AND NOT EXISTS (SELECT 1 FROM here_outcomes o WHERE b.reported_on IS NULL AND o.order_id = b.order_id AND o.result IS NOT DISTINCT FROM b.result);
-- part: of these files
-- A row that came with other files can't be missed in these.
DELETE FROM gone WHERE load_id <> {load} AND load_id NOT IN (
	SELECT load_id FROM load_files WHERE sheet = '{s}' AND taken > 0 GROUP BY load_id HAVING bool_and(file IN ({files})));
-- part: count
SELECT count(*), coalesce(array_to_string(list_sort(min(order_id, 3)), ', '), '') FROM gone
-- part: end
INSERT INTO {s}_history BY NAME SELECT b.*, {load} AS until_load FROM {s} b WHERE rowid IN (SELECT id FROM gone);
DELETE FROM {s} WHERE rowid IN (SELECT id FROM gone);
