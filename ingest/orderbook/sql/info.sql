-- Counts of the book by the as-of day, one row each: an id and the count.
SELECT * FROM (VALUES
    ('orders', (SELECT count(*) FROM known_order)),
    ('shipped', (SELECT count(*) FROM known_order WHERE shipped_on IS NOT NULL)),
    ('followed', (SELECT count(*) FROM follow_up WHERE doubt IS NULL)),
    ('remade', (SELECT count(remade_on) FROM follow_up WHERE doubt IS NULL)),
    ('forms', (SELECT count(*) FROM forms WHERE received_on IS NULL OR received_on <= CAST(getvariable('as_of') AS DATE))),
    ('keyed', (SELECT count(*) FROM form_numbers)),
    ('judged', (SELECT count(*) FROM form_evidence)),
    ('numbers', (SELECT coalesce(sum(numbers), 0)::BIGINT FROM form_numbers)),
    ('outcomes', (SELECT count(*) FROM outcomes WHERE reported_on IS NULL OR reported_on <= CAST(getvariable('as_of') AS DATE))),
    ('call_backs', (SELECT count(*) FROM call_back)),
    ('measurers', (SELECT count(*) FROM measurers)),
    ('repeats', (SELECT count(*) FROM repeats)),
    ('superseded', (SELECT (SELECT count(*) FROM orders_history) + (SELECT count(*) FROM forms_history)
        + (SELECT count(*) FROM measurements_history) + (SELECT count(*) FROM outcomes_history) + (SELECT count(*) FROM callbacks_history)
        + (SELECT count(*) FROM measurers_history) + (SELECT count(*) FROM repeats_history) + (SELECT count(*) FROM costs_history))),
    ('no_cut_form', (SELECT count(*) FROM follow_up u ANTI JOIN (SELECT order_id FROM forms ANTI JOIN contested_cut USING (order_id)
        WHERE cut_from AND (received_on IS NULL OR received_on <= CAST(getvariable('as_of') AS DATE))) USING (order_id) WHERE u.doubt IS NULL)),
    ('contested_cut', (SELECT count(*) FROM contested_cut)),
    ('tucked_unknown', (SELECT count(*) FROM follow_up WHERE doubt IS NULL AND worn_tucked IS NULL)),
    ('orthotic_unknown', (SELECT count(*) FROM follow_up WHERE doubt IS NULL AND orthotic IS NULL)),
    ('stray_forms', (SELECT count(*) FROM forms ANTI JOIN orders USING (order_id))),
    ('stray_outcomes', (SELECT count(*) FROM outcomes ANTI JOIN orders USING (order_id)))
) AS counts (id, n)
