-- Breeding: introductions of the two of a pairing, lines that were mixed knowingly, the log of an incubator, when stages
-- were first seen, and counts that were made twice.

-- Which species' sacs run alike; null: nobody has said. Ranges by group are common practice, no source.
ALTER TABLE species ADD COLUMN sac_group TEXT CHECK (sac_group IN ('nw-slow', 'nw-giant', 'nw-goliath', 'nw-arboreal', 'nw-dwarf', 'nw-desert',
    'ow-arboreal', 'ow-african', 'ow-asian'));
UPDATE species SET sac_group = CASE substr(accepted_name, 1, instr(accepted_name, ' ') - 1)
    WHEN 'Brachypelma' THEN 'nw-slow' WHEN 'Tliltocatl' THEN 'nw-slow' WHEN 'Grammostola' THEN 'nw-slow'
    WHEN 'Acanthoscurria' THEN 'nw-giant' WHEN 'Lasiodora' THEN 'nw-giant'
    WHEN 'Theraphosa' THEN 'nw-goliath'
    WHEN 'Avicularia' THEN 'nw-arboreal' WHEN 'Caribena' THEN 'nw-arboreal' WHEN 'Psalmopoeus' THEN 'nw-arboreal'
    WHEN 'Chromatopelma' THEN 'nw-arboreal' WHEN 'Ephebopus' THEN 'nw-arboreal'
    WHEN 'Cyriocosmus' THEN 'nw-dwarf' WHEN 'Dolichothele' THEN 'nw-dwarf'
    WHEN 'Aphonopelma' THEN 'nw-desert'
    WHEN 'Poecilotheria' THEN 'ow-arboreal' WHEN 'Heteroscodra' THEN 'ow-arboreal' WHEN 'Stromatopelma' THEN 'ow-arboreal'
    WHEN 'Pterinochilus' THEN 'ow-african' WHEN 'Monocentropus' THEN 'ow-african' WHEN 'Hysterocrates' THEN 'ow-african'
    WHEN 'Cyriopagopus' THEN 'ow-asian' WHEN 'Chilobrachys' THEN 'ow-asian'
END;
CREATE INDEX species_by_sac_group ON species (sac_group);

-- Rules of a species' sacs, beside those of planning. Null: as is usual for its group.
ALTER TABLE care_profile ADD COLUMN sac_after_from INTEGER CHECK (sac_after_from BETWEEN 1 AND 1000);
ALTER TABLE care_profile ADD COLUMN sac_after_to INTEGER CHECK (sac_after_to BETWEEN 1 AND 1000 AND (sac_after_from IS NULL) = (sac_after_to IS NULL)
    AND sac_after_to >= sac_after_from);
ALTER TABLE care_profile ADD COLUMN incubate_min_c INTEGER CHECK (incubate_min_c BETWEEN 10 AND 40);
ALTER TABLE care_profile ADD COLUMN incubate_max_c INTEGER CHECK (incubate_max_c BETWEEN 10 AND 40);
ALTER TABLE care_profile ADD COLUMN incubate_risky_c INTEGER CHECK (incubate_risky_c BETWEEN 10 AND 45);

-- In what the lines of the two differ, and what spoke against them when they were put together, one sentence a line.
ALTER TABLE pairing ADD COLUMN mixed TEXT NOT NULL DEFAULT '' CONSTRAINT pairing_mixed_length CHECK (length(mixed) <= 400);
ALTER TABLE pairing ADD COLUMN warnings TEXT NOT NULL DEFAULT '' CONSTRAINT pairing_warnings_length CHECK (length(warnings) <= 6000);
DROP TRIGGER pairing_keeps;
UPDATE pairing SET mixed = (
    SELECT CASE WHEN dam.locality = sire.locality THEN ''
                ELSE substr(COALESCE(NULLIF(dam.locality, ''), 'not known') || ' and ' || COALESCE(NULLIF(sire.locality, ''), 'not known'), 1, 400) END
    FROM animal AS dam, animal AS sire WHERE dam.id = pairing.dam_id AND sire.id = pairing.sire_id);
CREATE TRIGGER pairing_keeps BEFORE UPDATE ON pairing BEGIN SELECT RAISE(ABORT, 'pairings are never changed'); END;
CREATE INDEX pairing_by_sire ON pairing (sire_id);

