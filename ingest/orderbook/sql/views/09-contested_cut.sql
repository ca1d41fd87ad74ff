-- contested_cut: one row an order of which several forms claim to be the one
-- it was cut from; for such an order none is taken as known.
--
--   order_id
CREATE VIEW contested_cut AS
SELECT order_id
FROM forms
WHERE cut_from AND (received_on IS NULL OR received_on <= CAST(getvariable('as_of') AS DATE))
GROUP BY order_id
HAVING count(*) > 1;
