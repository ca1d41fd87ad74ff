-- as_of_day: the day at whose end the other views look at the book, one row.
-- What was received, shipped or reported later is not there for them.
--
--   as_of   the day; the program sets it on each connection as the variable
--           as_of (the newest day of the book where none was asked for)
CREATE VIEW as_of_day AS
SELECT CAST(getvariable('as_of') AS DATE) AS as_of;
