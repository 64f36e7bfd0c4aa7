-- Care-sheet texts: revisions by species and language, of which only those that were reviewed are printed.

-- The language that sheets are printed in unless the buyer reads another.
ALTER TABLE site ADD COLUMN language TEXT NOT NULL DEFAULT 'en' CONSTRAINT site_language_length CHECK (length(language) BETWEEN 2 AND 11);

CREATE TABLE care_text (
    id INTEGER PRIMARY KEY,
    species_id INTEGER NOT NULL REFERENCES species (id),
    -- A tag of RFC 5646.
    language TEXT NOT NULL CONSTRAINT care_text_language_length CHECK (length(language) BETWEEN 2 AND 11),
    number INTEGER NOT NULL CHECK (number >= 1),
    -- starter: it came with the program and is printed with that said, until somebody here reviews it.
    state TEXT NOT NULL CHECK (state IN ('draft', 'sent', 'starter', 'reviewed')),
    -- Who wrote it last; nobody: it came with the program.
    author_id INTEGER REFERENCES member (id),
    written_on TEXT NOT NULL,
    reviewer_id INTEGER REFERENCES member (id),
    reviewed_on TEXT,
    -- Reviewed by one who wrote it, because the house had no other lead or owner on that day.
    alone INTEGER NOT NULL DEFAULT 0 CHECK (alone IN (0, 1)),
    -- What the reviewer asked for when it came back.
    remark TEXT NOT NULL DEFAULT '' CONSTRAINT care_text_remark_length CHECK (length(remark) <= 600),
    about TEXT NOT NULL DEFAULT '' CONSTRAINT care_text_about_length CHECK (length(about) <= 3000),
    housing TEXT NOT NULL DEFAULT '' CONSTRAINT care_text_housing_length CHECK (length(housing) <= 3000),
    climate TEXT NOT NULL DEFAULT '' CONSTRAINT care_text_climate_length CHECK (length(climate) <= 3000),
    feeding TEXT NOT NULL DEFAULT '' CONSTRAINT care_text_feeding_length CHECK (length(feeding) <= 3000),
    moulting TEXT NOT NULL DEFAULT '' CONSTRAINT care_text_moulting_length CHECK (length(moulting) <= 3000),
    safety TEXT NOT NULL DEFAULT '' CONSTRAINT care_text_safety_length CHECK (length(safety) <= 3000),
    help TEXT NOT NULL DEFAULT '' CONSTRAINT care_text_help_length CHECK (length(help) <= 3000),
    house TEXT NOT NULL DEFAULT '' CONSTRAINT care_text_house_length CHECK (length(house) <= 3000),
    version INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT care_text_number_unique UNIQUE (species_id, language, number),
    CONSTRAINT care_text_reviewed_by_somebody CHECK ((state = 'reviewed') = (reviewer_id IS NOT NULL)),
    CONSTRAINT care_text_reviewed_on_a_day CHECK ((reviewer_id IS NULL) = (reviewed_on IS NULL)),
    CONSTRAINT care_text_starter_has_no_author CHECK (state <> 'starter' OR author_id IS NULL),
    CONSTRAINT care_text_draft_has_author CHECK (state NOT IN ('draft', 'sent') OR author_id IS NOT NULL)
) STRICT;
-- One at a time is worked at.
CREATE UNIQUE INDEX care_text_one_open ON care_text (species_id, language) WHERE state IN ('draft', 'sent');
CREATE INDEX care_text_by_state ON care_text (state, species_id);

