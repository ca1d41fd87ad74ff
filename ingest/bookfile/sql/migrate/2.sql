-- Version 2: a measurement is a form, a place and a reading. There are few
-- different places and readings among millions of measurements, so each is kept
-- once. measurements and measurements_history become views with the columns that
-- they had as tables.

CREATE TABLE places (
    place_id       INTEGER NOT NULL,
    side           side_t NOT NULL,
    clothing       clothing_t NOT NULL,
    point          point_t NOT NULL,
    height_mm      DOUBLE,          -- leg only
    height_written VARCHAR
);

CREATE TABLE readings (
    reading_id    INTEGER NOT NULL,
    value_mm      DOUBLE NOT NULL,
    value_written VARCHAR NOT NULL,
    unit          unit_t NOT NULL
);

CREATE TABLE measured (
    form_id    VARCHAR NOT NULL,
    place_id   INTEGER NOT NULL,
    reading_id INTEGER NOT NULL,
    load_id    BIGINT NOT NULL
);

CREATE TABLE measured_history AS SELECT *, NULL::BIGINT AS until_load FROM measured LIMIT 0;

INSERT INTO places SELECT row_number() OVER (ORDER BY side, clothing, point, height_mm, height_written), * FROM (
    SELECT side, clothing, point, height_mm, height_written FROM measurements
    UNION SELECT side, clothing, point, height_mm, height_written FROM measurements_history);

INSERT INTO readings SELECT row_number() OVER (ORDER BY value_mm, value_written, unit), * FROM (
    SELECT value_mm, value_written, unit FROM measurements
    UNION SELECT value_mm, value_written, unit FROM measurements_history);

INSERT INTO measured SELECT form_id, place_id, reading_id, load_id
FROM measurements m
JOIN places p ON p.side = m.side AND p.clothing = m.clothing AND p.point = m.point
    AND p.height_mm IS NOT DISTINCT FROM m.height_mm AND p.height_written IS NOT DISTINCT FROM m.height_written
JOIN readings r ON r.value_mm = m.value_mm AND r.value_written = m.value_written AND r.unit = m.unit;

INSERT INTO measured_history SELECT form_id, place_id, reading_id, load_id, until_load
FROM measurements_history m
JOIN places p ON p.side = m.side AND p.clothing = m.clothing AND p.point = m.point
    AND p.height_mm IS NOT DISTINCT FROM m.height_mm AND p.height_written IS NOT DISTINCT FROM m.height_written
JOIN readings r ON r.value_mm = m.value_mm AND r.value_written = m.value_written AND r.unit = m.unit;

DROP TABLE measurements;
DROP TABLE measurements_history;

CREATE VIEW measurements AS
SELECT form_id, side, clothing, point, height_mm, value_mm, height_written, value_written, unit, load_id
FROM measured JOIN places USING (place_id) JOIN readings USING (reading_id);

CREATE VIEW measurements_history AS
SELECT form_id, side, clothing, point, height_mm, value_mm, height_written, value_written, unit, load_id, until_load
FROM measured_history JOIN places USING (place_id) JOIN readings USING (reading_id);
