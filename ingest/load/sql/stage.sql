-- Staging. stage_{s}: a record of each part of the sheet, one row each, all text.
-- part: again
-- A table that rows were deleted from does not number anew: before a file is read
-- again the table is made again with the parts before it.
CREATE OR REPLACE TEMP TABLE before AS SELECT * FROM stage_{s} ORDER BY rowid LIMIT {rows};
CREATE OR REPLACE TEMP TABLE stage_{s} AS SELECT * FROM before ORDER BY rowid;
-- part: csv
read_csv({path}, auto_detect = false, header = true, delim = {separator}, quote = '"', escape = '"',
	columns = {{columns}}, store_rejects = true, rejects_table = 'broken', rejects_scan = 'broken_scan')
-- part: broken
SELECT line_byte_position, any_value(error_type::VARCHAR ORDER BY column_idx), any_value(csv_line)
FROM broken GROUP BY line_byte_position ORDER BY line_byte_position
-- part: plain text
-- Most cells have no blank to trim; looking is cheaper than trimming.
CASE WHEN {cell} < '!' OR suffix({cell}, ' ') OR suffix({cell}, chr(160)) THEN nullif(trim({cell}, ' 	' || chr(160)), '') ELSE {cell} END
-- part: drop
DROP VIEW accepted_{s};
DROP TABLE valid_{s};
DROP TABLE stage_{s};
-- part: parquet as text
COPY (SELECT {cells} FROM read_parquet({from})) TO {to} (FORMAT csv, HEADER, DELIMITER ',')
