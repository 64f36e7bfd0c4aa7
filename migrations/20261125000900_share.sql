-- Sharing out a day: who is in for how long, and who is the second person of a duty that takes two.

CREATE TABLE at_work (
    day TEXT NOT NULL,
    member_id INTEGER NOT NULL REFERENCES member (id),
    present INTEGER NOT NULL CHECK (present IN (0, 1)),
    -- Minutes that they have for duties on that day.
    minutes INTEGER NOT NULL CONSTRAINT at_work_minutes_range CHECK (minutes BETWEEN 0 AND 1440),
    PRIMARY KEY (day, member_id)
) STRICT, WITHOUT ROWID;

ALTER TABLE duty ADD COLUMN second_to INTEGER REFERENCES member (id);
CREATE INDEX duty_open_by_second ON duty (second_to) WHERE state = 'open' AND second_to IS NOT NULL;

-- The second person is another than the first, and at most one level below what the duty asks for.
CREATE TRIGGER duty_second_is_cleared BEFORE UPDATE OF second_to ON duty
WHEN NEW.second_to IS NOT NULL AND (NEW.assigned_to IS NULL OR NEW.second_to = NEW.assigned_to OR (NEW.clearance > 1 AND NOT EXISTS (
    SELECT 1 FROM clearance_standing AS c WHERE c.member_id = NEW.second_to AND c.level >= NEW.clearance - 1
      AND c.valid_from <= NEW.assigned_on AND c.valid_until >= NEW.assigned_on)))
BEGIN SELECT RAISE(ABORT, 'clearance: this person can not be the second for this duty'); END;
-- The second goes with the first.
CREATE TRIGGER duty_second_goes_too AFTER UPDATE OF assigned_to ON duty
WHEN NEW.second_to IS NOT NULL AND NEW.assigned_to IS NOT OLD.assigned_to
BEGIN UPDATE duty SET second_to = NULL WHERE id = NEW.id; END;
CREATE TRIGGER suspension_frees_second AFTER INSERT ON suspension BEGIN
    UPDATE duty SET second_to = NULL WHERE state = 'open' AND second_to = NEW.member_id AND clearance > 0;
END;

DROP VIEW duty_now;
CREATE VIEW duty_now AS
SELECT duty.*, COALESCE(animal.tag, cohort.code, 'Sac ' || sac.id) AS label, species.accepted_name AS species, place.shelf_id, place.rack_id,
       place.label AS place, place.room_order, place.room_name, place.rack_order, place.rack_name, place.shelf_number,
       COALESCE(animal.position, cohort.position, sac.position, dam.position) AS position, member.name AS assigned_name,
       second.name AS second_name
FROM duty
LEFT JOIN animal ON animal.id = duty.animal_id
LEFT JOIN cohort ON cohort.id = duty.cohort_id
LEFT JOIN sac ON sac.id = duty.sac_id
LEFT JOIN animal AS dam ON dam.id = sac.dam_id
JOIN species ON species.id = COALESCE(animal.species_id, cohort.species_id, sac.species_id)
LEFT JOIN place ON place.shelf_id = COALESCE(animal.shelf_id, cohort.shelf_id, sac.shelf_id, dam.shelf_id)
LEFT JOIN member ON member.id = duty.assigned_to
LEFT JOIN member AS second ON second.id = duty.second_to;
