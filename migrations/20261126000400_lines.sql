-- Who descends from whom, tagged animals held back for breeding, and the house's own lines.

CREATE INDEX IF NOT EXISTS sac_by_dam ON sac (dam_id, laid_on);
CREATE INDEX IF NOT EXISTS sac_by_sire ON sac (sire_id);
CREATE INDEX IF NOT EXISTS pairing_by_sire ON pairing (sire_id, paired_on);

-- The males that may have sired a sac: the one that is written, or else each that she was put together with between her last
-- moult and the day it was laid. A pairing that was only planned sires nothing.
-- `certain` is 1 when it can only be this one.
CREATE VIEW possible_sire AS
SELECT sac.id AS sac_id, sac.sire_id, 1 AS certain FROM sac WHERE sac.sire_id IS NOT NULL
UNION ALL
SELECT sac.id, met.sire_id, (COUNT(*) OVER (PARTITION BY sac.id)) = 1
FROM sac JOIN introduction_standing AS met ON met.dam_id = sac.dam_id AND met.day <= sac.laid_on
WHERE sac.sire_id IS NULL AND NOT EXISTS (
    SELECT 1 FROM moult_standing AS shed
    WHERE shed.animal_id = sac.dam_id AND shed.day > met.day AND shed.day <= sac.laid_on)
GROUP BY sac.id, met.sire_id;

-- A tagged animal is held back, or released again: each an entry that stays. The last one counts.
CREATE TABLE animal_holdback (
    id INTEGER PRIMARY KEY,
    animal_id INTEGER NOT NULL REFERENCES animal (id),
    day TEXT NOT NULL,
    held INTEGER NOT NULL CHECK (held IN (0, 1)),
    reason TEXT NOT NULL CONSTRAINT animal_holdback_has_reason CHECK (length(reason) BETWEEN 1 AND 400),
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL
) STRICT;
CREATE INDEX animal_holdback_by_animal ON animal_holdback (animal_id, id);
CREATE VIEW animal_held_back AS
SELECT entry.* FROM animal_holdback AS entry
WHERE entry.held = 1 AND NOT EXISTS (SELECT 1 FROM animal_holdback AS later WHERE later.animal_id = entry.animal_id AND later.id > entry.id);
CREATE TRIGGER animal_holdback_keeps BEFORE UPDATE ON animal_holdback BEGIN SELECT RAISE(ABORT, 'holdbacks are never changed'); END;
CREATE TRIGGER animal_holdback_loses_none BEFORE DELETE ON animal_holdback BEGIN SELECT RAISE(ABORT, 'holdbacks are never removed'); END;
CREATE TRIGGER animal_holdback_takes_turns BEFORE INSERT ON animal_holdback BEGIN
    SELECT RAISE(ABORT, 'holdback: this entry is in the book already') WHERE EXISTS (SELECT 1 FROM animal_holdback WHERE id = NEW.id);
    SELECT RAISE(ABORT, 'holdback: this animal is held back already')
    WHERE NEW.held = 1 AND EXISTS (SELECT 1 FROM animal_held_back WHERE animal_id = NEW.animal_id);
    SELECT RAISE(ABORT, 'holdback: this animal is not held back')
    WHERE NEW.held = 0 AND NOT EXISTS (SELECT 1 FROM animal_held_back WHERE animal_id = NEW.animal_id);
    SELECT RAISE(ABORT, 'holdback: only an animal that is alive and in the house is held back')
    WHERE NEW.held = 1 AND (SELECT status FROM animal WHERE id = NEW.animal_id) <> 'alive';
    SELECT RAISE(ABORT, 'holdback: only a lead releases')
    WHERE NEW.held = 0 AND NEW.member_id IS NOT NULL
      AND NOT EXISTS (SELECT 1 FROM member WHERE id = NEW.member_id AND disabled_at IS NULL AND (is_owner = 1 OR is_lead = 1));
END;
-- What a brood's own holdback says too: anybody who keeps holds back, a lead releases.
CREATE TRIGGER holdback_released_by_lead BEFORE INSERT ON holdback
WHEN NEW.quantity < 0 AND NEW.member_id IS NOT NULL
  AND NOT EXISTS (SELECT 1 FROM member WHERE id = NEW.member_id AND disabled_at IS NULL AND (is_owner = 1 OR is_lead = 1))
BEGIN SELECT RAISE(ABORT, 'holdback: only a lead releases'); END;
CREATE TRIGGER animal_sells_only_free BEFORE UPDATE OF status ON animal
WHEN NEW.status = 'sold' AND OLD.status <> 'sold' AND EXISTS (SELECT 1 FROM animal_held_back WHERE animal_id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'animal: it is held back for breeding; a lead releases it first'); END;

-- A line: the house's own name for a closed group of one species.
CREATE TABLE line (
    id INTEGER PRIMARY KEY,
    species_id INTEGER NOT NULL REFERENCES species (id),
    name TEXT NOT NULL COLLATE NOCASE CONSTRAINT line_name_length CHECK (length(name) BETWEEN 1 AND 60),
    note TEXT NOT NULL DEFAULT '',
    founded_on TEXT NOT NULL,
    created_at TEXT NOT NULL,
    version INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT line_name_unique UNIQUE (species_id, name)
) STRICT;
CREATE TRIGGER line_species_stays BEFORE UPDATE OF species_id ON line WHEN OLD.species_id <> NEW.species_id
BEGIN SELECT RAISE(ABORT, 'a line keeps its species'); END;
CREATE TRIGGER line_stays BEFORE DELETE ON line BEGIN SELECT RAISE(ABORT, 'lines are never removed'); END;

-- An animal or a cohort said to be of a line, or (line_id null) of none. What was said last counts; where nothing was said,
-- the line is that of the parents.
CREATE TABLE line_entry (
    id INTEGER PRIMARY KEY,
    line_id INTEGER REFERENCES line (id),
    animal_id INTEGER REFERENCES animal (id),
    cohort_id INTEGER REFERENCES cohort (id),
    day TEXT NOT NULL,
    note TEXT NOT NULL DEFAULT '',
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    CONSTRAINT line_entry_of_one CHECK ((animal_id IS NOT NULL) + (cohort_id IS NOT NULL) = 1)
) STRICT;
CREATE INDEX line_entry_by_animal ON line_entry (animal_id, id);
CREATE INDEX line_entry_by_cohort ON line_entry (cohort_id, id);
CREATE TRIGGER line_entry_keeps BEFORE UPDATE ON line_entry BEGIN SELECT RAISE(ABORT, 'entries of a line are never changed'); END;
CREATE TRIGGER line_entry_loses_none BEFORE DELETE ON line_entry BEGIN SELECT RAISE(ABORT, 'entries of a line are never removed'); END;
CREATE TRIGGER line_entry_of_its_species BEFORE INSERT ON line_entry BEGIN
    SELECT RAISE(ABORT, 'line: this entry is in the book already') WHERE EXISTS (SELECT 1 FROM line_entry WHERE id = NEW.id);
    SELECT RAISE(ABORT, 'line: the line is of another species')
    WHERE NEW.line_id IS NOT NULL AND (SELECT species_id FROM line WHERE id = NEW.line_id)
        IS NOT COALESCE((SELECT species_id FROM animal WHERE id = NEW.animal_id), (SELECT species_id FROM cohort WHERE id = NEW.cohort_id));
END;
