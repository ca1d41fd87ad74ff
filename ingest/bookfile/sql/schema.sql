-- The order book, schema version 1.
--
-- Each sheet has a table of the rows that hold now, and a table <sheet>_history
-- of the rows that a later load superseded or removed. load_id says which load
-- brought a row; until_load (history only) which load ended it. Every length is
-- in millimetres; what was written is kept beside it, to the letter.

CREATE TABLE schema_version (version INTEGER NOT NULL);
INSERT INTO schema_version VALUES (1);

CREATE TYPE side_t AS ENUM ('left', 'right');
CREATE TYPE clothing_t AS ENUM ('bare', 'tucked');
CREATE TYPE point_t AS ENUM ('length', 'breadth', 'ball', 'instep', 'heel', 'ankle', 'calf', 'leg');
CREATE TYPE unit_t AS ENUM ('mm', 'cm', 'in');

-- The ledger: one row a load, never changed. checksum is an order-free sum over
-- the content of all tables after the load; opening the book compares the last
-- one with the copy of the ledger kept beside the book.
CREATE TABLE loads (
    load_id      BIGINT PRIMARY KEY,
    loaded_at    TIMESTAMP NOT NULL,
    program      VARCHAR NOT NULL,
    checksum     VARCHAR NOT NULL
);

CREATE TABLE load_files (
    load_id      BIGINT NOT NULL,
    sheet        VARCHAR NOT NULL,
    file         VARCHAR NOT NULL,   -- base name only
    sha256       VARCHAR NOT NULL,
    bytes        BIGINT NOT NULL,
    rows_read    BIGINT NOT NULL,
    taken        BIGINT NOT NULL,
    unchanged    BIGINT NOT NULL,
    superseded   BIGINT NOT NULL,
    kept_out     BIGINT NOT NULL,
    map_sha256   VARCHAR             -- of the mapping file the sheet was read through, if any
);

-- Shop settings in force (first_leg_height_mm, leg_step_mm, leg_tolerance_mm,
-- heel_girth short|long, ankle_girth least|over-bones|none …).
CREATE TABLE settings (name VARCHAR PRIMARY KEY, value VARCHAR NOT NULL);

CREATE TABLE orders (
    order_id           VARCHAR NOT NULL,
    customer_id        VARCHAR,
    received_on        DATE,
    cut_on             DATE,
    shipped_on         DATE,
    shaft_height_mm    DOUBLE,
    shaft_written      VARCHAR,
    closure            VARCHAR,
    worn_tucked        BOOLEAN,
    sock               VARCHAR,
    orthotic           BOOLEAN,
    channel            VARCHAR,
    sex                VARCHAR,
    earlier_order_id   VARCHAR,
    remake_of_order_id VARCHAR,
    load_id            BIGINT NOT NULL
);

CREATE TABLE forms (
    form_id              VARCHAR NOT NULL,
    order_id             VARCHAR,
    form_no              INTEGER,
    received_on          DATE,
    cut_from             BOOLEAN,
    measurer_id          VARCHAR,
    self_measured        BOOLEAN,
    outline_closed_left  BOOLEAN, outline_closed_right BOOLEAN,
    outline_single_left  BOOLEAN, outline_single_right BOOLEAN,
    ball_mark_left       BOOLEAN, ball_mark_right      BOOLEAN,
    instep_mark_left     BOOLEAN, instep_mark_right    BOOLEAN,
    tape_zero_used       BOOLEAN,
    orthotic_discussed   BOOLEAN,
    irregularities       VARCHAR,
    load_id              BIGINT NOT NULL
);

CREATE TABLE measurements (
    form_id        VARCHAR NOT NULL,
    side           side_t NOT NULL,
    clothing       clothing_t NOT NULL,
    point          point_t NOT NULL,
    height_mm      DOUBLE,          -- leg only
    value_mm       DOUBLE NOT NULL,
    height_written VARCHAR,
    value_written  VARCHAR NOT NULL,
    unit           unit_t NOT NULL,
    load_id        BIGINT NOT NULL
);

