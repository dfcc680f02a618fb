-- The second form: what each closed job tells of the model, so that later quotes learn from it.
CREATE TABLE lesson (
    quote_id INTEGER PRIMARY KEY REFERENCES outcome (quote_id),
    missed REAL NOT NULL,
    own REAL NOT NULL,
    air REAL NOT NULL,
    phasing REAL NOT NULL,
    work REAL NOT NULL,
    gas_exchange REAL NOT NULL,
    blower REAL NOT NULL,
    driveline REAL NOT NULL
) STRICT;
