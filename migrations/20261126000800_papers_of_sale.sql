-- Papers of a sale beside the care sheet: what stands behind them, and what the house sets for them.

-- One row: what papers say beside the house's name and address.
CREATE TABLE paper_setting (
    id INTEGER PRIMARY KEY CONSTRAINT paper_setting_is_one_row CHECK (id = 1),
    registration TEXT NOT NULL DEFAULT '' CONSTRAINT registration_length CHECK (length(registration) <= 200),
    telephone TEXT NOT NULL DEFAULT '' CONSTRAINT telephone_length CHECK (length(telephone) <= 60),
    arrival_terms TEXT NOT NULL CONSTRAINT arrival_terms_length CHECK (length(arrival_terms) <= 2000),
    -- The least age of whoever takes an animal of band 2 or 3; 0: none is asked for.
    least_age_2 INTEGER NOT NULL DEFAULT 0 CONSTRAINT least_age_2_range CHECK (least_age_2 BETWEEN 0 AND 99),
    least_age_3 INTEGER NOT NULL DEFAULT 18 CONSTRAINT least_age_3_range CHECK (least_age_3 BETWEEN 0 AND 99),
    -- What a box label says of temperature, degrees Celsius.
    box_min_c INTEGER NOT NULL DEFAULT 5 CONSTRAINT box_min_c_range CHECK (box_min_c BETWEEN -10 AND 40),
    box_max_c INTEGER NOT NULL DEFAULT 30 CONSTRAINT box_max_c_range CHECK (box_max_c BETWEEN -10 AND 50),
    version INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT box_range_is_one CHECK (box_min_c < box_max_c)
) STRICT;
INSERT INTO paper_setting (id, arrival_terms) VALUES (1,
    'Sent animals are to arrive alive. Open the box on the day of delivery, inside a larger tub.' || char(10) ||
    'If one is dead, tell the house with a photograph within two hours of the first delivery attempt. The house replaces it or credits its price, not the carriage.' || char(10) ||
    'A lost leg, or a bald patch on the abdomen, is not a claim: both come back with moults.');

-- What law is said to ask for at a place, as far as the house knows it. A note is retired, and never changed.
CREATE TABLE law_place (
    id INTEGER PRIMARY KEY,
    place TEXT NOT NULL CONSTRAINT law_place_length CHECK (length(place) BETWEEN 1 AND 80),
    text TEXT NOT NULL CONSTRAINT law_text_length CHECK (length(text) BETWEEN 1 AND 600),
    made_by INTEGER REFERENCES member (id),
    made_at TEXT NOT NULL,
    made_on TEXT NOT NULL,
    retired_at TEXT,
    retired_by INTEGER REFERENCES member (id)
) STRICT;
CREATE INDEX law_place_standing ON law_place (place) WHERE retired_at IS NULL;
CREATE TRIGGER law_place_keeps BEFORE UPDATE ON law_place
WHEN OLD.retired_at IS NOT NULL OR OLD.place <> NEW.place OR OLD.text <> NEW.text OR NEW.retired_at IS NULL
BEGIN SELECT RAISE(ABORT, 'a note on law is retired, once, and never changed'); END;
CREATE TRIGGER law_place_stays BEFORE DELETE ON law_place BEGIN SELECT RAISE(ABORT, 'notes on law are never removed'); END;

