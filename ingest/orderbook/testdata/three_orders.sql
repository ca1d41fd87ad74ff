-- A small workshop written out by hand.
--   A  one form, cut from it, everything there; remade after 40 days
--   B  first form called back, cut from the second; answered as kept
--   C  no form marked as cut from; worn tucked; reported later than 1 June
--   D  books the second making of A
--   E  not shipped
--   F  its remake has no day
INSERT INTO orders BY NAME (SELECT * FROM (VALUES
  ('A', 'p1', DATE '2026-01-02', DATE '2026-02-01', 381.0,  'pull-on', false, true,  'home',   NULL),
  ('B', 'p2', DATE '2026-01-03', DATE '2026-02-01', 177.8,  'lace-up', NULL,  false, 'dealer', NULL),
  ('C', 'p1', DATE '2026-01-01', DATE '2026-01-20', NULL,   'pull-on', true,  NULL,  'shop',   NULL),
  ('D', 'p1', DATE '2026-04-01', DATE '2026-05-01', 381.0,  'pull-on', false, true,  'home',   'A'),
  ('E', NULL, DATE '2026-05-01', NULL,              254.0,  'pull-on', false, false, 'home',   NULL),
  ('F', NULL, DATE '2026-01-05', DATE '2026-02-05', 254.0,  'pull-on', false, false, 'home',   NULL)
) AS v (order_id, customer_id, received_on, shipped_on, shaft_height_mm, closure, worn_tucked, orthotic, channel, remake_of_order_id)
CROSS JOIN (SELECT 1 AS load_id));
INSERT INTO forms BY NAME (SELECT *, 1 AS load_id FROM (VALUES
  ('A1', 'A', 1, DATE '2026-01-02', true,  'm1', false, true,  true,  true, true,  true, true,  true, true, true,  false),
  ('B1', 'B', 1, DATE '2026-01-03', false, 'm2', true,  false, true,  true, true,  true, NULL,  true, true, false, NULL),
  ('B2', 'B', 2, DATE '2026-01-09', true,  'm1', true,  true,  NULL,  true, false, true, true,  true, true, NULL,  NULL),
  ('C1', 'C', 1, DATE '2026-01-01', NULL,  NULL, NULL,  NULL,  NULL,  NULL, NULL,  NULL, false, NULL, NULL, NULL,  true)
) AS v (form_id, order_id, form_no, received_on, cut_from, measurer_id, self_measured,
  outline_closed_left, outline_closed_right, outline_single_left, outline_single_right,
  ball_mark_left, ball_mark_right, instep_mark_left, instep_mark_right, tape_zero_used, orthotic_discussed));
-- heights 7, 9, 11, 13, 15 in are bits 1, 2, 4, 8, 16
INSERT INTO form_numbers VALUES
  ('A1', 0, 22, 63, 63, 31, 23, 0, 11, 10),
  ('B2', 0, 6, 28, 60, 1, 1, 0, 3, 3),
  ('C1', 0, 4, 63, 63, 1, 1, 2, 2, 0);
INSERT INTO form_evidence VALUES
  ('A1', false, false, false, true, false, 0.5, 'test'),
  ('C1', NULL, NULL, true, NULL, NULL, NULL, 'test');
INSERT INTO measurers VALUES ('m1', 'shop', DATE '2025-01-01', 'north', 1), ('m2', 'home', NULL, NULL, 1);
INSERT INTO outcomes (order_id, reported_on, result, zone, direction, side, cause, cost, load_id) VALUES
  ('A', DATE '2026-02-20', 'adjusted', 'calf', 'tight', 'left', 'unknown', 10, 1),
  ('A', DATE '2026-03-13', 'remade', 'calf', 'tight', 'left', 'measuring', 300, 1),
  ('A', DATE '2026-04-13', 'remade', 'heel', 'loose', 'both', 'pattern', 200, 1),
  ('B', DATE '2026-05-01', 'kept', NULL, NULL, NULL, NULL, NULL, 1),
  ('C', DATE '2026-06-15', 'remade', 'top', 'tight', NULL, 'measuring', NULL, 1),
  ('F', NULL, 'remade', NULL, NULL, NULL, NULL, NULL, 1);
INSERT INTO callbacks VALUES ('B1', DATE '2026-01-04', 'outline-broken', true, DATE '2026-01-09', 1);