-- Each time that the two were put together. What was asked of people when it was written down stands beside it.
CREATE TABLE introduction (
    id INTEGER PRIMARY KEY,
    pairing_id INTEGER NOT NULL REFERENCES pairing (id),
    -- The local day, and when it began; null for those that were in the book before there was an hour.
    day TEXT NOT NULL,
    began_at TEXT,
    insertion TEXT NOT NULL CHECK (insertion IN ('seen', 'none', 'unknown')),
    outcome TEXT NOT NULL CHECK (outcome IN ('safe', 'lost', 'parted', 'unknown')),
    note TEXT NOT NULL DEFAULT '' CONSTRAINT introduction_note_length CHECK (length(note) <= 600),
    member_id INTEGER REFERENCES member (id),
    second_id INTEGER REFERENCES member (id),
    band INTEGER NOT NULL CHECK (band BETWEEN 0 AND 3),
    clearance INTEGER NOT NULL CHECK (clearance BETWEEN 0 AND 3),
    persons INTEGER NOT NULL CHECK (persons BETWEEN 1 AND 2),
    at TEXT NOT NULL,
    -- A later entry that strikes this one out, and why.
    corrects_id INTEGER REFERENCES introduction (id) UNIQUE,
    void_reason TEXT NOT NULL DEFAULT '',
    CONSTRAINT introduction_of_two_people CHECK (second_id IS NULL OR second_id <> member_id),
    CONSTRAINT introduction_struck_with_reason CHECK ((corrects_id IS NOT NULL) = (length(void_reason) > 0))
) STRICT;
CREATE INDEX introduction_by_pairing ON introduction (pairing_id, day, id);
-- A pairing used to be one introduction on its day. How it went was not asked then.
INSERT INTO introduction (pairing_id, day, insertion, outcome, note, member_id, band, clearance, persons, at)
SELECT id, paired_on, 'unknown', 'unknown', substr(note, 1, 600), member_id, 0, 0, 1, at FROM pairing;
CREATE VIEW introduction_standing AS
SELECT introduction.*, pairing.dam_id, pairing.sire_id FROM introduction JOIN pairing ON pairing.id = introduction.pairing_id
WHERE corrects_id IS NULL AND NOT EXISTS (SELECT 1 FROM introduction AS later WHERE later.corrects_id = introduction.id);
CREATE TRIGGER introduction_keeps BEFORE UPDATE ON introduction BEGIN SELECT RAISE(ABORT, 'introductions are never changed'); END;
CREATE TRIGGER introduction_loses_none BEFORE DELETE ON introduction BEGIN SELECT RAISE(ABORT, 'introductions are never removed'); END;

-- A female and a male of one species, both in the house on that day.
CREATE TRIGGER pairing_of_a_pair BEFORE INSERT ON pairing BEGIN
    SELECT RAISE(ABORT, 'pairing: a male is no dam') WHERE (SELECT sex FROM animal WHERE id = NEW.dam_id) = 'male';
    SELECT RAISE(ABORT, 'pairing: a female is no sire') WHERE (SELECT sex FROM animal WHERE id = NEW.sire_id) = 'female';
    SELECT RAISE(ABORT, 'pairing: these are two species')
    WHERE (SELECT species_id FROM animal WHERE id = NEW.dam_id) IS NOT (SELECT species_id FROM animal WHERE id = NEW.sire_id);
    SELECT RAISE(ABORT, 'pairing: one of the two was not in the house on that day')
    WHERE EXISTS (SELECT 1 FROM animal WHERE id IN (NEW.dam_id, NEW.sire_id) AND (started_on > NEW.paired_on OR status_on < NEW.paired_on));
END;
CREATE TRIGGER introduction_can_be BEFORE INSERT ON introduction WHEN NEW.corrects_id IS NULL BEGIN
    SELECT RAISE(ABORT, 'pairing: somebody did it, at an hour') WHERE NEW.member_id IS NULL OR NEW.began_at IS NULL;
    SELECT RAISE(ABORT, 'pairing: this introduction is still to come') WHERE NEW.began_at > NEW.at;
    SELECT RAISE(ABORT, 'pairing: one of the two was not in the house on that day')
    WHERE EXISTS (SELECT 1 FROM animal JOIN pairing ON animal.id IN (pairing.dam_id, pairing.sire_id)
                  WHERE pairing.id = NEW.pairing_id AND (animal.started_on > NEW.day OR animal.status_on < NEW.day));
    SELECT RAISE(ABORT, 'pairing: one of the two was held then, so nobody opens it')
    WHERE EXISTS (SELECT 1 FROM hold JOIN pairing ON hold.animal_id IN (pairing.dam_id, pairing.sire_id)
                  WHERE pairing.id = NEW.pairing_id AND hold.from_at <= NEW.began_at AND (hold.until_at IS NULL OR hold.until_at > NEW.began_at)
                    AND (hold.lifted_at IS NULL OR hold.lifted_at > NEW.began_at));