-- Papers on file that show where an animal or a cohort is from. Struck out, never changed.
CREATE TABLE origin_document (
    id INTEGER PRIMARY KEY,
    animal_id INTEGER REFERENCES animal (id),
    cohort_id INTEGER REFERENCES cohort (id),
    kind TEXT NOT NULL CHECK (kind IN ('permit', 'certificate', 'declaration', 'invoice', 'other')),
    number TEXT NOT NULL DEFAULT '' CONSTRAINT document_number_length CHECK (length(number) <= 80),
    issuer TEXT NOT NULL CONSTRAINT document_issuer_length CHECK (length(issuer) BETWEEN 1 AND 120),
    dated_on TEXT NOT NULL,
    note TEXT NOT NULL DEFAULT '' CONSTRAINT document_note_length CHECK (length(note) <= 300),
    made_by INTEGER NOT NULL REFERENCES member (id),
    made_at TEXT NOT NULL,
    CONSTRAINT document_of_one CHECK ((animal_id IS NOT NULL) + (cohort_id IS NOT NULL) = 1)
) STRICT;
CREATE INDEX origin_document_by_animal ON origin_document (animal_id) WHERE animal_id IS NOT NULL;
CREATE INDEX origin_document_by_cohort ON origin_document (cohort_id) WHERE cohort_id IS NOT NULL;
CREATE TRIGGER origin_document_keeps BEFORE UPDATE ON origin_document BEGIN SELECT RAISE(ABORT, 'documents on file are never changed'); END;
CREATE TRIGGER origin_document_stays BEFORE DELETE ON origin_document BEGIN SELECT RAISE(ABORT, 'documents on file are never removed'); END;
CREATE TABLE origin_document_struck (
    document_id INTEGER PRIMARY KEY REFERENCES origin_document (id),
    why TEXT NOT NULL CONSTRAINT struck_document_has_reason CHECK (length(why) BETWEEN 1 AND 300),
    member_id INTEGER NOT NULL REFERENCES member (id),
    at TEXT NOT NULL
) STRICT;
CREATE TRIGGER origin_document_struck_keeps BEFORE UPDATE ON origin_document_struck BEGIN SELECT RAISE(ABORT, 'what is struck out stays so'); END;
CREATE TRIGGER origin_document_struck_stays BEFORE DELETE ON origin_document_struck BEGIN SELECT RAISE(ABORT, 'what is struck out stays so'); END;

-- A lead says of a species' (or a line's) breeding stock that it meets the test for code C, and why.
CREATE TABLE stock_statement (
    id INTEGER PRIMARY KEY,
    species_id INTEGER NOT NULL REFERENCES species (id),
    -- The line or locality that it is said of; empty: every one of the species.
    line TEXT NOT NULL DEFAULT '' CONSTRAINT stock_line_length CHECK (length(line) <= 120),
    grounds TEXT NOT NULL CHECK (grounds IN ('second-generation', 'managed')),
    why TEXT NOT NULL CONSTRAINT stock_why_length CHECK (length(why) BETWEEN 1 AND 600),
    stated_on TEXT NOT NULL,
    stated_by INTEGER NOT NULL REFERENCES member (id),
    stated_at TEXT NOT NULL,
    withdrawn_at TEXT,
    withdrawn_by INTEGER REFERENCES member (id),
    withdrawn_why TEXT NOT NULL DEFAULT '',
    CONSTRAINT stock_withdrawn_has_name CHECK ((withdrawn_at IS NULL) = (withdrawn_by IS NULL))
) STRICT;
CREATE INDEX stock_statement_by_species ON stock_statement (species_id, line);
CREATE TRIGGER stock_statement_by_lead BEFORE INSERT ON stock_statement
WHEN NOT EXISTS (SELECT 1 FROM member WHERE id = NEW.stated_by AND (is_lead = 1 OR is_owner = 1) AND disabled_at IS NULL)
BEGIN SELECT RAISE(ABORT, 'a lead or an owner states what breeding stock is'); END;
CREATE TRIGGER stock_statement_keeps BEFORE UPDATE ON stock_statement
WHEN OLD.withdrawn_at IS NOT NULL OR NEW.withdrawn_at IS NULL OR NEW.withdrawn_why = '' OR OLD.species_id <> NEW.species_id
    OR OLD.line <> NEW.line OR OLD.grounds <> NEW.grounds OR OLD.why <> NEW.why OR OLD.stated_on <> NEW.stated_on OR OLD.stated_by <> NEW.stated_by
