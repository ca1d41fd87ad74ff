-- The ids known by the as-of day: those that a text means, and those about as long.
-- part: ids
-- A form that has its order's number is found by the order.
SELECT 'order' AS kind, order_id AS id FROM known_order
UNION ALL
SELECT 'form', form_id FROM forms SEMI JOIN known_order USING (order_id)
WHERE form_id <> order_id AND (received_on IS NULL OR received_on <= CAST(getvariable('as_of') AS DATE))
UNION ALL
SELECT DISTINCT 'customer', customer_id FROM known_order WHERE customer_id IS NOT NULL
-- part: meant
-- $1 the text, $2 in small letters, $3 and $4 these without zeros in front of the
-- figures, taken apart into figures and letters, $5 how many.
SELECT kind, id, CASE WHEN id = $1 THEN 0 WHEN lower(id) = $2 THEN 1 ELSE 2 END AS tier
FROM ({ids})
WHERE lower(id) = $2
    OR ($3 <> '' AND regexp_replace(lower(id), '^[^0-9]*0*', '') = $3
        AND ($4 = '' OR regexp_extract(lower(id), '^[^0-9]*') = $4))
ORDER BY tier, CASE kind WHEN 'order' THEN 0 WHEN 'form' THEN 1 ELSE 2 END, id
LIMIT $5
-- part: of length
SELECT kind, id FROM ({ids}) WHERE length(id) BETWEEN $1 AND $2 ORDER BY id, kind
