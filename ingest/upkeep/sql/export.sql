-- What Export writes: one query a table; year is the folder a row goes to.
-- Rows stand in the order of their keys, so that the same book gives the same
-- bytes.

-- table orders
SELECT * EXCLUDE (load_id), coalesce(year(received_on), 0) AS year FROM orders ORDER BY order_id;

-- table forms
SELECT * EXCLUDE (load_id), coalesce(year(received_on), 0) AS year FROM forms ORDER BY form_id;

-- table measurements
SELECT m.form_id, m.side::VARCHAR AS side, m.clothing::VARCHAR AS clothing, m.point::VARCHAR AS point, m.height_mm, m.value_mm,
    m.height_written, m.value_written, m.unit::VARCHAR AS unit, coalesce(year(f.received_on), 0) AS year
FROM measurements m LEFT JOIN forms f USING (form_id)
ORDER BY m.form_id, m.side, m.clothing, m.point, m.height_mm, m.value_mm, m.value_written;

-- table outcomes
SELECT * EXCLUDE (load_id), coalesce(year(reported_on), 0) AS year FROM outcomes
ORDER BY order_id, reported_on, result, zone, direction, side, cause, cost;

-- table callbacks
SELECT * EXCLUDE (load_id), coalesce(year(called_on), 0) AS year FROM callbacks
ORDER BY form_id, called_on, fault, resolved, resolved_on;

-- table measurers
SELECT * EXCLUDE (load_id), coalesce(year(trained_on), 0) AS year FROM measurers ORDER BY measurer_id;

-- table repeats
SELECT session_id, subject_id, measurer_id, trial, reference, side::VARCHAR AS side, point::VARCHAR AS point, height_mm, value_mm,
    height_written, value_written, unit::VARCHAR AS unit, measured_on, coalesce(year(measured_on), 0) AS year
FROM repeats ORDER BY session_id, subject_id, measurer_id, trial, side, point, height_mm, value_mm;

-- table costs
SELECT item, value, 0 AS year FROM costs ORDER BY item, value;

-- table form_evidence
SELECT e.*, coalesce(year(f.received_on), 0) AS year FROM form_evidence e LEFT JOIN forms f USING (form_id) ORDER BY e.form_id;
