-- What must not be in a sound book, one row a kind: words and the count.
SELECT 'order ids stand more than once' AS what, (SELECT count(*) FROM (SELECT order_id FROM book.orders GROUP BY order_id HAVING count(*) > 1)) AS n
UNION ALL SELECT 'form ids stand more than once', (SELECT count(*) FROM (SELECT form_id FROM book.forms GROUP BY form_id HAVING count(*) > 1))
UNION ALL SELECT 'measurer ids stand more than once', (SELECT count(*) FROM (SELECT measurer_id FROM book.measurers GROUP BY measurer_id HAVING count(*) > 1))
UNION ALL SELECT 'forms have their numbers counted more than once', (SELECT count(*) FROM (SELECT form_id FROM book.form_numbers GROUP BY form_id HAVING count(*) > 1))
UNION ALL SELECT 'forms are judged more than once', (SELECT count(*) FROM (SELECT form_id FROM book.form_evidence GROUP BY form_id HAVING count(*) > 1))
UNION ALL SELECT 'loads stand more than once in the ledger', (SELECT count(*) FROM (SELECT load_id FROM book.loads GROUP BY load_id HAVING count(*) > 1))
UNION ALL SELECT 'orders were brought by a load that the ledger does not know', (SELECT count(*) FROM book.orders ANTI JOIN book.loads USING (load_id))
UNION ALL SELECT 'forms were brought by a load that the ledger does not know', (SELECT count(*) FROM book.forms ANTI JOIN book.loads USING (load_id))
