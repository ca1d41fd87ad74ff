-- later_form: one row a form that is not the first of its order by the as-of
-- day. The first has the lowest form_no, then the earliest day, then the
-- lowest form_id.
--
--   form_id, order_id
CREATE VIEW later_form AS
WITH known AS (
    SELECT form_id, order_id, form_no, received_on
    FROM forms
    WHERE received_on IS NULL OR received_on <= CAST(getvariable('as_of') AS DATE)
), several AS (
    SELECT order_id FROM known GROUP BY order_id HAVING count(*) > 1
)
SELECT form_id, order_id
FROM known SEMI JOIN several USING (order_id)
QUALIFY row_number() OVER (PARTITION BY order_id ORDER BY form_no NULLS LAST, received_on NULLS LAST, form_id) > 1;
