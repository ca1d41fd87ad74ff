-- shop: the shop's way of measuring, one row. Without a setting the common
-- practice of the trade holds (no published source): leg girths at 7 inches
-- and every 2 inches up, the least girth of the ankle.
--
--   first_leg_height_mm   the lowest leg height
--   leg_step_mm           from one leg height to the next
--   leg_tolerance_mm      how far from a height the tape may lie and still count
--   ankle_girth           least, over-bones, or none where the shop takes none
--   heel_girth            short or long
CREATE VIEW shop AS
SELECT
    coalesce(max(TRY_CAST(value AS DOUBLE)) FILTER (name = 'first_leg_height_mm'), {first}) AS first_leg_height_mm,
    coalesce(max(TRY_CAST(value AS DOUBLE)) FILTER (name = 'leg_step_mm'), {step})          AS leg_step_mm,
    coalesce(max(TRY_CAST(value AS DOUBLE)) FILTER (name = 'leg_tolerance_mm'), {within})        AS leg_tolerance_mm,
    coalesce(max(value) FILTER (name = 'ankle_girth'), '{ankle girth}')                           AS ankle_girth,
    coalesce(max(value) FILTER (name = 'heel_girth'), '{heel girth}')                            AS heel_girth
FROM settings;
