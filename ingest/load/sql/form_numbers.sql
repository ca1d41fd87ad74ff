-- What the numbers of each form amount to (the table form_numbers), with the
-- place of its first row, and whether a place of the form stands twice (twins).
-- part: scheme
WITH scheme AS (
	SELECT coalesce(max(value) FILTER (name = 'first_leg_height_mm')::DOUBLE, 177.8) AS first_mm,
	       coalesce(max(value) FILTER (name = 'leg_step_mm')::DOUBLE, 50.8) AS step_mm,
	       coalesce(max(value) FILTER (name = 'leg_tolerance_mm')::DOUBLE, 0.5) AS within_mm
	FROM settings
)
-- part: bits
-- Legs are counted by the shop's heights: bit k is first + k*step, within the tolerance.
CASE WHEN clothing = 'bare' THEN CASE point WHEN 'length' THEN 1 WHEN 'breadth' THEN 2 WHEN 'ball' THEN 4
     WHEN 'instep' THEN 8 WHEN 'heel' THEN 16 WHEN 'ankle' THEN 32 WHEN 'calf' THEN 64 ELSE 0 END
ELSE 0 END::UTINYINT AS foot_bit,
round((height_mm - first_mm) / step_mm) AS k,
CASE WHEN clothing = 'bare' AND k BETWEEN 0 AND 60 AND abs(first_mm + k * step_mm - height_mm) <= within_mm
     THEN 1::BIGINT << k::INTEGER ELSE 0 END AS leg_bit
-- part: rows
-- Of any rows of measurements, with their ord and row_hash.
{scheme}, places AS (
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
	SELECT *, {bits} FROM places, scheme
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
-- part: spots
-- The places of a load with what they add to a form. spot numbers what may
-- stand once on a form, pair leaves the side out.
CREATE OR REPLACE TEMP TABLE spots AS {scheme}, marked AS (
	SELECT *, {bits} FROM place, scheme WHERE NOT bad
)
SELECT no, side, clothing, point, height_hash,
       CASE WHEN side = 'left' THEN foot_bit ELSE 0 END::UTINYINT AS foot_left,
       CASE WHEN side = 'right' THEN foot_bit ELSE 0 END::UTINYINT AS foot_right,
       CASE WHEN side = 'left' THEN leg_bit ELSE 0 END AS leg_left,
       CASE WHEN side = 'right' THEN leg_bit ELSE 0 END AS leg_right,
       (clothing = 'tucked')::INTEGER AS tucked,
       dense_rank() OVER (ORDER BY clothing, point, height_mm)::INTEGER AS pair,
       dense_rank() OVER (ORDER BY side, clothing, point, height_mm)::INTEGER AS spot
FROM marked
-- part: words
-- The places with bit spot and bit pair set, in as many words as it takes.
CREATE OR REPLACE TEMP TABLE spot_words AS SELECT *, {words} FROM spots
-- part: staged
-- Of staged rows, by way of their places. What stands on both sides is counted
-- by what is not different; where a place stands twice the counts are not right,
-- and such forms are looked at again.
SELECT form_id,
       sum(hash(side, clothing, point, height_hash, value_hash))::HUGEINT AS set_hash,
       count(*)::INTEGER AS numbers,
       bit_or(foot_left) AS foot_left,
       bit_or(foot_right) AS foot_right,
       bit_or(leg_left) AS leg_left,
       bit_or(leg_right) AS leg_right,
       sum(tucked)::INTEGER AS tucked,
       numbers - ({pairs set})::INTEGER AS paired,
       numbers - len(list_distinct(list(pair::BIGINT << 32 | mm_no)))::INTEGER AS paired_equal,
       min(s.rowid) - {first} AS first,
       {spots set} < count(*) AS twins
FROM stage_measurements s JOIN spot_words p ON p.no = place_no JOIN reading v ON v.no = value_no
WHERE s.rowid >= {lo} AND s.rowid < {hi} AND form_id IS NOT NULL AND NOT v.bad
GROUP BY form_id