END;
-- Nobody puts two together above the clearance that they hold on that day: the rule of a duty with hands in.
CREATE TRIGGER introduction_by_cleared BEFORE INSERT ON introduction WHEN NEW.corrects_id IS NULL BEGIN
    SELECT RAISE(ABORT, 'clearance: the band of the two is higher than was asked')
    WHERE NEW.band < (SELECT MAX(CASE species.venom WHEN 'significant' THEN 3 WHEN 'moderate' THEN 2 ELSE 0 END)
                      FROM pairing JOIN animal ON animal.id IN (pairing.dam_id, pairing.sire_id) JOIN species ON species.id = animal.species_id
                      WHERE pairing.id = NEW.pairing_id)
       OR NEW.band < (SELECT COALESCE(MAX(caution.level), 0) FROM pairing JOIN caution ON caution.animal_id IN (pairing.dam_id, pairing.sire_id)
                      WHERE pairing.id = NEW.pairing_id AND caution.ended_at IS NULL);
    SELECT RAISE(ABORT, 'clearance: less was asked than the risk table asks')
    WHERE EXISTS (SELECT 1 FROM exposure_default AS d WHERE d.band = NEW.band AND d.exposure = 'hands-in'
                  AND (NEW.clearance < d.clearance OR NEW.persons < d.persons))
       OR EXISTS (SELECT 1 FROM exposure_rule AS r WHERE r.band = NEW.band AND r.exposure = 'hands-in'
                  AND (NEW.clearance < r.clearance OR NEW.persons < r.persons));
    SELECT RAISE(ABORT, 'clearance: only who looks after animals here puts two together')
    WHERE EXISTS (SELECT 1 FROM member WHERE id IN (NEW.member_id, NEW.second_id) AND (disabled_at IS NOT NULL OR is_keeper + is_lead + is_owner = 0));
    SELECT RAISE(ABORT, 'clearance: the clearances of one of them rest until an incident is reviewed')
    WHERE NEW.clearance > 0 AND EXISTS (SELECT 1 FROM suspension WHERE member_id IN (NEW.member_id, NEW.second_id) AND lifted_at IS NULL);
    SELECT RAISE(ABORT, 'clearance: this person is not cleared to put these two together')
    WHERE NEW.clearance > 0 AND NOT EXISTS (
        SELECT 1 FROM clearance_standing AS c WHERE c.member_id = NEW.member_id AND c.level >= NEW.clearance
          AND c.valid_from <= NEW.day AND c.valid_until >= NEW.day);
    SELECT RAISE(ABORT, 'clearance: this takes two people') WHERE NEW.persons >= 2 AND NEW.second_id IS NULL;
    SELECT RAISE(ABORT, 'clearance: this person can not be the second for these two')
    WHERE NEW.second_id IS NOT NULL AND NEW.clearance > 1 AND NOT EXISTS (
        SELECT 1 FROM clearance_standing AS c WHERE c.member_id = NEW.second_id AND c.level >= NEW.clearance - 1
          AND c.valid_from <= NEW.day AND c.valid_until >= NEW.day);
END;

-- Above which temperature warmth is summed, in tenths of a degree Celsius. 15 °C is common practice, no source.
ALTER TABLE sac ADD COLUMN base_decicelsius INTEGER NOT NULL DEFAULT 150 CHECK (base_decicelsius BETWEEN 0 AND 250);
CREATE INDEX sac_by_dam ON sac (dam_id, laid_on);
-- Nobody is their own ancestor: a parent hatched from a sac that was laid before.
CREATE TRIGGER sac_of_its_elders BEFORE INSERT ON sac BEGIN
    SELECT RAISE(ABORT, 'sac: a parent hatched from a sac that was laid no earlier than this one')
    WHERE EXISTS (SELECT 1 FROM animal JOIN ledger_line AS line ON line.id = animal.origin_line_id
                  JOIN cohort_root ON cohort_root.cohort_id = line.cohort_id JOIN cohort AS root ON root.id = cohort_root.root_id
                  JOIN sac AS elder ON elder.id = root.sac_id
                  WHERE animal.id IN (NEW.dam_id, NEW.sire_id) AND elder.laid_on >= NEW.laid_on);
    SELECT RAISE(ABORT, 'sac: a parent hatched after this sac was laid')
    WHERE EXISTS (SELECT 1 FROM animal WHERE id IN (NEW.dam_id, NEW.sire_id) AND born_on >= NEW.laid_on);
    SELECT RAISE(ABORT, 'sac: a male is no dam, and a female no sire')
    WHERE (SELECT sex FROM animal WHERE id = NEW.dam_id) = 'male' OR (SELECT sex FROM animal WHERE id = NEW.sire_id) = 'female';
