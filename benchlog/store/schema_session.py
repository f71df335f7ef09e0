"""The tables of a session file; any SQLite tool shows the comments, which are the documentation."""

APPLICATION_ID = 0x42_4C_53_31
"""`BLS1`: how a session file of ours is told from any other SQLite file."""

FORMAT = """
CREATE TABLE format (
    -- Which layout this file has; one row per step, the last one is how it is now.
    version INTEGER PRIMARY KEY,   -- the same number as PRAGMA user_version
    name    TEXT NOT NULL,         -- what the step did
    program TEXT NOT NULL,         -- name and version of the program that took it
    at      TEXT NOT NULL          -- UTC
) STRICT
"""

LEVEL = """
CREATE TABLE level (
    -- Levels of detail: level 1 sums up 8 readings of a trace in a row, level 2 eight of those, and so on.
    -- A row is written when its bucket is full.
    trace     INTEGER NOT NULL,  -- trace.id
    level     INTEGER NOT NULL,  -- 1 and up
    bucket    INTEGER NOT NULL,  -- counts the buckets of the level from 0
    first_t   INTEGER NOT NULL,  -- plan time of its first reading, ns
    last_t    INTEGER NOT NULL,  -- plan time of its last reading, ns
    rows      INTEGER NOT NULL,  -- readings in it, with or without a number
    n         INTEGER NOT NULL,  -- readings with a number
    overloads INTEGER NOT NULL,  -- readings beyond the range
    low       REAL,              -- lowest number
    low_t     INTEGER,           -- plan time of the lowest, ns
    high      REAL,              -- highest number
    high_t    INTEGER,           -- plan time of the highest, ns
    sum       REAL NOT NULL,     -- of the numbers; sum / n is their mean
    silence   INTEGER NOT NULL,  -- longest time between two of its readings in a row, ns
    PRIMARY KEY (trace, level, first_t)
) STRICT, WITHOUT ROWID
"""

TABLES = (
    FORMAT,
    """
CREATE TABLE session (
    -- The head of the run; exactly one row. Times called t are nanoseconds of plan time since started.
    one       INTEGER PRIMARY KEY CHECK (one = 1), -- holds the table to one row
    id        TEXT NOT NULL,     -- UUIDv7
    started   TEXT NOT NULL,     -- UTC of plan time 0
    title     TEXT NOT NULL,     -- as the operator named it
    unit      TEXT NOT NULL,     -- id of the unit in the library, empty: none
    visit     TEXT NOT NULL,     -- id of the visit in the library, empty: none
    plan_name TEXT NOT NULL,     -- the plan's own name
    plan      TEXT NOT NULL,     -- full text of the plan it ran with
    bench     TEXT NOT NULL,     -- full text of the bench it ran with
    rate      REAL NOT NULL,     -- speed of plan time; 1 but on a simulated bench
    program   TEXT NOT NULL,     -- name and version of the program that recorded it
    state     TEXT NOT NULL      -- not folded: the log beside the file still belongs to it
              CHECK (state IN ('live', 'closed, not folded', 'closed')),
    outcome   TEXT NOT NULL DEFAULT '', -- completed, tripped, ended by the operator, cut when left alone, not closed
    reason    TEXT NOT NULL DEFAULT '', -- why it ended, one sentence
    ended     TEXT NOT NULL DEFAULT '', -- UTC of the end; an estimate where it was not closed
    ended_t   INTEGER,           -- plan time of the end, ns
    readings  INTEGER            -- how many readings it holds; empty while live
) STRICT
""",
    """
CREATE TABLE profile (
    -- The instrument profiles the bench was driven by.
    name TEXT PRIMARY KEY,       -- as the bench names it
    text TEXT NOT NULL           -- full text
) STRICT
""",
    """
CREATE TABLE trace (
    -- A live series on a test point.
    id       INTEGER PRIMARY KEY, -- what reading.trace points to
    name     TEXT NOT NULL,      -- as the plan names it
    unit     TEXT NOT NULL,      -- SI unit of its values: V, A, ohm, degC, ...; empty for a state
    function TEXT NOT NULL,      -- what the meter measured: volts_dc, volts_ac, amps_dc, ohms, temperature, state, ...
    role     TEXT NOT NULL,      -- what it is in the plan: lamp, rail, offset, idle, ...
    side     TEXT NOT NULL,      -- left, right or empty
    meter    TEXT NOT NULL,      -- job of the instrument on the bench
    critical INTEGER NOT NULL CHECK (critical IN (0, 1)) -- 1: losing it counted as a broken limit
) STRICT
""",
    """
CREATE TABLE reading (
    -- Every reading of every trace, as it came. Within a trace t and seq both increase.
    trace   INTEGER NOT NULL,    -- trace.id
    t       INTEGER NOT NULL,    -- plan time, ns; of two readings with one stamp the later stands 1 ns after
    seq     INTEGER NOT NULL,    -- counts the readings of the trace
    value   REAL,                -- in the trace's unit; present exactly where outcome is ok
    outcome TEXT NOT NULL,       -- ok, overload, not a number, malformed, late, missing, not live, or why not believed
    raw     TEXT NOT NULL,       -- the reply as it came; empty where none came
    PRIMARY KEY (trace, t),
    CHECK ((outcome = 'ok') = (value IS NOT NULL))
) STRICT, WITHOUT ROWID
""",
    """
CREATE TABLE event (
    -- What happened: stages, trips, cuts, prompts and answers, meters that came and went.
    n    INTEGER PRIMARY KEY,    -- in order of keeping
    t    INTEGER NOT NULL,       -- plan time, ns
    kind TEXT NOT NULL,          -- a code word: stage, trip, cut, ...
    text TEXT NOT NULL,          -- one sentence for a person
    data TEXT NOT NULL           -- its numbers, a JSON object
) STRICT
""",
    """
CREATE TABLE remark (
    -- The operator's notes.
    id   TEXT PRIMARY KEY,       -- UUIDv7
    t    INTEGER NOT NULL,       -- plan time it is about, ns
    text TEXT NOT NULL,          -- as written
    late INTEGER NOT NULL CHECK (late IN (0, 1)), -- 1: written after the session was closed
    at   TEXT NOT NULL           -- UTC at which it was written
) STRICT
""",
    """
CREATE TABLE anchor (
    -- One moment in three clocks, so that a step of the day's clock can be seen.
    n       INTEGER PRIMARY KEY, -- in order of keeping
    t       INTEGER NOT NULL,    -- plan time, ns
    wire_ns INTEGER NOT NULL,    -- the recorder's monotonic clock, ns
    utc     TEXT NOT NULL        -- the day's clock
) STRICT
""",
    LEVEL,
    """
CREATE TABLE taken (
    -- Part readings taken while the run was live; the library has them too, known by id.
    id   TEXT PRIMARY KEY,       -- UUIDv7 of the reading in the library
    t    INTEGER NOT NULL,       -- plan time, ns
    body TEXT NOT NULL           -- the whole reading, a JSON object
) STRICT
""",
    """
CREATE TABLE withdrawn (
    -- What was taken back; nothing is ever removed.
    id     TEXT PRIMARY KEY,     -- UUIDv7 of the withdrawal
    target TEXT,                 -- id of a remark or a taken reading, or empty
    trace  INTEGER,              -- trace.id where readings of a trace are meant
    from_t INTEGER,              -- first plan time of those readings, ns
    to_t   INTEGER,              -- last plan time of those readings, ns
    at     TEXT NOT NULL,        -- UTC
    reason TEXT NOT NULL         -- why, as written
) STRICT
""",
)
