WITH scheme AS (
	SELECT coalesce(max(value) FILTER (name = 'first_leg_height_mm')::DOUBLE, 177.8) AS first_mm,
	       coalesce(max(value) FILTER (name = 'leg_step_mm')::DOUBLE, 50.8) AS step_mm,
	       coalesce(max(value) FILTER (name = 'leg_tolerance_mm')::DOUBLE, 0.5) AS within_mm
	FROM settings
), places AS (
	-- a place is where a number is taken on either side
	SELECT form_id, clothing, point, height_mm, min(ord) AS first,
	       count(*) FILTER (side = 'left') AS n_left,
	       count(*) FILTER (side = 'right') AS n_right,
	       max(value_mm) FILTER (side = 'left') AS left_mm,
	       max(value_mm) FILTER (side = 'right') AS right_mm,
	       sum(row_hash) AS h
	FROM {rows}
	GROUP BY form_id, clothing, point, height_mm
), marked AS (
	-- legs are counted by the shop's heights: bit k is first + k*step, within the tolerance
	SELECT *,
	       CASE WHEN clothing = 'bare' THEN CASE point WHEN 'length' THEN 1 WHEN 'breadth' THEN 2 WHEN 'ball' THEN 4
	            WHEN 'instep' THEN 8 WHEN 'heel' THEN 16 WHEN 'ankle' THEN 32 WHEN 'calf' THEN 64 ELSE 0 END
	       ELSE 0 END::UTINYINT AS foot_bit,
	       round((height_mm - first_mm) / step_mm) AS k,
	       CASE WHEN clothing = 'bare' AND k BETWEEN 0 AND 60 AND abs(first_mm + k * step_mm - height_mm) <= within_mm
	            THEN 1::BIGINT << k::INTEGER ELSE 0 END AS leg_bit
	FROM places, scheme
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
       bool_or(n_left > 1 OR n_right > 1) AS twins
FROM marked
GROUP BY form_id