BEGIN SELECT RAISE(ABORT, 'a statement on breeding stock is withdrawn, once, and never changed'); END;
CREATE TRIGGER stock_statement_stays BEFORE DELETE ON stock_statement BEGIN SELECT RAISE(ABORT, 'statements on breeding stock are never removed'); END;

-- Sheets of labels, in tenths of a millimetre. One that is no longer in use is retired; its issued labels stay as they are.
CREATE TABLE label_sheet (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL CONSTRAINT label_sheet_name_length CHECK (length(name) BETWEEN 1 AND 60),
    page_width INTEGER NOT NULL CHECK (page_width BETWEEN 200 AND 5000),
    page_height INTEGER NOT NULL CHECK (page_height BETWEEN 200 AND 5000),
    margin_left INTEGER NOT NULL CHECK (margin_left BETWEEN 0 AND 2000),
    margin_top INTEGER NOT NULL CHECK (margin_top BETWEEN 0 AND 2000),
    columns INTEGER NOT NULL CHECK (columns BETWEEN 1 AND 40),
    rows INTEGER NOT NULL CHECK (rows BETWEEN 1 AND 80),
    label_width INTEGER NOT NULL CHECK (label_width BETWEEN 80 AND 3000),
    label_height INTEGER NOT NULL CHECK (label_height BETWEEN 50 AND 3000),
    gap_x INTEGER NOT NULL CHECK (gap_x BETWEEN 0 AND 500),
    gap_y INTEGER NOT NULL CHECK (gap_y BETWEEN 0 AND 500),
    made_by INTEGER REFERENCES member (id),
    made_at TEXT NOT NULL,
    retired_at TEXT,
    CONSTRAINT label_sheet_fits_across CHECK (margin_left + columns * label_width + (columns - 1) * gap_x <= page_width),
    CONSTRAINT label_sheet_fits_down CHECK (margin_top + rows * label_height + (rows - 1) * gap_y <= page_height)
) STRICT;
CREATE INDEX label_sheet_standing ON label_sheet (name) WHERE retired_at IS NULL;
CREATE TRIGGER label_sheet_keeps BEFORE UPDATE ON label_sheet WHEN OLD.retired_at IS NOT NULL OR NEW.retired_at IS NULL
BEGIN SELECT RAISE(ABORT, 'a label sheet is retired, once, and never changed'); END;
CREATE TRIGGER label_sheet_stays BEFORE DELETE ON label_sheet BEGIN SELECT RAISE(ABORT, 'label sheets are never removed'); END;
INSERT INTO label_sheet (name, page_width, page_height, margin_left, margin_top, columns, rows, label_width, label_height, gap_x, gap_y, made_at) VALUES
    ('A4, 5 by 13, 38 by 21 mm', 2100, 2970, 50, 108, 5, 13, 380, 211, 25, 0, '2026-11-26T00:00:00+00:00'),
    ('A4, 3 by 8, 64 by 34 mm', 2100, 2970, 72, 129, 3, 8, 635, 339, 25, 0, '2026-11-26T00:00:00+00:00'),
    ('Letter, 3 by 10, 67 by 25 mm', 2159, 2794, 48, 127, 3, 10, 667, 254, 31, 0, '2026-11-26T00:00:00+00:00'),
    ('A4 plain paper, 4 by 12, 45 by 20 mm, to cut', 2100, 2970, 120, 200, 4, 12, 450, 200, 20, 20, '2026-11-26T00:00:00+00:00');

