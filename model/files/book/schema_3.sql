-- The third form: how much of what else was in doubt of a closed job came from car and parts, which jobs of the same kinds of work may have alike.
ALTER TABLE lesson ADD COLUMN parts REAL NOT NULL DEFAULT 0 CHECK (parts >= 0);
