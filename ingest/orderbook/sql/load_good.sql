-- part: measurements
CREATE OR REPLACE TEMP VIEW good_measurements AS
	SELECT ord, form_id, side, clothing, point, h.number AS height_mm, h.t AS height_written,
	       v.number AS value_mm, v.t AS value_written, v.unit, CASE WHEN bad THEN '' END AS why
	FROM coded
	LEFT JOIN (SELECT id, t, number FROM words) h ON h.id = height_no
	LEFT JOIN (SELECT id, t, number, unit::unit_t AS unit FROM words) v ON v.id = value_no;
CREATE OR REPLACE TEMP VIEW coded_numbers AS
	SELECT ord, form_id, side, clothing, point, h.number AS height_mm, v.number AS value_mm,
	       hash(side, clothing, point, h.hashed, v.hashed) AS row_hash
	FROM coded
	LEFT JOIN (SELECT id, number, hash(number, t) AS hashed FROM words) h ON h.id = height_no
	LEFT JOIN (SELECT id, number, hash(number, t, unit::unit_t) AS hashed FROM words) v ON v.id = value_no
	WHERE NOT bad;
