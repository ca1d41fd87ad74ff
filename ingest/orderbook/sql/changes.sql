-- What loads after load $1 brought, in counts of orders with the first five ids
-- each; $2 is the as-of day looked at before. An order is new where no earlier
-- load knew it, corrected where a later load ended a row of it, of its forms or
-- of their measurements, that an earlier load had brought; removed where it is
-- gone. A late outcome is one on an order that was shipped by then.
WITH ended AS (
    SELECT order_id FROM orders_history WHERE load_id <= $1 AND until_load > $1
    UNION SELECT order_id FROM forms_history WHERE load_id <= $1 AND until_load > $1
    UNION SELECT f.order_id FROM measured_history m JOIN forms f USING (form_id) WHERE m.load_id <= $1 AND m.until_load > $1
), before AS (
    SELECT order_id FROM orders WHERE load_id <= $1
    UNION SELECT order_id FROM orders_history WHERE load_id <= $1
), change AS (
    SELECT DISTINCT 'new' AS what, order_id FROM orders ANTI JOIN before USING (order_id)
    UNION ALL SELECT DISTINCT 'corrected', order_id FROM ended SEMI JOIN orders USING (order_id) SEMI JOIN before USING (order_id)
    UNION ALL SELECT DISTINCT 'removed', order_id FROM orders_history ANTI JOIN orders USING (order_id) WHERE load_id <= $1 AND until_load > $1
    UNION ALL SELECT DISTINCT 'late', o.order_id FROM outcomes r JOIN orders o USING (order_id)
        SEMI JOIN before USING (order_id)
        WHERE r.load_id > $1 AND o.shipped_on <= $2
)
SELECT what, count(*), array_to_string(list_sort(min(order_id, 5)), chr(31))
FROM change
GROUP BY what