-- That the cautions were shown to whoever takes animals of band 2 or 3, and their age seen where the house asks for one. Nothing of
-- the person is kept but that.
CREATE TABLE handover_risk_shown (
    handover_id INTEGER PRIMARY KEY REFERENCES handover (id),
    -- The age that was asked for; 0: none.
    least_age INTEGER NOT NULL CHECK (least_age BETWEEN 0 AND 99),
    member_id INTEGER NOT NULL REFERENCES member (id),
    at TEXT NOT NULL
) STRICT;
CREATE TRIGGER handover_risk_shown_keeps BEFORE UPDATE ON handover_risk_shown BEGIN SELECT RAISE(ABORT, 'that the risk was shown is never changed'); END;
CREATE TRIGGER handover_risk_shown_stays BEFORE DELETE ON handover_risk_shown BEGIN SELECT RAISE(ABORT, 'that the risk was shown is never removed'); END;

-- Lines whose animals are of band 2 or 3 by their species or by a caution on the animal itself.
CREATE VIEW handover_line_risky AS
SELECT line.handover_id, line.id AS line_id, species.id AS species_id
FROM handover_line AS line
LEFT JOIN animal ON animal.id = line.animal_id LEFT JOIN cohort ON cohort.id = line.cohort_id
JOIN species ON species.id = COALESCE(animal.species_id, cohort.species_id)
WHERE species.venom IN ('moderate', 'significant')
   OR EXISTS (SELECT 1 FROM caution WHERE caution.animal_id = line.animal_id AND caution.ended_at IS NULL AND caution.level >= 2);

-- Nothing of band 2 or 3 leaves before its risk was shown, and nothing without the papers that go with it.
CREATE TRIGGER handover_done_risk_shown BEFORE UPDATE OF state ON handover
WHEN NEW.state = 'done' AND EXISTS (SELECT 1 FROM handover_line_risky WHERE handover_id = NEW.id)
    AND NOT EXISTS (SELECT 1 FROM handover_risk_shown WHERE handover_id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'handover: the risk was not shown'); END;
CREATE TRIGGER handover_done_has_papers BEFORE UPDATE OF state ON handover WHEN NEW.state = 'done'
    AND NOT EXISTS (SELECT 1 FROM handover_line AS line WHERE line.handover_id = NEW.id
        AND NOT EXISTS (SELECT 1 FROM paper WHERE paper.handover_line_id = line.id AND paper.kind = 'care-sheet'))
BEGIN
    SELECT RAISE(ABORT, 'handover: a line has no statement of origin')
    WHERE EXISTS (SELECT 1 FROM handover_line AS line WHERE line.handover_id = NEW.id
        AND NOT EXISTS (SELECT 1 FROM paper WHERE paper.handover_line_id = line.id AND paper.kind = 'origin-statement'));
    SELECT RAISE(ABORT, 'handover: it has no risk acknowledgement')
    WHERE EXISTS (SELECT 1 FROM handover_line_risky WHERE handover_id = NEW.id)
        AND NOT EXISTS (SELECT 1 FROM paper WHERE paper.handover_id = NEW.id AND paper.kind = 'risk-acknowledgement');
    SELECT RAISE(ABORT, 'handover: it has no handover note')
    WHERE EXISTS (SELECT 1 FROM handover_line WHERE handover_id = NEW.id)
        AND NOT EXISTS (SELECT 1 FROM paper WHERE paper.handover_id = NEW.id AND paper.kind = 'handover-note');
END;

-- Papers as lists show them, with the link that is open, and whether there ever was one.
DROP VIEW paper_listed;
CREATE VIEW paper_listed AS
SELECT paper.id, paper.number, paper.kind, paper.title, paper.issued_on, paper.handover_id, paper.handover_line_id, paper.buyer_id,
       paper.animal_id, paper.cohort_id, paper.incident_id, paper.link_base, open.nonce, open.created_at AS linked_at,
       EXISTS (SELECT 1 FROM buyer_link WHERE buyer_link.paper_id = paper.id) AS has_link
FROM paper LEFT JOIN buyer_link AS open ON open.id = (
    SELECT MAX(id) FROM buyer_link WHERE buyer_link.paper_id = paper.id AND revoked_at IS NULL);

-- Whether papers are there follows from the whole descent now, so nothing asks this any more.
DROP VIEW cohort_with_papers;
