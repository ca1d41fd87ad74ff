-- What the numbers of the forms in changed amount to. A place is where a number
-- is taken: clothing, point, height. Legs are counted by the shop's heights:
-- bit k is the height first + k*step, within the tolerance.
DELETE FROM form_numbers WHERE form_id IN (SELECT form_id FROM changed);
INSERT INTO form_numbers
WITH scheme AS (
	SELECT coalesce(max(value) FILTER (name = 'first_leg_height_mm')::DOUBLE, 177.8) AS first_mm,
	       coalesce(max(value) FILTER (name = 'leg_step_mm')::DOUBLE, 50.8) AS step_mm,
	       coalesce(max(value) FILTER (name = 'leg_tolerance_mm')::DOUBLE, 0.5) AS within_mm
	FROM settings
), places AS (
	SELECT form_id, clothing, point, height_mm,
	       count(*) AS n,
	       count(*) FILTER (side = 'left') AS n_left,
	       max(value_mm) FILTER (side = 'left') AS left_mm,
	       max(value_mm) FILTER (side = 'right') AS right_mm,
	       sum(hash(form_id, side, clothing, point, height_mm, height_written, value_mm, value_written, unit)) AS h
	FROM measurements SEMI JOIN changed USING (form_id)
	GROUP BY form_id, clothing, point, height_mm
), heights AS (
	SELECT height_mm, round((height_mm - first_mm) / step_mm) AS k, first_mm, step_mm, within_mm
	FROM (SELECT DISTINCT height_mm FROM places WHERE height_mm IS NOT NULL), scheme
), bits AS (
	SELECT height_mm, CASE WHEN k BETWEEN 0 AND 60 AND abs(first_mm + k * step_mm - height_mm) <= within_mm
		THEN 1::BIGINT << k::INTEGER ELSE 0 END AS leg_bit
	FROM heights
)
SELECT form_id,
       sum(h)::HUGEINT,
       sum(n)::INTEGER,
       coalesce(bit_or(foot_bit) FILTER (n_left > 0), 0)::UTINYINT,
       coalesce(bit_or(foot_bit) FILTER (n > n_left), 0)::UTINYINT,
       coalesce(bit_or(leg_bit) FILTER (n_left > 0 AND clothing = 'bare'), 0),
       coalesce(bit_or(leg_bit) FILTER (n > n_left AND clothing = 'bare'), 0),
       coalesce(sum(n) FILTER (clothing = 'tucked'), 0)::INTEGER,
       count(*) FILTER (left_mm IS NOT NULL AND right_mm IS NOT NULL)::INTEGER,
       count(*) FILTER (left_mm = right_mm)::INTEGER
FROM (
	SELECT places.*, coalesce(leg_bit, 0) AS leg_bit,
	       CASE WHEN clothing = 'bare' THEN CASE point WHEN 'length' THEN 1 WHEN 'breadth' THEN 2 WHEN 'ball' THEN 4
	            WHEN 'instep' THEN 8 WHEN 'heel' THEN 16 WHEN 'ankle' THEN 32 WHEN 'calf' THEN 64 ELSE 0 END
	       ELSE 0 END AS foot_bit
	FROM places LEFT JOIN bits USING (height_mm)
)
GROUP BY form_id;
