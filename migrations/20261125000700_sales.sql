-- Buyers, handovers and the papers that go with them; imports.

CREATE TABLE buyer (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL CONSTRAINT buyer_name_length CHECK (length(name) BETWEEN 1 AND 120),
    contact TEXT NOT NULL DEFAULT '',
    address TEXT NOT NULL DEFAULT '',
    created_at TEXT NOT NULL,
    version INTEGER NOT NULL DEFAULT 1
) STRICT;

CREATE TABLE handover (
    id INTEGER PRIMARY KEY,
    buyer_id INTEGER NOT NULL REFERENCES buyer (id),
    state TEXT NOT NULL DEFAULT 'draft' CHECK (state IN ('draft', 'done', 'cancelled')),
    day TEXT,
    done_at TEXT,
    done_by INTEGER REFERENCES member (id),
    -- A lead's reason for letting something go that the readiness check would stop.
    override_reason TEXT NOT NULL DEFAULT '',
    override_by INTEGER REFERENCES member (id),
    note TEXT NOT NULL DEFAULT '',
    created_by INTEGER NOT NULL REFERENCES member (id),
    created_at TEXT NOT NULL,
    version INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT done_has_day CHECK ((state = 'done') = (day IS NOT NULL AND done_at IS NOT NULL AND done_by IS NOT NULL)),
    CONSTRAINT override_has_name CHECK ((override_reason = '') = (override_by IS NULL))
) STRICT;
CREATE INDEX handover_by_state ON handover (state, id);
CREATE TRIGGER handover_done_stays BEFORE UPDATE ON handover WHEN OLD.state <> 'draft'
BEGIN SELECT RAISE(ABORT, 'a handover that is done or cancelled is never changed'); END;

CREATE TABLE handover_line (
    id INTEGER PRIMARY KEY,
    handover_id INTEGER NOT NULL REFERENCES handover (id),
    animal_id INTEGER REFERENCES animal (id),
    cohort_id INTEGER REFERENCES cohort (id),
    stage TEXT REFERENCES bucket (code),
    quantity INTEGER NOT NULL CONSTRAINT handover_quantity CHECK (quantity BETWEEN 1 AND 3000),
    ledger_line_id INTEGER REFERENCES ledger_line (id),
    CONSTRAINT line_of_one CHECK ((animal_id IS NOT NULL) + (cohort_id IS NOT NULL) = 1),
    CONSTRAINT cohort_line_has_stage CHECK ((cohort_id IS NOT NULL) = (stage IS NOT NULL)),
    CONSTRAINT animal_line_is_one CHECK (animal_id IS NULL OR quantity = 1),
    CONSTRAINT animal_once UNIQUE (handover_id, animal_id),
    CONSTRAINT lot_once UNIQUE (handover_id, cohort_id, stage)
) STRICT;
CREATE INDEX handover_line_by_animal ON handover_line (animal_id);
CREATE INDEX handover_line_by_cohort ON handover_line (cohort_id);
CREATE TRIGGER handover_line_in_draft BEFORE INSERT ON handover_line
WHEN (SELECT state FROM handover WHERE id = NEW.handover_id) <> 'draft'
BEGIN SELECT RAISE(ABORT, 'a handover that is done or cancelled takes no more lines'); END;
CREATE TRIGGER handover_line_stays BEFORE DELETE ON handover_line
WHEN (SELECT state FROM handover WHERE id = OLD.handover_id) <> 'draft'
BEGIN SELECT RAISE(ABORT, 'a handover that is done or cancelled keeps its lines'); END;

-- A paper as issued. Its bytes never change; the fingerprint is their SHA-256.
CREATE TABLE paper (
    id INTEGER PRIMARY KEY,
    number TEXT NOT NULL UNIQUE,
    revision INTEGER NOT NULL DEFAULT 1,
    kind TEXT NOT NULL CHECK (kind IN ('care-sheet')),
    handover_id INTEGER NOT NULL REFERENCES handover (id),
    handover_line_id INTEGER NOT NULL UNIQUE REFERENCES handover_line (id),
    profile_id INTEGER NOT NULL REFERENCES care_profile (id),
    title TEXT NOT NULL,
    body BLOB NOT NULL,
    fingerprint TEXT NOT NULL CONSTRAINT fingerprint_is_sha256 CHECK (length(fingerprint) = 64),
    -- The address that buyers' links began with when it was issued, so that a reprint's code is the same.
    link_base TEXT NOT NULL,
    issued_at TEXT NOT NULL,
    issued_by INTEGER NOT NULL REFERENCES member (id)
) STRICT;
CREATE INDEX paper_by_handover ON paper (handover_id);
CREATE TRIGGER paper_keeps BEFORE UPDATE ON paper BEGIN SELECT RAISE(ABORT, 'issued papers are never changed'); END;
CREATE TRIGGER paper_loses_none BEFORE DELETE ON paper BEGIN SELECT RAISE(ABORT, 'issued papers are never removed'); END;

-- The buyer's way to the sheet. Only a hash of the link's secret is kept; the secret is worked out from a key outside this file.
CREATE TABLE buyer_link (
    id INTEGER PRIMARY KEY,
    paper_id INTEGER NOT NULL REFERENCES paper (id),
    nonce TEXT NOT NULL,
    token_hash TEXT NOT NULL UNIQUE,
    created_at TEXT NOT NULL,
    revoked_at TEXT,
    revoked_by INTEGER REFERENCES member (id)
) STRICT;
CREATE INDEX buyer_link_by_paper ON buyer_link (paper_id, id);

-- Imports that were carried out, by the fingerprint of the file.
CREATE TABLE import_run (
    id INTEGER PRIMARY KEY,
    kind TEXT NOT NULL CHECK (kind IN ('animals', 'cohorts')),
    file_sha256 TEXT NOT NULL,
    added INTEGER NOT NULL,
    unchanged INTEGER NOT NULL,
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL
) STRICT;
