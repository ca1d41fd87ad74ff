-- The forms of a list (ids joined by the unit separator), in its order.
SELECT a.id, o.order_id, f.received_on, coalesce(f.measurer_id, '')
FROM (
    SELECT unnest(string_split($1, chr(31))) AS id, generate_subscripts(string_split($1, chr(31)), 1) AS place
) a
LEFT JOIN forms f ON f.form_id = a.id
LEFT JOIN known_order o ON o.order_id = f.order_id
ORDER BY a.place;
