-- left_out: one row an order known by the as-of day that is not in the
-- cohort, and why.
--
--   order_id
--   reason
CREATE VIEW left_out AS
SELECT o.order_id,
    CASE
        WHEN o.remake_of_order_id IS NOT NULL THEN 'second making of another order'
        WHEN o.shipped_on IS NULL THEN 'not shipped by the as-of day'
        ELSE u.doubt
    END AS reason
FROM known_order o
LEFT JOIN follow_up u USING (order_id)
WHERE o.remake_of_order_id IS NOT NULL OR o.shipped_on IS NULL OR u.doubt IS NOT NULL;
