-- What the numbers of each form amount to (the table form_numbers), of rows of
-- measurements with their ord and row_hash; with the place of the form's first
-- row, and whether a place of the form stands twice (duplicates).
WITH place AS (
	-- where a number is taken, on either side
	SELECT form_id, clothing, point, height_mm, min(ord) AS first,
	       count(*) FILTER (side = 'left') AS n_left,
	       count(*) FILTER (side = 'right') AS n_right,
	       max(value_mm) FILTER (side = 'left') AS left_mm,
	       max(value_mm) FILTER (side = 'right') AS right_mm,
	       sum(row_hash) AS h
	FROM {rows}
	GROUP BY form_id, clothing, point, height_mm
), counted AS (
	-- Bare feet are counted by point, bare legs by the shop's heights: bit k is
	-- first + k*step, within the tolerance.
	SELECT *,
	       CASE WHEN clothing = 'bare' AND point <> 'leg' THEN 1 << enum_code(point)::INTEGER ELSE 0 END AS foot_bit,
	       round((height_mm - first_mm) / step_mm) AS k,
	       CASE WHEN clothing = 'bare' AND k BETWEEN 0 AND {heights} AND abs(first_mm + k * step_mm - height_mm) <= within_mm
	            THEN 1::BIGINT << k::INTEGER ELSE 0 END AS leg_bit
	FROM place, (
		SELECT coalesce(max(value) FILTER (name = 'first_leg_height_mm')::DOUBLE, {first}) AS first_mm,
		       coalesce(max(value) FILTER (name = 'leg_step_mm')::DOUBLE, {step}) AS step_mm,
		       coalesce(max(value) FILTER (name = 'leg_tolerance_mm')::DOUBLE, {within}) AS within_mm
		FROM settings)
)
SELECT form_id,
       sum(h)::HUGEINT AS set_hash,
       sum(n_left + n_right)::INTEGER AS numbers,
       coalesce(bit_or(foot_bit) FILTER (n_left > 0), 0)::UTINYINT AS foot_left,
       coalesce(bit_or(foot_bit) FILTER (n_right > 0), 0)::UTINYINT AS foot_right,
       coalesce(bit_or(leg_bit) FILTER (n_left > 0), 0)::BIGINT AS leg_left,
       coalesce(bit_or(leg_bit) FILTER (n_right > 0), 0)::BIGINT AS leg_right,
       coalesce(sum(n_left + n_right) FILTER (clothing = 'tucked'), 0)::INTEGER AS tucked,
       count(*) FILTER (n_left > 0 AND n_right > 0)::INTEGER AS paired,
       count(*) FILTER (left_mm = right_mm)::INTEGER AS paired_equal,
       min(first) AS first,
       bool_or(n_left > 1 OR n_right > 1) AS duplicates
FROM counted
GROUP BY form_id
