-- missing_number: one row a number that the ordered boot needs and a form
-- received by the as-of day has not: ball, instep and heel girth, the ankle
-- where the shop takes it, the leg girth at each height that the shaft needs;
-- bare, on each side. A form without any measurement lacks all of them. Where
-- the shaft height is not known no leg girth is asked for.
--
--   form_id, order_id
--   side, clothing, point
--   height_mm   for leg girths
CREATE VIEW missing_number AS
WITH form_side AS (
    SELECT f.form_id, f.order_id, o.heights_needed, o.ankle_needed, s.side,
        coalesce(CASE s.side WHEN 'left' THEN n.foot_left ELSE n.foot_right END, 0) AS foot,
        coalesce(CASE s.side WHEN 'left' THEN n.leg_left ELSE n.leg_right END, 0)   AS leg
    FROM forms f
    JOIN known_order o USING (order_id)
    LEFT JOIN form_numbers n USING (form_id)
    CROSS JOIN (VALUES {sides}) AS s (side)
    WHERE f.received_on IS NULL OR f.received_on <= CAST(getvariable('as_of') AS DATE)
)
SELECT form_id, order_id, side, 'bare' AS clothing, p.point, NULL::DOUBLE AS height_mm
FROM form_side
CROSS JOIN (VALUES {needed points}) AS p (point, mask)
WHERE foot & p.mask = 0 AND (p.point <> 'ankle' OR ankle_needed)
UNION ALL
SELECT form_id, order_id, side, 'bare', 'leg', first_leg_height_mm + k * leg_step_mm
FROM (SELECT *, unnest(range(coalesce(heights_needed, 0))) AS k FROM form_side)
CROSS JOIN shop
WHERE leg & (1::BIGINT << k::INTEGER) = 0;
