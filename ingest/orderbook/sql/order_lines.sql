-- The orders of a list (ids joined by the unit separator), in its order, with
-- the faults of the form cut from and the results reported.
WITH asked AS (
    SELECT id, place FROM (
        SELECT unnest(string_split($1, chr(31))) AS id, generate_subscripts(string_split($1, chr(31)), 1) AS place
    )
), few AS (
    SELECT f.order_id, f.fault_states FROM cut_form f SEMI JOIN asked a ON f.order_id = a.id
), reported AS (
    SELECT order_id, string_agg(said, ', ' ORDER BY day, said) AS reports FROM (
        SELECT order_id, min(reported_on) AS day, concat_ws(' ', result, zone, direction) AS said
        FROM outcomes o SEMI JOIN asked a ON o.order_id = a.id
        WHERE reported_on IS NULL OR reported_on <= CAST(getvariable('as_of') AS DATE)
        GROUP BY order_id, said
    )
    GROUP BY order_id
)
SELECT a.id, o.order_id IS NOT NULL, o.shipped_on, coalesce(w.shaft_written, ''), coalesce(w.shaft_height_mm, 'NaN'), coalesce(o.channel, ''),
    CAST(f.fault_states AS BIGINT), coalesce(r.reports, '')
FROM asked a
LEFT JOIN known_order o ON o.order_id = a.id
LEFT JOIN orders w ON w.order_id = a.id
LEFT JOIN few f ON f.order_id = a.id
LEFT JOIN reported r ON r.order_id = a.id
ORDER BY a.place;
