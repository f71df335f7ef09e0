"""The tables of library.db; any SQLite tool shows the comments, which are the documentation."""

from benchlog.store.schema_session import FORMAT

APPLICATION_ID = 0x42_4C_4C_31
"""`BLL1`: how a library of ours is told from any other SQLite file."""

_UNITS = (
    """
CREATE TABLE unit (
    -- The things that are restored. Ids here and below are UUIDv7, times are UTC ISO 8601, values SI.
    id      TEXT PRIMARY KEY,
    name    TEXT NOT NULL,       -- as the operator calls it
    maker   TEXT NOT NULL,
    model   TEXT NOT NULL,       -- units of one model can be laid over each other
    serial  TEXT NOT NULL,
    mains   REAL,                -- rated mains, V; empty: not known
    mirror  TEXT NOT NULL,       -- rules for the same part on the other side, one a line
    note    TEXT NOT NULL,
    created TEXT NOT NULL        -- UTC
) STRICT
""",
    """
CREATE TABLE pair (
    -- Mirror-image parts that no rule of unit.mirror tells.
    id         TEXT PRIMARY KEY,
    unit       TEXT NOT NULL REFERENCES unit (id), -- whose parts they are
    designator TEXT NOT NULL,    -- one side
    other      TEXT NOT NULL,    -- the other side
    UNIQUE (unit, designator)
) STRICT
""",
    """
CREATE TABLE visit (
    -- One stay of a unit on the bench, from intake to hand-over.
    id        TEXT PRIMARY KEY,
    unit      TEXT NOT NULL REFERENCES unit (id), -- what came in
    number    INTEGER NOT NULL UNIQUE, -- counts the visits of the library; shown as "visit 0147"
    complaint TEXT NOT NULL,     -- what its owner says is wrong
    mains     REAL,              -- mains at the bench, V; empty: not measured
    opened    TEXT NOT NULL,     -- UTC of intake
    closed    TEXT               -- UTC of hand-over; empty: still here
) STRICT
""",
    "CREATE INDEX visit_unit ON visit (unit)",
    """
CREATE TABLE board (
    -- A board or another place in a unit that holds parts.
    id    TEXT PRIMARY KEY,
    unit  TEXT NOT NULL REFERENCES unit (id), -- what it belongs to
    name  TEXT NOT NULL,
    place INTEGER NOT NULL,      -- order within the unit, from 1
    UNIQUE (unit, name)
) STRICT
""",
    """
CREATE TABLE part (
    -- A place on a board with a designator; what is fitted there changes.
    id         TEXT PRIMARY KEY,
    board      TEXT NOT NULL REFERENCES board (id), -- where it is
    designator TEXT NOT NULL,    -- R101, Q7L, +B1, or free text
    kind       TEXT NOT NULL,    -- resistor, electrolytic, diode, ...
    function   TEXT,             -- what its own value is measured with: ohms, capacitance, ...; empty: as its kind is
    in_circuit INTEGER NOT NULL CHECK (in_circuit IN (0, 1)), -- 1: measured on the board unless said otherwise
    note       TEXT NOT NULL,
    place      INTEGER NOT NULL, -- order in which it was listed, from 1
    measures   TEXT NOT NULL DEFAULT '', -- what is to be measured, one a line: value, esr, be; empty: the usual
    UNIQUE (board, designator)
) STRICT
""",
    """
CREATE TABLE fitted (
    -- What sits at a designator from one day to another; readings and expectations hang on it.
    id      TEXT PRIMARY KEY,
    part    TEXT NOT NULL REFERENCES part (id), -- where it sits
    visit   TEXT REFERENCES visit (id), -- in which it was fitted; empty: it came with the unit
    marking TEXT NOT NULL,       -- what is printed on it
    reason  TEXT NOT NULL,       -- why it took the place of the one before
    since   TEXT NOT NULL,       -- UTC
    until   TEXT                 -- UTC; empty: it sits there now
) STRICT
""",
    "CREATE INDEX fitted_part ON fitted (part)",
    """
CREATE TABLE expectation (
    -- What a fitted item should read.
    id       TEXT PRIMARY KEY,
    fitted   TEXT NOT NULL REFERENCES fitted (id), -- what it is about
    function TEXT,               -- in older rows what a measure of it is taken with; else empty
    text     TEXT NOT NULL,      -- as written: 4k7 5%, 12..15 mV
    origin   TEXT NOT NULL,      -- where it comes from: sheet, mirror, earlier unit, marking, computed
    nominal  REAL,               -- SI; empty: limits alone were said
    low      REAL,               -- lower limit, SI; empty: none
    high     REAL,               -- upper limit, SI; empty: none; for OL both are empty
    unit     TEXT NOT NULL,      -- SI unit of the three
    misprint INTEGER NOT NULL DEFAULT 0 CHECK (misprint IN (0, 1)), -- 1: the sheet is wrong here
    note     TEXT NOT NULL DEFAULT '',
    at       TEXT NOT NULL,      -- UTC at which it was written
    until    TEXT,               -- UTC at which another took its place; empty: it holds
    measure  TEXT NOT NULL DEFAULT '' -- which of the part's measures it is about: esr, be; empty: its own value
) STRICT
""",
    "CREATE INDEX expectation_fitted ON expectation (fitted)",
    """
CREATE TABLE open_item (
    -- What must be put back before the unit goes home: lifted legs, links, safety resistors, borrowed fuses.
    id     TEXT PRIMARY KEY,
    visit  TEXT NOT NULL REFERENCES visit (id), -- in which it was done
    part   TEXT REFERENCES part (id), -- at which part, if at one
    kind   TEXT NOT NULL,        -- lifted leg, link, safety resistor, borrowed fuse, ...
    text   TEXT NOT NULL,
    opened TEXT NOT NULL,        -- UTC
    closed TEXT                  -- UTC at which it was put back; empty: still open
) STRICT
""",
    "CREATE INDEX open_item_visit ON open_item (visit)",
)

