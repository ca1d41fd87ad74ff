-- call_back: one row a time that the customer was asked to measure again, by
-- the as-of day.
--
--   form_id, order_id, form_no
--   called_on, fault
--   resolved, resolved_on   NULL while the answer is not in
CREATE VIEW call_back AS
SELECT b.form_id, f.order_id, f.form_no, b.called_on, b.fault,
    CASE WHEN b.resolved_on IS NULL OR b.resolved_on <= CAST(getvariable('as_of') AS DATE) THEN b.resolved END AS resolved,
    CASE WHEN b.resolved_on <= CAST(getvariable('as_of') AS DATE) THEN b.resolved_on END AS resolved_on
FROM callbacks b
JOIN forms f USING (form_id)
JOIN known_order o USING (order_id)
WHERE (b.called_on IS NULL OR b.called_on <= CAST(getvariable('as_of') AS DATE))
  AND (f.received_on IS NULL OR f.received_on <= CAST(getvariable('as_of') AS DATE));
