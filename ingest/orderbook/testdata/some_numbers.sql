-- Numbers, old rows, repeats and costs for three_orders.sql.
CREATE TEMP TABLE written AS FROM measurements LIMIT 0;
INSERT INTO written VALUES
  ('A1', 'left', 'bare', 'leg', 228.6, 330, '9', '13', 'in', 1),
  ('A1', 'left', 'bare', 'ball', NULL, 254, NULL, '10', 'in', 1),
  ('A1', 'right', 'bare', 'ball', NULL, 250, NULL, '25', 'cm', 1),
  ('A1', 'left', 'bare', 'length', NULL, 270, NULL, '270', 'mm', 1),
  ('A1', 'left', 'tucked', 'leg', 228.6, 340, '9', '340', 'mm', 1);
INSERT INTO places SELECT row_number() OVER (), * FROM (SELECT DISTINCT side, clothing, point, height_mm, height_written FROM written);
INSERT INTO readings SELECT row_number() OVER (), * FROM (SELECT DISTINCT value_mm, value_written, unit FROM written);
INSERT INTO measured SELECT form_id, place_id, reading_id, load_id FROM written w
  JOIN places p ON p.side = w.side AND p.clothing = w.clothing AND p.point = w.point AND p.height_written IS NOT DISTINCT FROM w.height_written
  JOIN readings r ON r.value_mm = w.value_mm AND r.value_written = w.value_written AND r.unit = w.unit;
DROP TABLE written;
INSERT INTO orders_history BY NAME (SELECT order_id, 'old' AS customer_id, 1 AS load_id, 2 AS until_load FROM orders WHERE order_id = 'B');
INSERT INTO callbacks_history SELECT 'B1', NULL, 'x', NULL, NULL, 1, 3;
INSERT INTO repeats VALUES
  ('s', 'leg1', 'm1', 1, true, 'left', 'ball', NULL, 250, NULL, '250', 'mm', DATE '2026-01-01', 1),
  ('s', 'leg1', 'm2', 1, false, 'left', 'leg', 177.8, 260, '7', '260', 'mm', DATE '2026-07-01', 1);
INSERT INTO costs VALUES ('remake', 400, 1), ('callback', 5.5, 1), ('tea', 1, 1);
UPDATE form_evidence SET out_of_range = (form_id = 'A1') WHERE true;