END;

-- What the thermometer beside a sac showed.
CREATE TABLE sac_reading (
    id INTEGER PRIMARY KEY,
    sac_id INTEGER NOT NULL REFERENCES sac (id),
    at TEXT NOT NULL,
    -- The local day of the reading.
    day TEXT NOT NULL,
    -- Tenths of a degree Celsius.
    decicelsius INTEGER CONSTRAINT sac_reading_celsius_range CHECK (decicelsius BETWEEN -50 AND 600),
    -- Relative humidity, %.
    humidity INTEGER CONSTRAINT sac_reading_humidity_range CHECK (humidity BETWEEN 1 AND 100),
    member_id INTEGER REFERENCES member (id),
    written_at TEXT NOT NULL,
    -- A later entry that strikes this one out.
    corrects_id INTEGER REFERENCES sac_reading (id) UNIQUE,
    CONSTRAINT sac_reading_has_temperature CHECK ((corrects_id IS NULL) = (decicelsius IS NOT NULL))
) STRICT;
CREATE INDEX sac_reading_by_sac ON sac_reading (sac_id, at);
CREATE VIEW sac_reading_standing AS
SELECT sac_reading.* FROM sac_reading
WHERE corrects_id IS NULL AND NOT EXISTS (SELECT 1 FROM sac_reading AS later WHERE later.corrects_id = sac_reading.id);
CREATE TRIGGER sac_reading_in_its_time BEFORE INSERT ON sac_reading WHEN NEW.corrects_id IS NULL BEGIN
    SELECT RAISE(ABORT, 'sac: a reading of a day on which there was no sac')
    WHERE EXISTS (SELECT 1 FROM sac WHERE id = NEW.sac_id AND (NEW.day < laid_on OR NEW.day > ended_on));
END;
CREATE TRIGGER sac_reading_keeps BEFORE UPDATE ON sac_reading BEGIN SELECT RAISE(ABORT, 'readings are never changed'); END;
CREATE TRIGGER sac_reading_loses_none BEFORE DELETE ON sac_reading BEGIN SELECT RAISE(ABORT, 'readings are never removed'); END;

-- When a stage was first seen in a sac, or among the young that it gave while nobody had moved them on in the ledger.
CREATE TABLE sac_seen (
    id INTEGER PRIMARY KEY,
    sac_id INTEGER NOT NULL REFERENCES sac (id),
    stage TEXT NOT NULL CHECK (stage IN ('ewl', 'i1', 'i2')),
    day TEXT NOT NULL,
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    -- A later entry that strikes this one out.
    corrects_id INTEGER REFERENCES sac_seen (id) UNIQUE
) STRICT;
CREATE INDEX sac_seen_by_sac ON sac_seen (sac_id, stage);
CREATE VIEW sac_seen_standing AS
SELECT sac_seen.* FROM sac_seen
WHERE corrects_id IS NULL AND NOT EXISTS (SELECT 1 FROM sac_seen AS later WHERE later.corrects_id = sac_seen.id);
CREATE TRIGGER sac_seen_after_laying BEFORE INSERT ON sac_seen WHEN NEW.day <= (SELECT laid_on FROM sac WHERE id = NEW.sac_id)
BEGIN SELECT RAISE(ABORT, 'sac: no stage is seen before the day after laying'); END;
CREATE TRIGGER sac_seen_keeps BEFORE UPDATE ON sac_seen BEGIN SELECT RAISE(ABORT, 'what was seen is never changed'); END;
CREATE TRIGGER sac_seen_loses_none BEFORE DELETE ON sac_seen BEGIN SELECT RAISE(ABORT, 'what was seen is never removed'); END;