_READINGS = (
    """
CREATE TABLE round (
    -- One pass over parts of a unit; never overwritten.
    id      TEXT PRIMARY KEY,
    visit   TEXT NOT NULL REFERENCES visit (id), -- to which it belongs
    kind    TEXT NOT NULL,       -- as found, working, as left
    title   TEXT NOT NULL,
    started TEXT NOT NULL,       -- UTC
    ended   TEXT                 -- UTC; empty: under way
) STRICT
""",
    "CREATE INDEX round_visit ON round (visit)",
    """
CREATE TABLE reading (
    -- Readings of parts; rows are added and never changed. What was taken back stands in withdrawn.
    id         TEXT PRIMARY KEY,
    fitted     TEXT REFERENCES fitted (id), -- what was measured; empty where that was not known
    round      TEXT REFERENCES round (id),  -- in which pass; empty: none
    visit      TEXT REFERENCES visit (id),  -- in which stay; empty: none
    session    TEXT NOT NULL,    -- id of the run it was taken in; empty: none
    designator TEXT NOT NULL,    -- as it was called when it was taken
    function   TEXT NOT NULL,    -- what the meter measured
    outcome    TEXT NOT NULL,    -- ok, overload, not a number, malformed, late, missing
    value      REAL,             -- SI; present exactly where outcome is ok
    unit       TEXT NOT NULL,    -- SI unit of the value
    negative   INTEGER NOT NULL CHECK (negative IN (0, 1)), -- sign of an overload
    raw        TEXT NOT NULL,    -- the reply, or what was typed
    taken      TEXT NOT NULL,    -- UTC
    job        TEXT NOT NULL,    -- of the meter on the bench; typed, or empty in older ones: a person typed it
    resolution REAL,             -- least digit of the meter's range, in the unit of the value
    settled    INTEGER NOT NULL CHECK (settled IN (0, 1)), -- 0: still moving when it was taken
    typed      INTEGER NOT NULL CHECK (typed IN (0, 1)),   -- 1: typed by a person
    flags      TEXT NOT NULL,    -- the meter's annunciators, one a line
    circuit    TEXT NOT NULL,    -- in circuit, lifted, out; empty: not said
    leads      TEXT NOT NULL,    -- forward, reversed; empty: not said
    lid        TEXT NOT NULL,    -- on, off; empty: not said
    inputs_shorted INTEGER CHECK (inputs_shorted IN (0, 1)), -- empty: not said
    volume     TEXT NOT NULL,    -- as set; empty: not said
    load       TEXT NOT NULL,    -- ohm or none; empty: not said
    mains      REAL,             -- at the inlet, V
    minutes_on REAL,             -- since the unit was switched on
    ambient    REAL,             -- degC
    frequency  REAL,             -- of the meter's test signal, Hz
    error      REAL,             -- how far the meter can be off, either way, in the unit; empty: not known
    nulled     REAL,             -- resistance of the leads that was taken off the value, ohm; empty: none
    beside     TEXT NOT NULL DEFAULT '', -- what came with the value: dissipation 0.012, one a line
    measure    TEXT NOT NULL DEFAULT '', -- which of the part's measures: esr, leakage, be; empty: its own value
    model      TEXT NOT NULL DEFAULT '', -- in which an LCR meter states it: series, parallel; empty: not said
    applied    REAL,             -- volts put on the part, for its leakage
    minutes    REAL,             -- since these were put on
    CHECK ((outcome = 'ok') = (value IS NOT NULL))
) STRICT
""",
    "CREATE INDEX reading_fitted ON reading (fitted)",
    "CREATE INDEX reading_round ON reading (round)",
    """
CREATE TABLE judgement (
    -- What a reading proves; a later verdict is added and the older ones stay.
    id          TEXT PRIMARY KEY,
    reading     TEXT NOT NULL REFERENCES reading (id), -- what was judged
    at          TEXT NOT NULL,   -- UTC
    rule        TEXT NOT NULL,   -- bench or handover
    verdict     TEXT NOT NULL,   -- within, as other side, drifted, high, low, open, short, unproven, undecided, ...
    reason      TEXT NOT NULL,   -- one sentence
    expected    TEXT NOT NULL,   -- the expectation it was judged by, as written
    low         REAL,            -- lower limit it was judged by, SI
    high        REAL,            -- upper limit it was judged by, SI
    value       REAL,            -- as judged, SI
    uncertainty REAL,            -- expanded, SI; empty: not known
    coverage    REAL,            -- k of the expanded uncertainty
    probability REAL,            -- that the true value lies within the limits; empty: not known
    unit        TEXT NOT NULL,   -- SI unit of all of these
    near_limit  INTEGER NOT NULL CHECK (near_limit IN (0, 1)), -- 1: the limit is nearer than the meter's error
    notes       TEXT NOT NULL    -- more sentences, one a line, none of which changes the verdict
) STRICT
""",
    "CREATE INDEX judgement_reading ON judgement (reading)",
    """
CREATE TABLE withdrawn (
    -- Readings that were taken back: still there, no longer counted.
    id     TEXT PRIMARY KEY REFERENCES reading (id), -- the reading's
    at     TEXT NOT NULL,        -- UTC
    reason TEXT NOT NULL
) STRICT
""",
)

