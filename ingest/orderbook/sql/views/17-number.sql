-- number: one row a measurement on a form received by the as-of day.
--
--   form_id, order_id, form_no
--   side, clothing, point
--   height_mm, value_mm       in millimetres; height only for leg girths
--   height_written, value_written, unit   as it stood on the form
CREATE VIEW number AS
SELECT m.form_id, f.order_id, f.form_no, m.side, m.clothing, m.point, m.height_mm, m.value_mm,
    m.height_written, m.value_written, m.unit
FROM measurements m
JOIN forms f USING (form_id)
JOIN known_order o USING (order_id)
WHERE f.received_on IS NULL OR f.received_on <= CAST(getvariable('as_of') AS DATE);
