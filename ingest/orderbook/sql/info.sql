-- Counts of the book by the as-of day: queries of one row, each column a count by its
-- name.

-- count orders
SELECT count(*) AS orders, count(shipped_on) AS shipped FROM known_order;
-- count cohort
SELECT count(*) AS followed, count(*) FILTER (remade) AS remade, count(*) FILTER (c.order_id IS NULL) AS no_cut_form,
    count(*) FILTER (worn_tucked IS NULL) AS tucked_unknown, count(*) FILTER (orthotic IS NULL) AS orthotic_unknown
FROM follow_up u LEFT JOIN (
    SELECT DISTINCT order_id FROM forms ANTI JOIN contested_cut USING (order_id)
    WHERE cut_from AND (received_on IS NULL OR received_on <= CAST(getvariable('as_of') AS DATE))) c USING (order_id)
WHERE u.doubt IS NULL;
-- count forms
SELECT count(*) AS forms, count(*) FILTER (numbers IS NULL) AS unkeyed FROM forms LEFT JOIN form_numbers USING (form_id)
WHERE received_on IS NULL OR received_on <= CAST(getvariable('as_of') AS DATE);
-- count judged
SELECT count(*) AS judged FROM form_evidence;
-- count numbers
SELECT count(*) AS numbers FROM measured;
-- count outcomes
SELECT count(*) AS outcomes FROM outcomes WHERE reported_on IS NULL OR reported_on <= CAST(getvariable('as_of') AS DATE);
-- count call_backs
SELECT count(*) AS call_backs FROM call_back;
-- count measurers
SELECT count(*) AS measurers FROM measurers;
-- count repeats
SELECT count(*) AS repeats FROM repeats;
-- count superseded
SELECT sum(n)::BIGINT AS superseded FROM (SELECT count(*) AS n FROM orders_history UNION ALL SELECT count(*) FROM forms_history
    UNION ALL SELECT count(*) FROM measured_history UNION ALL SELECT count(*) FROM outcomes_history UNION ALL SELECT count(*) FROM callbacks_history
    UNION ALL SELECT count(*) FROM measurers_history UNION ALL SELECT count(*) FROM repeats_history UNION ALL SELECT count(*) FROM costs_history);
-- count contested_cut
SELECT count(*) AS contested_cut FROM contested_cut;
-- count stray_forms
SELECT count(*) AS stray_forms FROM forms ANTI JOIN orders USING (order_id);
-- count stray_outcomes
SELECT count(*) AS stray_outcomes FROM outcomes ANTI JOIN orders USING (order_id);
