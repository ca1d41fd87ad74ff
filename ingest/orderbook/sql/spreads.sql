-- How the shop's own bare foot numbers, and their main ratios, are spread among
-- people of one sex: type-7 quantiles over both sides of the newest
-- {forms} forms that were cut from. The limit keeps memory from growing with the book.
WITH chosen AS (
    SELECT f.form_id, coalesce(o.sex, '') AS sex
    FROM forms f
    JOIN known_order o USING (order_id)
    ANTI JOIN contested_cut USING (order_id)
    WHERE f.cut_from AND (f.received_on IS NULL OR f.received_on <= CAST(getvariable('as_of') AS DATE))
    ORDER BY f.received_on DESC NULLS LAST, f.form_id
    LIMIT {forms}
), foot AS (
    SELECT
        any_value(c.sex) AS sex,
        max(value_mm) FILTER (point = 'length')  AS length,
        max(value_mm) FILTER (point = 'breadth') AS breadth,
        max(value_mm) FILTER (point = 'ball')    AS ball,
        max(value_mm) FILTER (point = 'instep')  AS instep,
        max(value_mm) FILTER (point = 'heel')    AS heel,
        max(value_mm) FILTER (point = 'ankle')   AS ankle,
        max(value_mm) FILTER (point = 'calf')    AS calf
    FROM measurements m
    JOIN chosen c USING (form_id)
    WHERE m.clothing = 'bare' AND m.point <> 'leg'
    GROUP BY m.form_id, m.side
), number AS (
    SELECT sex, unnest([
        {'name': 'length', 'value': length}, {'name': 'breadth', 'value': breadth},
        {'name': 'ball', 'value': ball}, {'name': 'instep', 'value': instep},
        {'name': 'heel', 'value': heel}, {'name': 'ankle', 'value': ankle}, {'name': 'calf', 'value': calf},
        {'name': 'ball/length', 'value': ball / length}, {'name': 'breadth/length', 'value': breadth / length},
        {'name': 'ball/breadth', 'value': ball / breadth}, {'name': 'heel/length', 'value': heel / length},
        {'name': 'heel/ball', 'value': heel / ball}, {'name': 'ankle/ball', 'value': ankle / ball},
        {'name': 'ankle/heel', 'value': ankle / heel}, {'name': 'calf/ankle', 'value': calf / ankle},
        {'name': 'calf/heel', 'value': calf / heel}], recursive := true)
    FROM foot
)
SELECT name, sex, count(value) AS n, unnest(quantile_cont(value, [0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99])) AS quantile
FROM number
WHERE isfinite(value)
GROUP BY name, sex
ORDER BY name, sex, quantile
