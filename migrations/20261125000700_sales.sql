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
CREATE INDEX handover_line_by_ledger_line ON handover_line (ledger_line_id);
CREATE TRIGGER handover_line_in_draft BEFORE INSERT ON handover_line
WHEN (SELECT state FROM handover WHERE id = NEW.handover_id) <> 'draft'
BEGIN SELECT RAISE(ABORT, 'a handover that is done or cancelled takes no more lines'); END;
CREATE TRIGGER handover_line_stays BEFORE DELETE ON handover_line
WHEN (SELECT state FROM handover WHERE id = OLD.handover_id) <> 'draft'
BEGIN SELECT RAISE(ABORT, 'a handover that is done or cancelled keeps its lines'); END;

CREATE TRIGGER handover_line_keeps BEFORE UPDATE ON handover_line
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
    -- The local day, so that a reprint says the same whatever the site's zone is by then.
    issued_on TEXT NOT NULL,
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

-- A handover as pages show it.
CREATE VIEW handover_shown AS
SELECT handover.id, handover.buyer_id, buyer.name AS buyer_name, handover.state, handover.day, handover.done_at,
       done.name AS done_by_name, handover.override_reason, overrider.name AS override_by_name, handover.note,
       handover.created_at, handover.version,
       (SELECT COUNT(*) FROM handover_line WHERE handover_line.handover_id = handover.id) AS lines
FROM handover JOIN buyer ON buyer.id = handover.buyer_id
LEFT JOIN member AS done ON done.id = handover.done_by LEFT JOIN member AS overrider ON overrider.id = handover.override_by;

-- Cohorts whose origin has papers on file: their own, those of the cohort they were split from, or those of both parents.
CREATE VIEW cohort_with_papers AS
WITH RECURSIVE origin (cohort_id, from_id) AS (
    SELECT id, id FROM cohort
    UNION SELECT origin.cohort_id, cohort.parent_cohort_id FROM origin JOIN cohort ON cohort.id = origin.from_id
    WHERE cohort.parent_cohort_id IS NOT NULL
)
SELECT DISTINCT origin.cohort_id
FROM origin JOIN cohort ON cohort.id = origin.from_id LEFT JOIN sac ON sac.id = cohort.sac_id
LEFT JOIN animal AS dam ON dam.id = sac.dam_id LEFT JOIN animal AS sire ON sire.id = sac.sire_id
WHERE cohort.papers <> '' OR (dam.papers <> '' AND sire.papers <> '');

-- A link is closed, never opened again: a new one takes its place.
CREATE TRIGGER buyer_link_stays BEFORE UPDATE ON buyer_link
WHEN OLD.revoked_at IS NOT NULL OR OLD.nonce <> NEW.nonce OR OLD.token_hash <> NEW.token_hash OR OLD.paper_id <> NEW.paper_id
BEGIN SELECT RAISE(ABORT, 'a link that was closed stays closed'); END;
CREATE TRIGGER buyer_link_loses_none BEFORE DELETE ON buyer_link BEGIN SELECT RAISE(ABORT, 'links are never removed'); END;

-- What a handover that is done must have behind it: lines, a paper for each, stock that has left, and nothing sold twice.
CREATE TRIGGER handover_done_is_whole BEFORE UPDATE OF state ON handover WHEN NEW.state = 'done' BEGIN
    SELECT RAISE(ABORT, 'handover: nothing is on it')
    WHERE NOT EXISTS (SELECT 1 FROM handover_line WHERE handover_id = NEW.id);
    SELECT RAISE(ABORT, 'handover: a line has no care sheet')
    WHERE EXISTS (SELECT 1 FROM handover_line AS line WHERE line.handover_id = NEW.id
        AND NOT EXISTS (SELECT 1 FROM paper WHERE paper.handover_line_id = line.id));
    SELECT RAISE(ABORT, 'handover: a line has not left the stock')
    WHERE EXISTS (SELECT 1 FROM handover_line AS line WHERE line.handover_id = NEW.id AND (
        (line.animal_id IS NOT NULL AND (SELECT status FROM animal WHERE id = line.animal_id) <> 'sold')
        OR (line.cohort_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM ledger_line WHERE ledger_line.id = line.ledger_line_id
            AND kind = 'sold' AND cohort_id = line.cohort_id AND from_bucket = line.stage AND quantity = line.quantity))));
    SELECT RAISE(ABORT, 'handover: an animal on it has been sold already')
    WHERE EXISTS (SELECT 1 FROM handover_line AS mine JOIN handover_line AS other ON other.animal_id = mine.animal_id
        JOIN handover ON handover.id = other.handover_id
        WHERE mine.handover_id = NEW.id AND other.handover_id <> NEW.id AND handover.state = 'done');
END;

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
