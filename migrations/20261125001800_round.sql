-- The round: shelves in an order of their own, and what is found on the way.

ALTER TABLE shelf ADD COLUMN walk_order INTEGER NOT NULL DEFAULT 0 CHECK (walk_order >= 0);
UPDATE shelf SET walk_order = number;

DROP VIEW place;
CREATE VIEW place AS
SELECT shelf.id AS shelf_id, rack.id AS rack_id, room.id AS room_id,
       room.name || ' · ' || rack.name || ' · shelf ' || shelf.number AS label,
       room.name AS room_name, rack.name AS rack_name, shelf.number AS shelf_number,
       room.walk_order AS room_order, rack.walk_order AS rack_order, shelf.walk_order AS shelf_order
FROM shelf JOIN rack ON rack.id = shelf.rack_id JOIN room ON room.id = rack.room_id;

DROP VIEW duty_now;
CREATE VIEW duty_now AS
SELECT duty.*, COALESCE(animal.tag, cohort.code, 'Sac ' || sac.id, room.name) AS label, COALESCE(species.accepted_name, '') AS species,
       place.shelf_id, place.rack_id, COALESCE(place.label, room.name) AS place, COALESCE(place.room_order, room.walk_order) AS room_order,
       COALESCE(place.room_name, room.name) AS room_name, place.rack_order, place.rack_name, place.shelf_order, place.shelf_number,
       COALESCE(animal.position, cohort.position, sac.position, dam.position) AS position, member.name AS assigned_name,
       second.name AS second_name
FROM duty
LEFT JOIN animal ON animal.id = duty.animal_id
LEFT JOIN cohort ON cohort.id = duty.cohort_id
LEFT JOIN sac ON sac.id = duty.sac_id
LEFT JOIN room ON room.id = duty.room_id
LEFT JOIN animal AS dam ON dam.id = sac.dam_id
LEFT JOIN species ON species.id = COALESCE(animal.species_id, cohort.species_id, sac.species_id)
LEFT JOIN place ON place.shelf_id = COALESCE(animal.shelf_id, cohort.shelf_id, sac.shelf_id, dam.shelf_id)
LEFT JOIN member ON member.id = duty.assigned_to
LEFT JOIN member AS second ON second.id = duty.second_to;

-- What somebody came across at a stop, besides the duty. A later row that corrects one takes it back, or says that it was dealt with.
CREATE TABLE finding (
    id INTEGER PRIMARY KEY,
    animal_id INTEGER REFERENCES animal (id),
    cohort_id INTEGER REFERENCES cohort (id),
    sac_id INTEGER REFERENCES sac (id),
    duty_id INTEGER REFERENCES duty (id),
    kind TEXT NOT NULL CHECK (kind IN ('mould', 'mites', 'needs-rehouse', 'note', 'photo')),
    text TEXT NOT NULL DEFAULT '' CONSTRAINT finding_text_length CHECK (length(text) <= 400),
    day TEXT NOT NULL,
    member_id INTEGER NOT NULL REFERENCES member (id),
    at TEXT NOT NULL,
    corrects_id INTEGER REFERENCES finding (id) UNIQUE,
    -- What a correcting row says: taken back, or dealt with.
    says TEXT CHECK (says IN ('taken-back', 'dealt-with')),
    CONSTRAINT finding_of_one CHECK ((animal_id IS NOT NULL) + (cohort_id IS NOT NULL) + (sac_id IS NOT NULL) = 1),
    CONSTRAINT finding_correction_says CHECK ((corrects_id IS NULL) = (says IS NULL)),
    CONSTRAINT finding_note_has_text CHECK (kind <> 'note' OR length(text) > 0)
) STRICT;
CREATE INDEX finding_by_animal ON finding (animal_id, day);
CREATE INDEX finding_by_cohort ON finding (cohort_id, day);
CREATE INDEX finding_by_member ON finding (member_id, at);
CREATE TRIGGER finding_keeps BEFORE UPDATE ON finding BEGIN SELECT RAISE(ABORT, 'findings are never changed'); END;
CREATE TRIGGER finding_loses_none BEFORE DELETE ON finding BEGIN SELECT RAISE(ABORT, 'findings are never removed'); END;

-- Findings with what became of them, as lists show them.
CREATE VIEW finding_now AS
SELECT finding.id, finding.animal_id, finding.cohort_id, finding.sac_id, finding.duty_id, finding.kind, finding.text, finding.day,
       finding.member_id, finding.at, member.name AS member_name, COALESCE(animal.tag, cohort.code, 'Sac ' || finding.sac_id) AS label,
       place.label AS place, later.says, settler.name AS settled_by
FROM finding
JOIN member ON member.id = finding.member_id
LEFT JOIN animal ON animal.id = finding.animal_id
LEFT JOIN cohort ON cohort.id = finding.cohort_id
LEFT JOIN place ON place.shelf_id = COALESCE(animal.shelf_id, cohort.shelf_id)
LEFT JOIN finding AS later ON later.corrects_id = finding.id
LEFT JOIN member AS settler ON settler.id = later.member_id
WHERE finding.corrects_id IS NULL;
