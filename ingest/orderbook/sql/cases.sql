-- part: cases
-- What Cases and CaseOf read: one row an order that has a form, as it is seen on the day of
-- cutting: with the form it was cut from, otherwise the newest one.
--
-- {all}: also orders that are remade or whose year is over. {only}: a condition on the
-- orders of forms f.
--
--   stage     uncut, cut, shipped by the as-of day
--   states, first_states   fault states of that form and of the first one
--   before    what was known of the customer's earlier pairs when the order came
--             in: 0 none, 1 there are some, 2 one of them was remade
--
-- Orders whose year is over are left out first, and only the forms of orders with
-- several are compared: with all forms of a million orders this took more memory
-- than a reader has.
WITH not_over AS (
    SELECT form_id, order_id, form_no, received_on, cut_from, fault_states, alarm_score, measurer_id, measurer_kind
    FROM form f
    WHERE ({only}) AND ({all} OR NOT coalesce(CAST(getvariable('as_of') AS DATE) - f.order_shipped_on >= {horizon}, FALSE))
), several AS (
    SELECT order_id FROM not_over GROUP BY order_id HAVING count(*) > 1
), passed_over AS (
    SELECT f.form_id
    FROM not_over f SEMI JOIN several USING (order_id)
    LEFT JOIN contested_cut k USING (order_id)
    QUALIFY row_number() OVER (
        PARTITION BY f.order_id
        ORDER BY (f.cut_from IS TRUE AND k.order_id IS NULL) DESC, f.form_no DESC NULLS LAST, f.received_on DESC NULLS LAST, f.form_id DESC) > 1
), newest AS (
    SELECT f.* EXCLUDE (form_no), f.cut_from IS TRUE AND k.order_id IS NULL AS is_cut
    FROM not_over f ANTI JOIN passed_over USING (form_id)
    LEFT JOIN contested_cut k USING (order_id)
), first_states AS (
    SELECT order_id, fault_states FROM not_over ANTI JOIN later_form USING (form_id)
), chosen AS (
    SELECT n.* EXCLUDE (received_on), o.customer_id, o.cut_on, o.shipped_on,
        coalesce(o.received_on, n.received_on, o.shipped_on) AS came,
        coalesce(r.remakes, 0) > 0 OR coalesce(CAST(getvariable('as_of') AS DATE) - o.shipped_on >= {horizon}, FALSE) AS done
    FROM newest n
    JOIN known_order o USING (order_id)
    LEFT JOIN report r USING (order_id)
    WHERE {all} OR NOT done
), before AS (
    SELECT c.order_id, max(CASE WHEN r.remade_on < c.came THEN 2 ELSE 1 END) AS before
    FROM chosen c
    JOIN known_order e ON e.shipped_on < c.came AND e.remake_of_order_id IS NULL AND e.order_id <> c.order_id
        AND e.customer_id = c.customer_id
    LEFT JOIN report r ON r.order_id = e.order_id
    GROUP BY c.order_id
)
SELECT c.order_id, c.form_id,
    CASE WHEN c.shipped_on IS NOT NULL THEN 'shipped' WHEN c.is_cut OR c.cut_on IS NOT NULL THEN 'cut' ELSE 'uncut' END,
    c.came, c.fault_states::BIGINT, coalesce(f.fault_states, c.fault_states)::BIGINT,
    coalesce(c.alarm_score, 'NaN'::DOUBLE), coalesce(o.shaft_height_mm, 'NaN'::DOUBLE),
    concat(o.closure, chr(31), o.channel, chr(31), o.sock, chr(31), o.sex, chr(31),
        CASE o.worn_tucked WHEN TRUE THEN 'yes' WHEN FALSE THEN 'no' ELSE '' END, chr(31),
        CASE o.orthotic WHEN TRUE THEN 'yes' WHEN FALSE THEN 'no' ELSE '' END, chr(31),
        CASE WHEN c.measurer_kind IS DISTINCT FROM 'home' THEN coalesce(c.measurer_id, '') ELSE '' END),
    c.done, coalesce(b.before, 0)
FROM chosen c
JOIN orders o USING (order_id)
LEFT JOIN first_states f USING (order_id)
LEFT JOIN before b USING (order_id)
ORDER BY c.order_id;
-- part: earlier pairs
-- Of these customers: shipped pairs with the day of the first remake reported.
SELECT e.customer_id, e.order_id, e.shipped_on, r.remade_on
FROM known_order e
LEFT JOIN report r USING (order_id)
WHERE e.shipped_on IS NOT NULL AND e.remake_of_order_id IS NULL
    AND e.customer_id IN (SELECT unnest(string_split(?, chr(31))));
