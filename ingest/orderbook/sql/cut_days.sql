-- Days on which orders of a list were cut, or shipped where that is not known.
SELECT order_id, coalesce(cut_on, shipped_on) AS day
FROM known_order
WHERE order_id IN (SELECT unnest(string_split(?, chr(31)))) AND coalesce(cut_on, shipped_on) IS NOT NULL
