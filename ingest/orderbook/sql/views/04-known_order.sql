-- known_order: one row an order received by the as-of day (or on a day that
-- was not written), with the leg heights its shaft needs.
--
--   order_id … remake_of_order_id   as in the orders sheet
--   cut_on, shipped_on              NULL while the day is not reached
--   heights_needed                  how many leg heights the shaft needs a side:
--                                   first, first + step, … not above the shaft;
--                                   NULL where the shaft height is not known
--   ankle_needed                    the shop takes the ankle girth
CREATE VIEW known_order AS
SELECT
    order_id, customer_id, received_on,
    CASE WHEN cut_on <= CAST(getvariable('as_of') AS DATE) THEN cut_on END         AS cut_on,
    CASE WHEN shipped_on <= CAST(getvariable('as_of') AS DATE) THEN shipped_on END AS shipped_on,
    shaft_height_mm, closure, worn_tucked, sock, orthotic, channel, sex,
    earlier_order_id, remake_of_order_id,
    -- 0.05 mm is slack for the rounding of inches, far under a tape's line.
    CASE WHEN shaft_height_mm IS NOT NULL THEN
        CAST(greatest(0, least(62, floor((shaft_height_mm + 0.05 - first_leg_height_mm) / leg_step_mm) + 1)) AS INTEGER)
    END AS heights_needed,
    ankle_girth <> 'none' AS ankle_needed
FROM orders CROSS JOIN shop
WHERE received_on IS NULL OR received_on <= CAST(getvariable('as_of') AS DATE);
