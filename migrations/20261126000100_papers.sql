-- Papers of many kinds, and the part of a paper that names a person, kept apart so that the person can be erased.
-- The table is built anew: rows that name a paper find it again before the transaction ends.

PRAGMA defer_foreign_keys = ON;

ALTER TABLE buyer ADD COLUMN language TEXT NOT NULL DEFAULT '';
-- The instant at which what is known of the person was erased; the row keeps its number.
ALTER TABLE buyer ADD COLUMN erased_at TEXT;

CREATE TABLE paper_before AS SELECT * FROM paper;
DROP TABLE paper;
-- A paper as issued. Its bytes never change; the fingerprint is the SHA-256 of the whole document, the person's part in its place.
CREATE TABLE paper (
    id INTEGER PRIMARY KEY,
    number TEXT NOT NULL UNIQUE,
    revision INTEGER NOT NULL DEFAULT 1,
    kind TEXT NOT NULL CHECK (kind IN ('care-sheet', 'origin-statement', 'risk-acknowledgement', 'handover-note', 'receipt', 'credit-note',
        'vial-labels', 'box-label', 'rehouse-card', 'incident-report', 'recall-letter')),
    language TEXT NOT NULL DEFAULT 'en',
    -- What it is about: whichever of these it belongs to lists it.
    handover_id INTEGER REFERENCES handover (id),
    handover_line_id INTEGER REFERENCES handover_line (id),
    buyer_id INTEGER REFERENCES buyer (id),
    animal_id INTEGER REFERENCES animal (id),
    cohort_id INTEGER REFERENCES cohort (id),
    incident_id INTEGER REFERENCES incident (id),
    profile_id INTEGER REFERENCES care_profile (id),
    title TEXT NOT NULL,
    body BLOB NOT NULL,
    -- Whether a part of it names a person: that part stands in paper_person, or was erased.
    names_person INTEGER NOT NULL DEFAULT 0 CHECK (names_person IN (0, 1)),
    fingerprint TEXT NOT NULL CONSTRAINT fingerprint_is_sha256 CHECK (length(fingerprint) = 64),
    -- The address that printed codes begin with, as it was when the paper was issued, so that a reprint's code is the same.
    link_base TEXT NOT NULL,
    issued_at TEXT NOT NULL,
    -- The local day, so that a reprint says the same whatever the site's zone is by then.
    issued_on TEXT NOT NULL,
    issued_by INTEGER NOT NULL REFERENCES member (id),
    CONSTRAINT paper_of_something CHECK (COALESCE(handover_id, buyer_id, animal_id, cohort_id, incident_id) IS NOT NULL),
    CONSTRAINT sheet_has_line CHECK (kind <> 'care-sheet' OR (handover_id IS NOT NULL AND handover_line_id IS NOT NULL AND profile_id IS NOT NULL))
) STRICT;
INSERT INTO paper (id, number, revision, kind, handover_id, handover_line_id, buyer_id, animal_id, cohort_id, profile_id, title, body,
                   fingerprint, link_base, issued_at, issued_on, issued_by)
SELECT old.id, old.number, old.revision, old.kind, old.handover_id, old.handover_line_id, handover.buyer_id, line.animal_id, line.cohort_id,
       old.profile_id, old.title, old.body, old.fingerprint, old.link_base, old.issued_at, old.issued_on, old.issued_by
FROM paper_before AS old JOIN handover ON handover.id = old.handover_id JOIN handover_line AS line ON line.id = old.handover_line_id;
DROP TABLE paper_before;

-- One of a kind for a line of a handover.
CREATE UNIQUE INDEX paper_of_line ON paper (handover_line_id, kind) WHERE handover_line_id IS NOT NULL;
CREATE INDEX paper_by_handover ON paper (handover_id);
CREATE INDEX paper_by_buyer ON paper (buyer_id);
CREATE INDEX paper_by_animal ON paper (animal_id) WHERE animal_id IS NOT NULL;
CREATE INDEX paper_by_cohort ON paper (cohort_id) WHERE cohort_id IS NOT NULL;
CREATE INDEX paper_by_incident ON paper (incident_id) WHERE incident_id IS NOT NULL;
CREATE TRIGGER paper_keeps BEFORE UPDATE ON paper BEGIN SELECT RAISE(ABORT, 'issued papers are never changed'); END;
CREATE TRIGGER paper_loses_none BEFORE DELETE ON paper BEGIN SELECT RAISE(ABORT, 'issued papers are never removed'); END;

-- The part of a paper that names a person. It holds a random mark of its own, so that nobody finds the person again by trying
-- names against the fingerprint once the part is gone. It goes only when the person is erased.
CREATE TABLE paper_person (
    paper_id INTEGER PRIMARY KEY REFERENCES paper (id),
    part BLOB NOT NULL
) STRICT;
CREATE TRIGGER paper_person_keeps BEFORE UPDATE ON paper_person BEGIN SELECT RAISE(ABORT, 'issued papers are never changed'); END;
CREATE TRIGGER paper_person_stays BEFORE DELETE ON paper_person
WHEN (SELECT buyer.erased_at FROM paper JOIN buyer ON buyer.id = paper.buyer_id WHERE paper.id = OLD.paper_id) IS NULL
BEGIN SELECT RAISE(ABORT, 'the part of a paper that names a person goes only when that person is erased'); END;

-- Each line of a handover that is done has its care sheet: a paper of another kind does not stand for it.
DROP TRIGGER handover_done_is_whole;
CREATE TRIGGER handover_done_is_whole BEFORE UPDATE OF state ON handover WHEN NEW.state = 'done' BEGIN
    SELECT RAISE(ABORT, 'handover: nothing is on it')
    WHERE NOT EXISTS (SELECT 1 FROM handover_line WHERE handover_id = NEW.id);
    SELECT RAISE(ABORT, 'handover: a line has no care sheet')
    WHERE EXISTS (SELECT 1 FROM handover_line AS line WHERE line.handover_id = NEW.id
        AND NOT EXISTS (SELECT 1 FROM paper WHERE paper.handover_line_id = line.id AND paper.kind = 'care-sheet'));
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

-- A paper with the part that names a person and the link that is printed on it: the first of its links.
CREATE VIEW paper_whole AS
SELECT paper.id, paper.number, paper.revision, paper.kind, paper.language, paper.handover_id, paper.buyer_id, paper.animal_id,
       paper.cohort_id, paper.incident_id, paper.title, paper.body, person.part AS person, paper.names_person,
       buyer.erased_at IS NOT NULL AS buyer_erased, paper.fingerprint, paper.link_base, paper.issued_on, printed.nonce
FROM paper
LEFT JOIN paper_person AS person ON person.paper_id = paper.id
LEFT JOIN buyer ON buyer.id = paper.buyer_id
LEFT JOIN buyer_link AS printed ON printed.id = (SELECT MIN(id) FROM buyer_link WHERE buyer_link.paper_id = paper.id);

-- Papers as lists show them, with the link that is open.
CREATE VIEW paper_listed AS
SELECT paper.id, paper.number, paper.kind, paper.title, paper.issued_on, paper.handover_id, paper.handover_line_id, paper.buyer_id,
       paper.animal_id, paper.cohort_id, paper.incident_id, paper.link_base, open.nonce, open.created_at AS linked_at
FROM paper LEFT JOIN buyer_link AS open ON open.id = (
    SELECT MAX(id) FROM buyer_link WHERE buyer_link.paper_id = paper.id AND revoked_at IS NULL);