-- Everybody who wrote at a revision: the reviewer is somebody else.
CREATE TABLE care_text_writer (
    text_id INTEGER NOT NULL REFERENCES care_text (id) ON DELETE CASCADE,
    member_id INTEGER NOT NULL REFERENCES member (id),
    PRIMARY KEY (text_id, member_id)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER care_text_writer_keeps BEFORE UPDATE ON care_text_writer BEGIN SELECT RAISE(ABORT, 'who wrote a text stays noted'); END;
CREATE TRIGGER care_text_writer_loses_none BEFORE DELETE ON care_text_writer
WHEN EXISTS (SELECT 1 FROM care_text WHERE id = OLD.text_id)
BEGIN SELECT RAISE(ABORT, 'who wrote a text stays noted'); END;

CREATE TRIGGER care_text_written AFTER INSERT ON care_text WHEN NEW.author_id IS NOT NULL
BEGIN INSERT INTO care_text_writer (text_id, member_id) VALUES (NEW.id, NEW.author_id); END;
CREATE TRIGGER care_text_written_again AFTER UPDATE OF author_id ON care_text WHEN NEW.author_id IS NOT NULL
BEGIN INSERT OR IGNORE INTO care_text_writer (text_id, member_id) VALUES (NEW.id, NEW.author_id); END;

CREATE TRIGGER care_text_begins_as_draft BEFORE INSERT ON care_text BEGIN
    SELECT RAISE(ABORT, 'care-text: a text begins as a draft') WHERE NEW.state NOT IN ('draft', 'starter');
    SELECT RAISE(ABORT, 'care-text: a starter text comes before every other')
    WHERE NEW.state = 'starter' AND EXISTS (SELECT 1 FROM care_text WHERE species_id = NEW.species_id AND language = NEW.language);
    SELECT RAISE(ABORT, 'care-text: revisions are numbered in order')
    WHERE NEW.number <> (SELECT COALESCE(MAX(number), 0) + 1 FROM care_text WHERE species_id = NEW.species_id AND language = NEW.language);
END;
CREATE TRIGGER care_text_stays_of_its_kind BEFORE UPDATE ON care_text
WHEN NEW.id <> OLD.id OR NEW.species_id <> OLD.species_id OR NEW.language <> OLD.language OR NEW.number <> OLD.number
BEGIN SELECT RAISE(ABORT, 'care-text: a revision stays that of its species and language'); END;
-- What was reviewed is never changed; a starter text is only ever reviewed.
CREATE TRIGGER care_text_keeps BEFORE UPDATE ON care_text
WHEN OLD.state = 'reviewed' OR (OLD.state = 'starter' AND (NEW.state <> 'reviewed' OR NEW.author_id IS NOT NULL
    OR NEW.written_on <> OLD.written_on OR NEW.about <> OLD.about OR NEW.housing <> OLD.housing OR NEW.climate <> OLD.climate
    OR NEW.feeding <> OLD.feeding OR NEW.moulting <> OLD.moulting OR NEW.safety <> OLD.safety OR NEW.help <> OLD.help
    OR NEW.house <> OLD.house))
BEGIN SELECT RAISE(ABORT, 'care-text: a reviewed text is never changed; write the next revision'); END;
CREATE TRIGGER care_text_loses_none BEFORE DELETE ON care_text WHEN OLD.state IN ('starter', 'reviewed')
BEGIN SELECT RAISE(ABORT, 'care-text: a reviewed text is never removed'); END;
-- A review changes no word of what was sent.
CREATE TRIGGER care_text_reviewed_as_sent BEFORE UPDATE ON care_text WHEN NEW.state = 'reviewed' BEGIN
    SELECT RAISE(ABORT, 'care-text: only a text that was sent for review is reviewed') WHERE OLD.state NOT IN ('sent', 'starter');
    SELECT RAISE(ABORT, 'care-text: a review changes no word')
    WHERE NEW.author_id IS NOT OLD.author_id OR NEW.written_on <> OLD.written_on OR NEW.about <> OLD.about OR NEW.housing <> OLD.housing
       OR NEW.climate <> OLD.climate OR NEW.feeding <> OLD.feeding OR NEW.moulting <> OLD.moulting OR NEW.safety <> OLD.safety
       OR NEW.help <> OLD.help OR NEW.house <> OLD.house;
    SELECT RAISE(ABORT, 'care-text: a lead or an owner reviews')
    WHERE NOT EXISTS (SELECT 1 FROM member WHERE id = NEW.reviewer_id AND (is_lead = 1 OR is_owner = 1) AND disabled_at IS NULL);
    SELECT RAISE(ABORT, 'care-text: somebody else than its writers reviews a text')
    WHERE EXISTS (SELECT 1 FROM care_text_writer WHERE text_id = OLD.id AND member_id = NEW.reviewer_id)
      AND EXISTS (SELECT 1 FROM member WHERE (is_lead = 1 OR is_owner = 1) AND disabled_at IS NULL AND id <> NEW.reviewer_id);
    SELECT RAISE(ABORT, 'care-text: whether its writer reviewed it is said')
    WHERE NEW.alone <> EXISTS (SELECT 1 FROM care_text_writer WHERE text_id = OLD.id AND member_id = NEW.reviewer_id);
END;
-- What is sent has every section but the house's own.
CREATE TRIGGER care_text_sent_whole BEFORE UPDATE OF state ON care_text WHEN NEW.state IN ('sent', 'reviewed')
BEGIN
    SELECT RAISE(ABORT, 'care-text: a section is empty')
    WHERE '' IN (NEW.about, NEW.housing, NEW.climate, NEW.feeding, NEW.moulting, NEW.safety, NEW.help);
END;
