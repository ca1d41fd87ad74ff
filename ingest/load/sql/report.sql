-- What a load did.
-- part: rejected
SELECT ord - {lo}, why FROM rejected_{s} WHERE ord BETWEEN {lo} AND {hi} ORDER BY ord
-- part: mates
SELECT ord - {lo} FROM accepted_{s} WHERE ord BETWEEN {lo} AND {hi} AND {key} IN (
	SELECT {key} FROM valid_{s} WHERE ord IN (SELECT ord FROM rejected_{s}))
-- part: parquet
SELECT file_row_number, {cells} FROM read_parquet({path}, file_row_number = true)
WHERE file_row_number + {lo} IN (SELECT ord FROM valid_{s} WHERE {key} IS NULL OR {key} IN (
	SELECT {key} FROM valid_{s} JOIN rejected_{s} USING (ord))) ORDER BY file_row_number
-- part: brought
CREATE OR REPLACE TEMP TABLE brought AS
	SELECT DISTINCT order_id FROM (
		SELECT order_id FROM orders WHERE load_id = {load} UNION ALL SELECT order_id FROM outcomes WHERE load_id = {load}
		UNION ALL SELECT order_id FROM forms WHERE load_id = {load} OR form_id IN (SELECT form_id FROM touched))
-- part: gist
WITH f AS (SELECT order_id, form_id FROM forms SEMI JOIN brought USING (order_id)),
	n AS (SELECT order_id, sum(numbers) AS numbers, sum(tucked) AS tucked FROM f LEFT JOIN form_numbers USING (form_id) GROUP BY order_id),
	r AS (SELECT order_id, bool_or(result = 'remade') AS remade, bool_or(result = 'remade' AND reported_on IS NOT NULL) AS dated
		FROM outcomes SEMI JOIN brought USING (order_id) GROUP BY order_id)
SELECT brought, formed, numbered, reported, numbers, tucked, first_day, last_day, shipped, remade, undated, stray
FROM (SELECT count(*) AS brought, count(shipped_on) AS shipped, coalesce(min(received_on)::VARCHAR, '') AS first_day, coalesce(max(received_on)::VARCHAR, '') AS last_day
		FROM brought LEFT JOIN orders USING (order_id)),
	(SELECT count(order_id) AS formed, count(numbers) AS numbered, coalesce(sum(numbers), 0)::BIGINT AS numbers, coalesce(sum(tucked), 0)::BIGINT AS tucked FROM n),
	(SELECT count(*) AS reported, count(*) FILTER (remade) AS remade, count(*) FILTER (remade AND NOT dated) AS undated FROM r),
	(SELECT count(*) AS stray FROM forms ANTI JOIN orders USING (order_id))
-- part: extremes
WITH few AS (
	SELECT place_id, reading_id, count(*) AS n, min(form_id) AS form_id FROM measured WHERE load_id = {load} GROUP BY ALL),
v AS (SELECT form_id, n, side, clothing, point, height_mm, value_mm, value_written, unit FROM few JOIN places USING (place_id) JOIN readings USING (reading_id)),
m AS (SELECT clothing, point, height_mm, quantile_cont(value_mm, 0.5) AS middle, sum(n) AS total FROM v GROUP BY ALL)
SELECT form_id, concat_ws(' ', v.side, CASE WHEN v.clothing = 'tucked' THEN 'tucked' END, v.point, CASE WHEN v.height_mm IS NOT NULL THEN round(v.height_mm)::INT || ' mm' END) AS place,
	CASE WHEN value_written SIMILAR TO '.*[0-9]' THEN value_written || ' ' || unit ELSE value_written END AS written, value_mm::VARCHAR AS mm, middle::VARCHAR AS middle
FROM v JOIN m ON m.clothing = v.clothing AND m.point = v.point AND m.height_mm IS NOT DISTINCT FROM v.height_mm
WHERE total >= 10 ORDER BY abs(ln(value_mm / middle)) DESC, form_id, place LIMIT {most}
