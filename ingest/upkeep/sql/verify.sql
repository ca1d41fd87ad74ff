-- What book verify asks of the book.
-- part: numbers
-- Forms whose measurements are not those that were loaded.
SELECT count(*), count(*) FILTER (n.set_hash IS DISTINCT FROM m.set_hash OR n.numbers IS DISTINCT FROM m.numbers)
FROM (SELECT form_id, count(*) AS numbers, sum({row hash}) AS set_hash FROM book.measurements GROUP BY form_id) m
FULL JOIN book.form_numbers n USING (form_id)
-- part: keys
-- What must not be in a sound book, one row a kind: words and the count.
SELECT 'order ids stand more than once' AS what, (SELECT count(*) FROM (SELECT order_id FROM book.orders GROUP BY order_id HAVING count(*) > 1)) AS n
UNION ALL SELECT 'form ids stand more than once', (SELECT count(*) FROM (SELECT form_id FROM book.forms GROUP BY form_id HAVING count(*) > 1))
UNION ALL SELECT 'place ids stand more than once', (SELECT count(*) FROM (SELECT place_id FROM book.places GROUP BY place_id HAVING count(*) > 1))
UNION ALL SELECT 'reading ids stand more than once', (SELECT count(*) FROM (SELECT reading_id FROM book.readings GROUP BY reading_id HAVING count(*) > 1))
UNION ALL SELECT 'places are written down more than once', (SELECT count(*) FROM (SELECT 1 FROM book.places GROUP BY side, clothing, point, height_mm, height_written HAVING count(*) > 1))
UNION ALL SELECT 'readings are written down more than once', (SELECT count(*) FROM (SELECT 1 FROM book.readings GROUP BY value_mm, value_written, unit HAVING count(*) > 1))
UNION ALL SELECT 'old measurements have no place or reading', (SELECT count(*) FROM book.measured_history) - (SELECT count(*) FROM book.measurements_history)
UNION ALL SELECT 'measurer ids stand more than once', (SELECT count(*) FROM (SELECT measurer_id FROM book.measurers GROUP BY measurer_id HAVING count(*) > 1))
UNION ALL SELECT 'forms have their numbers counted more than once', (SELECT count(*) FROM (SELECT form_id FROM book.form_numbers GROUP BY form_id HAVING count(*) > 1))
UNION ALL SELECT 'forms are judged more than once', (SELECT count(*) FROM (SELECT form_id FROM book.form_evidence GROUP BY form_id HAVING count(*) > 1))
UNION ALL SELECT 'loads stand more than once in the ledger', (SELECT count(*) FROM (SELECT load_id FROM book.loads GROUP BY load_id HAVING count(*) > 1))
UNION ALL SELECT 'orders were brought by a load that the ledger does not know', (SELECT count(*) FROM book.orders ANTI JOIN book.loads USING (load_id))
UNION ALL SELECT 'forms were brought by a load that the ledger does not know', (SELECT count(*) FROM book.forms ANTI JOIN book.loads USING (load_id))