-- The first day of each stage of a sac: seen, legs out, or moulted on in the ledger of its cohort.
CREATE VIEW sac_stage AS
SELECT sac_id, stage, MIN(day) AS day FROM (
    SELECT sac_id, stage, day FROM sac_seen_standing
    UNION ALL
    SELECT id, 'ewl', legs_out_on FROM sac WHERE legs_out_on IS NOT NULL
    UNION ALL
    SELECT cohort.sac_id, line.to_bucket, line.day FROM cohort JOIN ledger_line AS line ON line.cohort_id = cohort.id
    WHERE cohort.sac_id IS NOT NULL AND line.kind = 'moulted' AND line.to_bucket IN ('ewl', 'i1', 'i2')
      AND NOT EXISTS (SELECT 1 FROM ledger_line AS later WHERE later.reverses_id = line.id)
) GROUP BY sac_id, stage;

-- Counts that were made twice, or three times when the first two differed by over 2 % or over 3 (common practice, no source).
CREATE TABLE count_check (
    id INTEGER PRIMARY KEY,
    cohort_id INTEGER NOT NULL REFERENCES cohort (id),
    what TEXT NOT NULL CHECK (what IN ('opening', 'separation')),
    day TEXT NOT NULL,
    first INTEGER NOT NULL CHECK (first BETWEEN 0 AND 100000),
    second INTEGER NOT NULL CHECK (second BETWEEN 0 AND 100000),
    third INTEGER CHECK (third BETWEEN 0 AND 100000),
    -- The last count, and by how much it differs from the one that it agrees with.
    accepted INTEGER NOT NULL,
    difference INTEGER NOT NULL CHECK (difference BETWEEN 0 AND 3),
    -- What the book had; null where the count began it.
    book INTEGER,
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    CONSTRAINT count_accepts_the_last CHECK (accepted = COALESCE(third, second)),
    CONSTRAINT count_agrees CHECK (
        CASE WHEN third IS NULL THEN abs(first - second) <= 3 AND abs(first - second) * 100 <= 2 * max(first, second)
             ELSE (abs(third - first) <= 3 AND abs(third - first) * 100 <= 2 * max(third, first))
               OR (abs(third - second) <= 3 AND abs(third - second) * 100 <= 2 * max(third, second)) END),
    CONSTRAINT count_has_book CHECK ((what = 'separation') = (book IS NOT NULL))
) STRICT;
CREATE INDEX count_check_by_cohort ON count_check (cohort_id, id);
CREATE TRIGGER count_check_keeps BEFORE UPDATE ON count_check BEGIN SELECT RAISE(ABORT, 'counts are never changed'); END;
CREATE TRIGGER count_check_loses_none BEFORE DELETE ON count_check BEGIN SELECT RAISE(ABORT, 'counts are never removed'); END;

-- A pairing with its two, and how it stands by what happened. The day from which a sac is waited for is the last introduction with an
-- insertion seen since the dam's last moult, else the last one at all.
CREATE VIEW pairing_now AS
SELECT pairing.id, pairing.dam_id, dam.tag AS dam_tag, dam.status = 'alive' AS dam_alive, pairing.sire_id, sire.tag AS sire_tag,
       sire.status = 'alive' AS sire_alive, dam.species_id, species.accepted_name AS species, pairing.paired_on, pairing.mixed, pairing.warnings,
       pairing.note,
       (SELECT COUNT(*) FROM introduction_standing AS i WHERE i.pairing_id = pairing.id) AS introductions,
       (SELECT MIN(i.day) FROM introduction_standing AS i WHERE i.pairing_id = pairing.id) AS first_on,
       (SELECT MAX(i.day) FROM introduction_standing AS i WHERE i.pairing_id = pairing.id) AS last_on,
       EXISTS (SELECT 1 FROM introduction_standing AS i WHERE i.pairing_id = pairing.id AND i.insertion = 'seen') AS insertion_seen,
       (SELECT MIN(m.day) FROM moult_standing AS m WHERE m.animal_id = pairing.dam_id
          AND m.day > (SELECT MAX(i.day) FROM introduction_standing AS i WHERE i.pairing_id = pairing.id)) AS void_since,
       (SELECT i.day FROM introduction_standing AS i
        WHERE i.pairing_id = pairing.id
          AND i.day >= COALESCE((SELECT MAX(m.day) FROM moult_standing AS m WHERE m.animal_id = pairing.dam_id), '')
        ORDER BY i.insertion = 'seen' DESC, i.day DESC LIMIT 1) AS waited_from
FROM pairing JOIN animal AS dam ON dam.id = pairing.dam_id JOIN animal AS sire ON sire.id = pairing.sire_id
JOIN species ON species.id = dam.species_id;
