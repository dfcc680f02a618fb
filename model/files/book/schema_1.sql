-- The first form of a job book. A later form is a file of its own, run after this one; this one is never changed.
CREATE TABLE bytes (
    sha256 TEXT PRIMARY KEY NOT NULL CHECK (length(sha256) = 64),
    content BLOB NOT NULL
) STRICT;

CREATE TABLE car (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
    since TEXT NOT NULL
) STRICT;

-- A description as it was read: a car file, a fitted car, a plan, a visit, a weather file. `content` is the hash over all its files.
CREATE TABLE paper (
    id INTEGER PRIMARY KEY,
    car_id INTEGER NOT NULL REFERENCES car (id),
    kind TEXT NOT NULL CHECK (kind IN ('car', 'fitted', 'plan', 'visit', 'weather')),
    path TEXT NOT NULL,
    content TEXT NOT NULL,
    since TEXT NOT NULL,
    UNIQUE (car_id, kind, path, content)
) STRICT;

-- Its own bytes first, then those of every file that it names: raw logs, maps.
CREATE TABLE paper_file (
    paper_id INTEGER NOT NULL REFERENCES paper (id),
    place INTEGER NOT NULL,
    path TEXT NOT NULL,
    sha256 TEXT NOT NULL REFERENCES bytes (sha256),
    PRIMARY KEY (paper_id, place)
) STRICT;

CREATE TABLE quote (
    id INTEGER PRIMARY KEY,
    number TEXT NOT NULL UNIQUE,
    car_id INTEGER NOT NULL REFERENCES car (id),
    plan TEXT NOT NULL,
    made TEXT NOT NULL,
    version TEXT NOT NULL,
    seed INTEGER NOT NULL,
    options TEXT NOT NULL,
    report TEXT NOT NULL,
    promised_w REAL NOT NULL,
    low_w REAL NOT NULL,
    middle_w REAL NOT NULL,
    high_w REAL NOT NULL,
    customer TEXT
) STRICT;

CREATE TABLE quote_paper (
    quote_id INTEGER NOT NULL REFERENCES quote (id),
    place INTEGER NOT NULL,
    paper_id INTEGER NOT NULL REFERENCES paper (id),
    PRIMARY KEY (quote_id, place)
) STRICT;

CREATE TABLE quote_kind (
    quote_id INTEGER NOT NULL REFERENCES quote (id),
    kind TEXT NOT NULL,
    PRIMARY KEY (quote_id, kind)
) STRICT;

-- What the drums read after the work, held against the quote in the air of that reading.
CREATE TABLE outcome (
    quote_id INTEGER PRIMARY KEY REFERENCES quote (id),
    paper_id INTEGER NOT NULL REFERENCES paper (id),
    closed TEXT NOT NULL,
    version TEXT NOT NULL,
    read_w REAL NOT NULL,
    promised_w REAL NOT NULL,
    low_w REAL NOT NULL,
    middle_w REAL NOT NULL,
    high_w REAL NOT NULL,
    pit REAL NOT NULL CHECK (pit BETWEEN 0 AND 1),
    log_score REAL NOT NULL
) STRICT;

CREATE TABLE note (
    id INTEGER PRIMARY KEY,
    car_id INTEGER NOT NULL REFERENCES car (id),
    quote_id INTEGER REFERENCES quote (id),
    made TEXT NOT NULL,
    text TEXT NOT NULL
) STRICT;
