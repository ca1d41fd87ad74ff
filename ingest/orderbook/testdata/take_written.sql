-- The rows of the table written, which has the columns of the view
-- measurements, put where the book keeps measurements.
INSERT INTO places SELECT row_number() OVER (), * FROM (SELECT DISTINCT side, clothing, point, height_mm, height_written FROM written);
INSERT INTO readings SELECT row_number() OVER (), * FROM (SELECT DISTINCT value_mm, value_written, unit FROM written);
INSERT INTO measured SELECT form_id, place_id, reading_id, load_id FROM written w
  JOIN places p ON p.side = w.side AND p.clothing = w.clothing AND p.point = w.point AND p.height_written IS NOT DISTINCT FROM w.height_written
  JOIN readings r ON r.value_mm = w.value_mm AND r.value_written = w.value_written AND r.unit = w.unit;
DROP TABLE written;
