-- dictionary: every different text of the parsed columns of a sheet, by the number of
-- its kind, and what it means or why it can't be read.
-- part: make
CREATE OR REPLACE TEMP TABLE dictionary (id INTEGER, kind INTEGER, t VARCHAR, u VARCHAR, day DATE, yes BOOLEAN,
	number DOUBLE, word VARCHAR, unit VARCHAR, why VARCHAR)
-- part: texts
SELECT DISTINCT {kind} AS kind, {column} AS t, {unit} AS u FROM {table} WHERE {column} IS NOT NULL
-- part: different
SELECT DISTINCT kind::VARCHAR, t, u FROM ({texts}) ORDER BY kind::VARCHAR, t, u
