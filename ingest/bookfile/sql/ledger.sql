-- What the file says of itself; each part is one query.
-- part: ledger files
SELECT load_id, sheet, file, sha256, bytes, rows_read, taken, unchanged, superseded, kept_out, coalesce(map_sha256, '')
FROM load_files ORDER BY load_id, sheet, file, sha256
-- part: is it a book
SELECT count(*), count(*) FILTER (table_name = 'schema_version')
FROM duckdb_tables() WHERE database_name = current_database() AND NOT temporary
