-- The day's work: duties of rooms, turning of sacs, a rehouse that was broken off, and how a sign-off reached the book.
-- Only CHECKs and new columns: the way that sqlite.org/lang_altertable.html gives for changes that leave stored rows as they are.

ALTER TABLE duty ADD COLUMN room_id INTEGER REFERENCES room (id);
-- When it was made, for a sign-off that waited in a browser or on paper; null when the book heard of it at once.
ALTER TABLE signoff ADD COLUMN made_at TEXT;
ALTER TABLE signoff ADD COLUMN entered TEXT NOT NULL DEFAULT 'live' CHECK (entered IN ('live', 'queued', 'paper', 'tablet'));

PRAGMA writable_schema = ON;
UPDATE sqlite_schema SET sql = replace(replace(sql,
    '''cohort-count'')', '''cohort-count'', ''sac-turn'', ''room-reading'')'),
    '(sac_id IS NOT NULL) = 1', '(sac_id IS NOT NULL) + (room_id IS NOT NULL) = 1')
WHERE type = 'table' AND name = 'duty';
UPDATE sqlite_schema SET sql = replace(sql, '''threat'', ''undone'')', '''threat'', ''undone'', ''aborted'')')
WHERE type = 'table' AND name = 'signoff';
UPDATE sqlite_schema SET sql = replace(sql, '''just-moulted'', ''quarantine'')', '''just-moulted'', ''quarantine'', ''rest'')')
WHERE type = 'table' AND name = 'hold';
PRAGMA writable_schema = RESET;

CREATE UNIQUE INDEX duty_open_of_room ON duty (room_id, kind) WHERE state = 'open' AND room_id IS NOT NULL;
CREATE INDEX duty_of_room ON duty (room_id, kind, state);

-- A room's duty stands at the head of its room.
DROP VIEW duty_now;
CREATE VIEW duty_now AS
SELECT duty.*, COALESCE(animal.tag, cohort.code, 'Sac ' || sac.id, room.name) AS label, COALESCE(species.accepted_name, '') AS species,
       place.shelf_id, place.rack_id, COALESCE(place.label, room.name) AS place, COALESCE(place.room_order, room.walk_order) AS room_order,
       COALESCE(place.room_name, room.name) AS room_name, place.rack_order, place.rack_name, place.shelf_number,
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

-- Breaking off is always allowed to whoever is cleared: it asks neither for a second person nor for the whole list.
DROP TRIGGER signoff_by_cleared;
CREATE TRIGGER signoff_by_cleared BEFORE INSERT ON signoff
WHEN NEW.corrects_id IS NULL AND NEW.outcome NOT IN ('could-not') BEGIN
    SELECT RAISE(ABORT, 'clearance: this person is not cleared for this duty')
    WHERE MAX(NEW.clearance, (SELECT clearance FROM duty WHERE id = NEW.duty_id)) > 0 AND NOT EXISTS (
        SELECT 1 FROM clearance_standing AS c WHERE c.member_id = NEW.member_id
          AND c.level >= MAX(NEW.clearance, (SELECT clearance FROM duty WHERE id = NEW.duty_id))
          AND c.valid_from <= NEW.day AND c.valid_until >= NEW.day);
    SELECT RAISE(ABORT, 'clearance: this duty takes two people')
    WHERE NEW.outcome NOT IN ('found-dead', 'threat', 'aborted') AND NEW.second_id IS NULL
      AND MAX(NEW.persons, (SELECT persons FROM duty WHERE id = NEW.duty_id)) >= 2;
    SELECT RAISE(ABORT, 'signoff: this duty is held')
    WHERE NEW.outcome NOT IN ('found-dead', 'threat', 'aborted') AND (SELECT held FROM duty WHERE id = NEW.duty_id) IS NOT NULL;
    SELECT RAISE(ABORT, 'signoff: the checklist is not complete')
    WHERE NEW.outcome = 'done' AND NEW.checklist = ''
      AND EXISTS (SELECT 1 FROM duty WHERE id = NEW.duty_id AND exposure = 'hands-in' AND band = 3);
    -- What can hurt needs a live answer: it is neither queued nor typed in from paper.
    SELECT RAISE(ABORT, 'signoff: this is signed at once, not later')
    WHERE NEW.entered IN ('queued', 'paper') AND EXISTS (SELECT 1 FROM duty WHERE id = NEW.duty_id AND exposure = 'hands-in')
      AND NEW.outcome <> 'could-not';
END;