CREATE TABLE outcomes (
    order_id    VARCHAR NOT NULL,
    reported_on DATE,
    result      VARCHAR,
    zone        VARCHAR,
    direction   VARCHAR,
    side        VARCHAR,
    cause       VARCHAR,
    cost        DOUBLE,
    load_id     BIGINT NOT NULL
);

CREATE TABLE callbacks (
    form_id     VARCHAR NOT NULL,
    called_on   DATE,
    fault       VARCHAR,
    resolved    BOOLEAN,
    resolved_on DATE,
    load_id     BIGINT NOT NULL
);

CREATE TABLE measurers (
    measurer_id VARCHAR NOT NULL,
    kind        VARCHAR,
    trained_on  DATE,
    region      VARCHAR,
    load_id     BIGINT NOT NULL
);

CREATE TABLE repeats (
    session_id VARCHAR NOT NULL, subject_id VARCHAR, measurer_id VARCHAR,
    trial      INTEGER, reference BOOLEAN,
    side       side_t, point point_t, height_mm DOUBLE, value_mm DOUBLE,
    height_written VARCHAR, value_written VARCHAR, unit unit_t,
    measured_on DATE,
    load_id    BIGINT NOT NULL
);

CREATE TABLE costs (item VARCHAR NOT NULL, value DOUBLE, load_id BIGINT NOT NULL);

-- What the numbers of a form amount to, kept so that no question has to read
-- the measurements again: rebuilt for the forms a load touches, and for all of
-- them when a setting changes. A form without a row here was not keyed.
CREATE TABLE form_numbers (
    form_id          VARCHAR NOT NULL,
    set_hash         HUGEINT NOT NULL, -- order-free sum over the form's rows
    numbers          INTEGER NOT NULL,
    foot_left        UTINYINT NOT NULL, -- bit set: 1 length 2 breadth 4 ball 8 instep 16 heel 32 ankle 64 calf (bare)
    foot_right       UTINYINT NOT NULL,
    leg_left         BIGINT NOT NULL,  -- bit k set: bare girth at height first + k*step
    leg_right        BIGINT NOT NULL,
    tucked           INTEGER NOT NULL, -- tucked numbers
    paired           INTEGER NOT NULL, -- numbers that stand on both sides
    paired_equal     INTEGER NOT NULL  -- of those, equal as millimetres
);

-- What the joint model read off the numbers of a form (analysis/body), kept
-- apart from what was noted. NULL: not judged.
CREATE TABLE form_evidence (
    form_id           VARCHAR NOT NULL,
    tape_zero_shown   BOOLEAN,
    sides_copied      BOOLEAN,
    unit_mixed        BOOLEAN,
    value_implausible BOOLEAN,
    out_of_range      BOOLEAN,  -- form-wise range limits only
    alarm_score       DOUBLE,
    model             VARCHAR NOT NULL
);

-- The rows that a later load superseded or removed, and which load ended them.
CREATE TABLE orders_history       AS SELECT *, NULL::BIGINT AS until_load FROM orders       LIMIT 0;
CREATE TABLE forms_history        AS SELECT *, NULL::BIGINT AS until_load FROM forms        LIMIT 0;
CREATE TABLE measurements_history AS SELECT *, NULL::BIGINT AS until_load FROM measurements LIMIT 0;
CREATE TABLE outcomes_history     AS SELECT *, NULL::BIGINT AS until_load FROM outcomes     LIMIT 0;
CREATE TABLE callbacks_history    AS SELECT *, NULL::BIGINT AS until_load FROM callbacks    LIMIT 0;
CREATE TABLE measurers_history    AS SELECT *, NULL::BIGINT AS until_load FROM measurers    LIMIT 0;
CREATE TABLE repeats_history      AS SELECT *, NULL::BIGINT AS until_load FROM repeats      LIMIT 0;
CREATE TABLE costs_history        AS SELECT *, NULL::BIGINT AS until_load FROM costs        LIMIT 0;