BOARDS_DEAD = """
CREATE TABLE boards_dead (
    -- Whether the boards were found without charge: each answer is added, the last one counts.
    id    TEXT PRIMARY KEY,
    visit TEXT NOT NULL REFERENCES visit (id), -- in which it was said
    round TEXT REFERENCES round (id), -- in which pass; empty: before any
    dead  INTEGER CHECK (dead IN (0, 1)), -- 1: without charge; empty: taken back
    at    TEXT NOT NULL          -- UTC; a run that ended later voids it
) STRICT
"""

READING_SESSION = "CREATE INDEX reading_session ON reading (session) WHERE session != ''"

GOOD_RUN = """
CREATE TABLE good_run (
    -- Runs that a person made the reference of their unit; of several on one source the newest counts.
    id      TEXT PRIMARY KEY,
    unit    TEXT NOT NULL REFERENCES unit (id), -- whose reference it is
    session TEXT NOT NULL,       -- id of the run
    at      TEXT NOT NULL        -- UTC at which it was chosen
) STRICT
"""

BINNED = """
CREATE TABLE binned (
    -- Runs that were deleted: their files lie in the folder bin and can be brought back until it is emptied.
    id      TEXT PRIMARY KEY,
    file    TEXT NOT NULL,       -- name of the file
    session TEXT NOT NULL,       -- id of the run
    at      TEXT NOT NULL,       -- UTC at which it was deleted
    emptied TEXT                 -- UTC at which the file was removed for good; empty: it is still there
) STRICT
"""

