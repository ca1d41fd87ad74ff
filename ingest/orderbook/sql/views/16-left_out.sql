-- left_out: one row an order known by the as-of day that is not in the
-- cohort, and why.
--
--   order_id
--   reason
CREATE VIEW left_out AS
SELECT order_id,
    CASE WHEN remake_of_order_id IS NOT NULL THEN 'second making of another order'
        ELSE 'not shipped by the as-of day' END AS reason
FROM known_order
WHERE remake_of_order_id IS NOT NULL OR shipped_on IS NULL
UNION ALL
SELECT order_id, doubt FROM follow_up WHERE doubt IS NOT NULL;
