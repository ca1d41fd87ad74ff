-- N invented orders (@N) of ten-odd forms in ten.
INSERT INTO orders BY NAME (SELECT printf('O%07d', i) AS order_id, 'C' || (hash(i) % (@N * 7 // 10)) AS customer_id,
  DATE '2023-01-01' + (i * 1000 // @N)::INTEGER AS received_on, received_on + 30 AS shipped_on, (7 + hash(i * 3) % 12) * 25.4 AS shaft_height_mm,
  CASE WHEN hash(i * 5) % 2 = 0 THEN 'pull-on' ELSE 'lace-up' END AS closure, hash(i * 7) % 3 = 0 AS worn_tucked,
  hash(i * 13) % 10 = 0 AS orthotic, ['home', 'dealer', 'shop'][(1 + hash(i * 17) % 3)::INTEGER] AS channel, 1 AS load_id
  FROM range(@N) t(i));
INSERT INTO forms BY NAME (SELECT replace(order_id, 'O', 'F') AS form_id, order_id, 1 AS form_no, received_on,
  hash(order_id) % 10 <> 0 AS cut_from, 'M' || (hash(form_id) % 500) AS measurer_id, hash(form_id) % 5 = 0 AS self_measured,
  hash(form_id) % 9 <> 0 AS outline_closed_left, hash(form_id) % 9 <> 1 AS outline_closed_right,
  hash(form_id) % 7 <> 0 AS ball_mark_left, true AS ball_mark_right, true AS instep_mark_left, true AS instep_mark_right,
  hash(form_id) % 11 <> 0 AS tape_zero_used, 1 AS load_id FROM orders);
INSERT INTO forms BY NAME (SELECT replace(form_id, 'F', 'G') AS form_id, order_id, 2 AS form_no, received_on + 5 AS received_on,
  true AS cut_from, measurer_id, self_measured, true AS ball_mark_left, true AS ball_mark_right, true AS instep_mark_left,
  true AS instep_mark_right, 1 AS load_id FROM forms WHERE NOT cut_from);
INSERT INTO form_numbers SELECT form_id, 1, 20, 127 - (hash(form_id) % 11 = 0)::INTEGER * 4, 127, 63, 63 - (hash(form_id) % 5 = 0)::INTEGER * 8, 5, 9, 1 FROM forms;
INSERT INTO form_evidence SELECT form_id, false, false, false, hash(form_id) % 50 = 0, false, 0.1, 'x' FROM forms;
INSERT INTO measurers SELECT 'M' || i, 'home', DATE '2022-01-01', 'R' || (i % 7), 1 FROM range(500) t(i);
INSERT INTO outcomes (order_id, reported_on, result, zone, direction, side, cause, cost, load_id) SELECT order_id, shipped_on + (hash(order_id) % 200)::INTEGER, ['remade', 'kept', 'adjusted'][(1 + hash(order_id) % 3)::INTEGER],
  'calf', 'tight', 'left', 'measuring', 100, 1 FROM orders WHERE hash(order_id) % 10 < 3;
INSERT INTO callbacks SELECT form_id, received_on + 1, 'outline-broken', true, received_on + 4, 1 FROM forms WHERE NOT cut_from;
