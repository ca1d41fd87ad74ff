-- What the form desk needs of forms: {where} is a condition on the view form f,
-- {which} one on form_id.
-- part: forms
SELECT f.form_id, f.order_id, coalesce(f.form_no, 0), f.received_on, coalesce(o.customer_id, ''), coalesce(o.earlier_order_id, ''),
	coalesce(f.sex, ''), coalesce(f.channel, ''), coalesce(f.shaft_height_mm, 'nan'::DOUBLE), f.fault_states,
	coalesce(f.closure, ''), coalesce(f.sock, ''),
	CASE f.worn_tucked WHEN TRUE THEN 'yes' WHEN FALSE THEN 'no' ELSE '' END,
	CASE f.orthotic WHEN TRUE THEN 'yes' WHEN FALSE THEN 'no' ELSE '' END,
	CASE WHEN f.measurer_kind IS DISTINCT FROM 'home' THEN coalesce(f.measurer_id, '') ELSE '' END
FROM form f JOIN known_order o USING (order_id) WHERE {where}
ORDER BY f.received_on, f.order_id, f.form_no, f.form_id
-- part: numbers
SELECT n.form_id, n.side::VARCHAR, n.clothing::VARCHAR, n.point::VARCHAR, n.height_mm, n.value_mm,
	coalesce(n.height_written, ''), n.value_written, n.unit::VARCHAR
FROM {numbers} n WHERE {which}
ORDER BY n.form_id, n.clothing, n.point, n.height_mm, n.side, n.value_mm
-- part: missing
SELECT m.form_id, m.side, m.clothing, m.point, m.height_mm FROM missing_number m WHERE {which}
ORDER BY m.form_id, m.height_mm NULLS FIRST, m.point::point_t, m.side
-- part: cut before
-- Of these customers or orders, without those of orders with a remake.
f.form_id IN (SELECT c.form_id FROM cut_form c JOIN known_order k USING (order_id)
	WHERE (k.customer_id IN (SELECT unnest(string_split(?, chr(31)))) OR c.order_id IN (SELECT unnest(string_split(?, chr(31)))))
	AND c.order_id NOT IN (SELECT order_id FROM outcomes WHERE result = 'remade'))
-- part: good
f.form_id IN (
	SELECT form_id FROM cut_form c JOIN follow_up u USING (order_id)
	WHERE u.days_followed >= ? AND u.doubt IS NULL AND NOT u.remade AND u.returned_on IS NULL AND u.adjusted_on IS NULL AND u.zone IS NULL
		AND c.order_id NOT IN (SELECT order_id FROM call_back) AND c.keyed
	QUALIFY row_number() OVER (PARTITION BY coalesce(c.channel, '') ORDER BY c.received_on DESC, c.form_id) <= ?)
-- part: waiting
-- All forms of the orders of which no leather is cut, where one came since a day.
f.order_id IN (
	SELECT n.order_id FROM forms n JOIN known_order k USING (order_id)
	WHERE k.cut_on IS NULL AND k.shipped_on IS NULL AND (n.received_on IS NULL OR n.received_on <= CAST(getvariable('as_of') AS DATE))
	GROUP BY n.order_id HAVING NOT bool_or(n.cut_from IS TRUE) AND max(n.received_on) >= ?)
-- part: asked
-- When the customer was last asked about forms, where the answer is not in.
SELECT form_id, max(called_on) FROM call_back WHERE form_id IN (SELECT unnest(string_split(?, chr(31)))) AND resolved IS NULL GROUP BY form_id
