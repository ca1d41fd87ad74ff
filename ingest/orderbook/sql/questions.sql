-- What readers ask of the book beside the cohort; each part is one query.
-- part: call backs
SELECT o.shipped_on, b.order_id, coalesce(b.fault, ''), b.called_on, b.resolved, b.resolved_on
FROM call_back b JOIN known_order o USING (order_id) WHERE o.shipped_on IS NOT NULL
ORDER BY o.shipped_on, b.order_id, b.form_no, b.called_on, b.fault, b.resolved_on
-- part: shipping months
SELECT DISTINCT CAST(date_trunc('month', shipped_on) AS DATE) FROM known_order
WHERE shipped_on IS NOT NULL AND remake_of_order_id IS NULL ORDER BY 1
-- part: first and newest day
SELECT (SELECT min(least(received_on, cut_on, shipped_on)) FROM orders), newest FROM newest_day
-- part: repeats
SELECT session_id, coalesce(subject_id, ''), coalesce(measurer_id, ''), coalesce(trial, 0), coalesce(reference, false),
	side::VARCHAR, point::VARCHAR, height_mm, value_mm FROM repeats
WHERE (measured_on IS NULL OR measured_on <= CAST(getvariable('as_of') AS DATE))
	AND side IS NOT NULL AND point IS NOT NULL AND value_mm IS NOT NULL
ORDER BY session_id, subject_id, point, height_mm, side, measurer_id, trial, value_mm
-- part: costs
SELECT lower(item), value FROM costs WHERE value IS NOT NULL ORDER BY load_id, item, value
-- part: reports
SELECT order_id, reported_on, coalesce(result, ''), cost FROM outcomes SEMI JOIN (
	SELECT order_id FROM known_order WHERE shipped_on BETWEEN $1 AND $2
) USING (order_id)
WHERE reported_on IS NULL OR reported_on <= CAST(getvariable('as_of') AS DATE)
ORDER BY order_id, reported_on, result, cost
-- part: left out
-- Most first, with the first three of each reason.
SELECT reason, count(*), array_to_string(list_sort(min(order_id, 3)), chr(31))
FROM left_out GROUP BY reason ORDER BY count(*) DESC, reason
-- part: range months
SELECT month, count(*), count(*) FILTER (out_of_range),
	coalesce(array_to_string(list_sort(list(form_id) FILTER (out_of_range)), chr(31)), ''),
	array_to_string(list_sort(list(form_id)), chr(31))
FROM (
	SELECT date_trunc('month', f.received_on)::DATE AS month, f.form_id, e.out_of_range
	FROM forms f JOIN known_order o USING (order_id) JOIN form_evidence e USING (form_id)
	WHERE f.received_on <= CAST(getvariable('as_of') AS DATE) AND e.out_of_range IS NOT NULL
) GROUP BY month ORDER BY month
-- part: shipping days
SELECT shipped_on, count(*)
FROM known_order WHERE shipped_on IS NOT NULL AND remake_of_order_id IS NULL GROUP BY shipped_on ORDER BY shipped_on
-- part: outcomes
SELECT * FROM outcomes WHERE order_id = ?
	AND (reported_on IS NULL OR reported_on <= CAST(getvariable('as_of') AS DATE))
ORDER BY reported_on, result, zone, cause
-- part: order of a form
SELECT order_id FROM forms SEMI JOIN known_order USING (order_id)
WHERE form_id = ? AND (received_on IS NULL OR received_on <= CAST(getvariable('as_of') AS DATE))
-- part: customer's orders
SELECT order_id FROM known_order WHERE order_id = $1
	OR customer_id = (SELECT customer_id FROM known_order WHERE order_id = $1) ORDER BY received_on, order_id
-- part: trained
SELECT measurer_id, trained_on FROM measurers WHERE trained_on <= CAST(getvariable('as_of') AS DATE) ORDER BY measurer_id, trained_on
-- part: newest forms
-- Of each measurer with at least {least} keyed forms the newest {newest}, oldest first.
SELECT form_id, measurer_id, sex FROM (
	SELECT f.form_id, f.measurer_id, coalesce(o.sex, '') AS sex, f.received_on,
		row_number() OVER (PARTITION BY f.measurer_id ORDER BY f.received_on DESC NULLS LAST, f.form_id DESC) AS nth,
		count(*) OVER (PARTITION BY f.measurer_id) AS forms
	FROM forms f JOIN known_order o USING (order_id) SEMI JOIN form_numbers USING (form_id)
	WHERE f.measurer_id IS NOT NULL AND (f.received_on IS NULL OR f.received_on <= CAST(getvariable('as_of') AS DATE))
) WHERE nth <= {newest} AND forms >= {least} ORDER BY received_on NULLS FIRST, form_id
-- part: kept twice
-- The numbers that two or more pairs of one customer were cut from, where all of these
-- are old enough to tell and had no complaint.
WITH good AS (
	SELECT c.form_id, o.customer_id, c.received_on FROM cut_form c JOIN known_order o USING (order_id) JOIN follow_up u USING (order_id)
	WHERE u.days_followed >= $1 AND u.doubt IS NULL AND NOT u.remade AND u.returned_on IS NULL AND u.adjusted_on IS NULL AND u.zone IS NULL
		AND c.keyed AND o.customer_id IS NOT NULL
), twice AS (
	SELECT customer_id FROM good GROUP BY customer_id HAVING count(*) > 1 ORDER BY customer_id LIMIT $2
)
SELECT customer_id, side::VARCHAR, point::VARCHAR, height_mm, value_mm,
	row_number() OVER (PARTITION BY customer_id, side, point, height_mm ORDER BY received_on, form_id) AS trial
FROM twice JOIN good USING (customer_id) JOIN measurements USING (form_id)
WHERE clothing = 'bare' ORDER BY customer_id, side, point, height_mm, trial
-- part: instructions
SELECT upper(trim(instructions)) AS version, coalesce(channel, ''), count(*), sum(faults), sum(faults * faults),
	CASE WHEN count(*) <= 500 THEN array_to_string(list_sort(list(form_id)), chr(31)) ELSE '' END
FROM form WHERE trim(instructions) <> '' GROUP BY ALL ORDER BY ALL