ROUNDS_PLANNED = (
    """
CREATE TABLE round_part (
    -- The parts of a round that goes over some of a unit's, or in an order of its own; no row: over all of them.
    id    TEXT PRIMARY KEY,
    round TEXT NOT NULL REFERENCES round (id), -- whose
    part  TEXT NOT NULL REFERENCES part (id),  -- which
    place INTEGER NOT NULL       -- order in which they are taken, from 1
) STRICT
""",
    "CREATE INDEX round_part_round ON round_part (round, place)",
    "CREATE INDEX round_part_part ON round_part (part)",
    """
CREATE TABLE charge (
    -- Volts left on the boards before ohms are read, as they were measured; what they mean stands in boards_dead.
    id         TEXT PRIMARY KEY,
    visit      TEXT NOT NULL REFERENCES visit (id), -- in which they were measured
    reservoirs REAL,             -- across the reservoirs, V; empty: not measured
    nodes      REAL,             -- at the nodes to be read, V; empty: not measured
    at         TEXT NOT NULL     -- UTC
) STRICT
""",
)

_KEEPING = (
    """
CREATE TABLE session (
    -- The runs in the folder sessions: a cache, made anew from their files whenever it is lost.
    file      TEXT PRIMARY KEY,  -- name within the folder
    size      INTEGER NOT NULL,  -- of the file when it was read, bytes
    changed   INTEGER NOT NULL,  -- the file's own time then, ns
    id        TEXT NOT NULL,     -- from here on as in the file's table session
    started   TEXT NOT NULL,
    title     TEXT NOT NULL,
    unit      TEXT NOT NULL,
    visit     TEXT NOT NULL,
    plan_name TEXT NOT NULL,
    state     TEXT NOT NULL,     -- live; closed, not folded; closed; unreadable
    outcome   TEXT NOT NULL,
    reason    TEXT NOT NULL,
    ended     TEXT NOT NULL,
    ended_t   INTEGER,
    readings  INTEGER NOT NULL,
    rate      REAL NOT NULL,
    program   TEXT NOT NULL,
    problem   TEXT NOT NULL,     -- why it is unreadable; else empty
    words     TEXT NOT NULL DEFAULT '', -- every word of title, reason, notes and what happened, small, once
    off       TEXT NOT NULL DEFAULT '', -- how the off-switch stood at the close: verified off, unknown, ...
    told_off  INTEGER NOT NULL DEFAULT 0 -- 1: a person said at the close that it is off
) STRICT
""",
    "CREATE INDEX session_unit ON session (unit)",
    """
CREATE TABLE change (
    -- Every edit in order; an act is what the operator did in one go and is undone in one go.
    n        INTEGER PRIMARY KEY, -- in order of writing
    act      TEXT NOT NULL,      -- id of the act
    label    TEXT NOT NULL,      -- what the act was, for a person
    at       TEXT NOT NULL,      -- UTC
    undoes   TEXT,               -- id of the act it takes back; empty for every other
    "table"  TEXT NOT NULL,      -- where
    row      TEXT NOT NULL,      -- id of the row
    "before" TEXT,               -- the columns that changed as they were, a JSON object; empty: the row is new
    "after"  TEXT                -- the same columns as they are now; empty: the row was removed
) STRICT
""",
    "CREATE INDEX change_act ON change (act)",
    "CREATE INDEX change_undoes ON change (undoes) WHERE undoes IS NOT NULL",
)

TABLES = (
    FORMAT,
    *_UNITS,
    *_READINGS,
    READING_SESSION,
    BOARDS_DEAD,
    *_KEEPING,
    GOOD_RUN,
    BINNED,
    *ROUNDS_PLANNED,
)
