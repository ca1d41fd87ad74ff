-- Counts of the book by the as-of day: after each id, the query that counts.

-- count orders
SELECT count(*) FROM known_order;
-- count shipped
SELECT count(*) FROM known_order WHERE shipped_on IS NOT NULL;
-- count followed
SELECT count(*) FROM follow_up WHERE doubt IS NULL;
-- count remade
SELECT count(*) FILTER (remade) FROM follow_up WHERE doubt IS NULL;
-- count forms
SELECT count(*) FROM forms WHERE received_on IS NULL OR received_on <= CAST(getvariable('as_of') AS DATE);
-- count unkeyed
SELECT count(*) FROM forms ANTI JOIN form_numbers USING (form_id)
WHERE received_on IS NULL OR received_on <= CAST(getvariable('as_of') AS DATE);
-- count judged
SELECT count(*) FROM form_evidence;
-- count numbers
SELECT count(*) FROM measured;
-- count outcomes
SELECT count(*) FROM outcomes WHERE reported_on IS NULL OR reported_on <= CAST(getvariable('as_of') AS DATE);
-- count call_backs
SELECT count(*) FROM call_back;
-- count measurers
SELECT count(*) FROM measurers;
-- count repeats
SELECT count(*) FROM repeats;
-- count superseded
SELECT sum(n)::BIGINT FROM (SELECT count(*) AS n FROM orders_history UNION ALL SELECT count(*) FROM forms_history
    UNION ALL SELECT count(*) FROM measured_history UNION ALL SELECT count(*) FROM outcomes_history UNION ALL SELECT count(*) FROM callbacks_history
    UNION ALL SELECT count(*) FROM measurers_history UNION ALL SELECT count(*) FROM repeats_history UNION ALL SELECT count(*) FROM costs_history);
-- count no_cut_form
SELECT count(*) FROM follow_up u ANTI JOIN (
    SELECT order_id FROM forms ANTI JOIN contested_cut USING (order_id)
    WHERE cut_from AND (received_on IS NULL OR received_on <= CAST(getvariable('as_of') AS DATE))) USING (order_id)
WHERE u.doubt IS NULL;
-- count contested_cut
SELECT count(*) FROM contested_cut;
-- count tucked_unknown
SELECT count(*) FROM follow_up WHERE doubt IS NULL AND worn_tucked IS NULL;
-- count orthotic_unknown
SELECT count(*) FROM follow_up WHERE doubt IS NULL AND orthotic IS NULL;
-- count stray_forms
SELECT count(*) FROM forms ANTI JOIN orders USING (order_id);
-- count stray_outcomes
SELECT count(*) FROM outcomes ANTI JOIN orders USING (order_id);
