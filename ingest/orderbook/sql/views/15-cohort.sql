-- cohort: one row a new order shipped by the as-of day whose follow-up can be
-- told: what analysis reads.
--
--   order_id, customer_id, received_on, shipped_on, shipped_month
--   shaft_height_mm, closure, channel, sock, sex, worn_tucked, orthotic
--   cut_form_id, cut_form_no, measurer_id, region   of the form cut from
--   first_form_id, called_back      call-backs on any of its forms
--   tape_marks_missing … orthotic_undiscussed   faults of the form cut from,
--                         TRUE, FALSE or NULL as in form; all NULL where no
--                         form is known as the one cut from
--   days_followed, remade, remade_on, days_to_remake   as in follow_up
--   returned_on, adjusted_on, cause, zone, direction, side, cost, answered   as in follow_up
--   cut_states, first_states        fault_states of the two forms, or
--                         formless_states where there is none
CREATE VIEW cohort AS
SELECT
    u.order_id, u.customer_id, u.received_on, u.shipped_on, strftime(u.shipped_on, '%Y-%m') AS shipped_month,
    u.shaft_height_mm, u.closure, u.channel, u.sock, u.sex, u.worn_tucked, u.orthotic,
    c.form_id AS cut_form_id, c.form_no AS cut_form_no, c.measurer_id, c.measurer_region AS region,
    a.form_id AS first_form_id, b.order_id IS NOT NULL AS called_back,
    {faults of c},
    u.days_followed, u.remade, u.remade_on, u.days_to_remake, u.returned_on, u.adjusted_on,
    u.cause, u.zone, u.direction, u.side, u.cost, u.answered,
    coalesce(c.fault_states, u.formless_states) AS cut_states,
    coalesce(a.fault_states, u.formless_states) AS first_states
FROM follow_up u
LEFT JOIN cut_form c USING (order_id)
LEFT JOIN first_form a USING (order_id)
LEFT JOIN (
    SELECT DISTINCT order_id FROM call_back
) b USING (order_id)
WHERE u.doubt IS NULL;
