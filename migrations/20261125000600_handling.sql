-- Risk: individual cautions, the tightened table, clearances, incidents and suspensions.

CREATE TABLE caution (
    id INTEGER PRIMARY KEY,
    animal_id INTEGER NOT NULL REFERENCES animal (id),
    -- The least band that this caution asks for. It raises a band and never lowers one.
    level INTEGER NOT NULL CHECK (level BETWEEN 0 AND 3),
    text TEXT NOT NULL CONSTRAINT caution_length CHECK (length(text) BETWEEN 1 AND 400),
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    ended_at TEXT,
    ended_by INTEGER REFERENCES member (id)
) STRICT;
CREATE INDEX caution_by_animal ON caution (animal_id, ended_at);

-- What the trade's common practice asks for at the least: band x exposure -> clearance and persons.
CREATE TABLE exposure_default (
    band INTEGER NOT NULL CHECK (band BETWEEN 0 AND 3),
    exposure TEXT NOT NULL CHECK (exposure IN ('look', 'open', 'hands-in')),
    clearance INTEGER NOT NULL CHECK (clearance BETWEEN 0 AND 3),
    persons INTEGER NOT NULL CHECK (persons BETWEEN 1 AND 3),
    PRIMARY KEY (band, exposure)
) STRICT, WITHOUT ROWID;
INSERT INTO exposure_default (band, exposure, clearance, persons) VALUES
    (0, 'look', 0, 1), (0, 'open', 0, 1), (0, 'hands-in', 0, 1),
    (1, 'look', 0, 1), (1, 'open', 1, 1), (1, 'hands-in', 1, 1),
    (2, 'look', 0, 1), (2, 'open', 1, 1), (2, 'hands-in', 2, 1),
    (3, 'look', 0, 1), (3, 'open', 2, 1), (3, 'hands-in', 3, 2);
CREATE TRIGGER exposure_default_keeps BEFORE UPDATE ON exposure_default BEGIN SELECT RAISE(ABORT, 'the default table is never changed'); END;
CREATE TRIGGER exposure_default_loses_none BEFORE DELETE ON exposure_default BEGIN SELECT RAISE(ABORT, 'the default table is never changed'); END;

-- Where this house asks for more.
CREATE TABLE exposure_rule (
    band INTEGER NOT NULL,
    exposure TEXT NOT NULL,
    clearance INTEGER NOT NULL CHECK (clearance BETWEEN 0 AND 3),
    persons INTEGER NOT NULL CHECK (persons BETWEEN 1 AND 2),
    PRIMARY KEY (band, exposure),
    FOREIGN KEY (band, exposure) REFERENCES exposure_default (band, exposure)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER exposure_rule_only_tightens BEFORE INSERT ON exposure_rule
WHEN EXISTS (SELECT 1 FROM exposure_default AS d WHERE d.band = NEW.band AND d.exposure = NEW.exposure
             AND (NEW.clearance < d.clearance OR NEW.persons < d.persons))
BEGIN SELECT RAISE(ABORT, 'clearance: the risk table may be tightened, never loosened below its default'); END;
CREATE TRIGGER exposure_rule_stays_tight BEFORE UPDATE ON exposure_rule
WHEN EXISTS (SELECT 1 FROM exposure_default AS d WHERE d.band = NEW.band AND d.exposure = NEW.exposure
             AND (NEW.clearance < d.clearance OR NEW.persons < d.persons))
BEGIN SELECT RAISE(ABORT, 'clearance: the risk table may be tightened, never loosened below its default'); END;

CREATE TABLE clearance (
    id INTEGER PRIMARY KEY,
    member_id INTEGER NOT NULL REFERENCES member (id),
    level INTEGER NOT NULL CHECK (level BETWEEN 1 AND 3),
    granted_by INTEGER NOT NULL REFERENCES member (id),
    -- Who assessed, when that is somebody outside the house: only while nobody here holds the level.
    outside_assessor TEXT NOT NULL DEFAULT '',
    evidence TEXT NOT NULL CONSTRAINT clearance_has_evidence CHECK (length(evidence) BETWEEN 1 AND 600),
    valid_from TEXT NOT NULL,
    valid_until TEXT NOT NULL,
    granted_at TEXT NOT NULL,
    withdrawn_at TEXT,
    withdrawn_by INTEGER REFERENCES member (id),
    CONSTRAINT clearance_ends_after_start CHECK (valid_until >= valid_from),
    CONSTRAINT clearance_ends_within_two_years CHECK (valid_until <= date(valid_from, '+2 years')),
    CONSTRAINT clearance_withdrawn_by_somebody CHECK ((withdrawn_at IS NULL) = (withdrawn_by IS NULL))
) STRICT;
CREATE INDEX clearance_by_member ON clearance (member_id, level, valid_until);
-- A clearance can only be withdrawn, once; a new assessment is a new row.
CREATE TRIGGER clearance_keeps BEFORE UPDATE ON clearance
WHEN OLD.withdrawn_at IS NOT NULL OR NEW.withdrawn_at IS NULL OR NEW.id <> OLD.id OR NEW.member_id <> OLD.member_id OR NEW.level <> OLD.level
  OR NEW.granted_by <> OLD.granted_by OR NEW.outside_assessor <> OLD.outside_assessor OR NEW.evidence <> OLD.evidence
  OR NEW.valid_from <> OLD.valid_from OR NEW.valid_until <> OLD.valid_until OR NEW.granted_at <> OLD.granted_at
BEGIN SELECT RAISE(ABORT, 'clearance: it may be withdrawn, and is never changed otherwise'); END;
CREATE TRIGGER clearance_loses_none BEFORE DELETE ON clearance BEGIN SELECT RAISE(ABORT, 'clearances are never removed'); END;

CREATE TABLE incident (
    id INTEGER PRIMARY KEY,
    kind TEXT NOT NULL CHECK (kind IN ('escape', 'bite', 'setae', 'near-miss')),
    member_id INTEGER NOT NULL REFERENCES member (id),
    animal_id INTEGER REFERENCES animal (id),
    cohort_id INTEGER REFERENCES cohort (id),
    duty_id INTEGER REFERENCES duty (id),
    at TEXT NOT NULL,
    day TEXT NOT NULL
) STRICT;
CREATE INDEX incident_by_day ON incident (day);
CREATE TRIGGER incident_keeps BEFORE UPDATE ON incident BEGIN SELECT RAISE(ABORT, 'incidents are never changed'); END;
CREATE TRIGGER incident_loses_none BEFORE DELETE ON incident BEGIN SELECT RAISE(ABORT, 'incidents are never removed'); END;

-- What was added to an incident later: activity, protective wear, symptoms with times, who was called, outcome, follow-up.
CREATE TABLE incident_note (
    id INTEGER PRIMARY KEY,
    incident_id INTEGER NOT NULL REFERENCES incident (id),
    topic TEXT NOT NULL CHECK (topic IN ('activity', 'protection', 'symptoms', 'called', 'outcome', 'follow-up', 'review')),
    text TEXT NOT NULL CONSTRAINT incident_note_length CHECK (length(text) BETWEEN 1 AND 2000),
    member_id INTEGER NOT NULL REFERENCES member (id),
    at TEXT NOT NULL
) STRICT;
CREATE INDEX incident_note_by_incident ON incident_note (incident_id, id);
CREATE TRIGGER incident_note_keeps BEFORE UPDATE ON incident_note BEGIN SELECT RAISE(ABORT, 'incident notes are never changed'); END;
CREATE TRIGGER incident_note_loses_none BEFORE DELETE ON incident_note BEGIN SELECT RAISE(ABORT, 'incident notes are never removed'); END;

-- A person's clearances rest from an incident until a lead's review.
CREATE TABLE suspension (
    id INTEGER PRIMARY KEY,
    member_id INTEGER NOT NULL REFERENCES member (id),
    incident_id INTEGER NOT NULL REFERENCES incident (id),
    since TEXT NOT NULL,
    lifted_at TEXT,
    lifted_by INTEGER REFERENCES member (id),
    CONSTRAINT suspension_not_lifted_by_oneself CHECK (lifted_by IS NULL OR lifted_by <> member_id)
) STRICT;
CREATE INDEX suspension_open ON suspension (member_id) WHERE lifted_at IS NULL;
CREATE INDEX suspension_by_incident ON suspension (incident_id);
CREATE TRIGGER suspension_loses_none BEFORE DELETE ON suspension BEGIN SELECT RAISE(ABORT, 'suspensions are never removed'); END;
CREATE TRIGGER suspension_keeps BEFORE UPDATE ON suspension
WHEN OLD.lifted_at IS NOT NULL OR NEW.id <> OLD.id OR NEW.member_id <> OLD.member_id OR NEW.incident_id <> OLD.incident_id OR NEW.since <> OLD.since
BEGIN SELECT RAISE(ABORT, 'a suspension may be lifted, and is never changed otherwise'); END;
-- A lead or an owner lifts it, and says why in the incident's review.
CREATE TRIGGER suspension_lifted_by_review BEFORE UPDATE OF lifted_at ON suspension BEGIN
    SELECT RAISE(ABORT, 'clearance: a lead or an owner reviews an incident')
    WHERE NOT EXISTS (SELECT 1 FROM member WHERE id = NEW.lifted_by AND (is_lead = 1 OR is_owner = 1) AND disabled_at IS NULL);
    SELECT RAISE(ABORT, 'clearance: an incident is reviewed with a note')
    WHERE NOT EXISTS (SELECT 1 FROM incident_note WHERE incident_id = NEW.incident_id AND topic = 'review' AND member_id = NEW.lifted_by);
END;

-- An incident with the names that pages show.
CREATE VIEW incident_now AS
SELECT incident.id, incident.kind, incident.member_id, member.name AS member_name, incident.animal_id, incident.cohort_id, incident.duty_id,
       COALESCE(animal.tag, cohort.code) AS label, species.accepted_name AS species, species.venom, species.world, incident.at, incident.day,
       suspension.lifted_at AS reviewed_at, reviewer.name AS reviewed_by_name
FROM incident
JOIN member ON member.id = incident.member_id
LEFT JOIN animal ON animal.id = incident.animal_id
LEFT JOIN cohort ON cohort.id = incident.cohort_id
LEFT JOIN species ON species.id = COALESCE(animal.species_id, cohort.species_id)
LEFT JOIN suspension ON suspension.incident_id = incident.id
LEFT JOIN member AS reviewer ON reviewer.id = suspension.lifted_by;

-- Clearances that count, whatever the day: not withdrawn, and the person neither suspended nor disabled.
CREATE VIEW clearance_standing AS
SELECT clearance.* FROM clearance JOIN member ON member.id = clearance.member_id
WHERE withdrawn_at IS NULL AND member.disabled_at IS NULL
  AND NOT EXISTS (SELECT 1 FROM suspension WHERE suspension.member_id = clearance.member_id AND lifted_at IS NULL);

-- An assessor grants no more than they hold themselves, and never to themselves. An owner may record an outside
-- assessment while nobody in the house holds that level.
CREATE TRIGGER clearance_by_assessor BEFORE INSERT ON clearance BEGIN
    SELECT RAISE(ABORT, 'clearance: the assessor does not hold this level')
    WHERE NEW.outside_assessor = '' AND NOT EXISTS (
        SELECT 1 FROM clearance_standing AS c WHERE c.member_id = NEW.granted_by AND c.level >= NEW.level
          AND c.valid_from <= NEW.valid_from AND c.valid_until >= NEW.valid_from);
    SELECT RAISE(ABORT, 'clearance: nobody assesses themselves')
    WHERE NEW.outside_assessor = '' AND NEW.granted_by = NEW.member_id;
    SELECT RAISE(ABORT, 'clearance: somebody in the house holds this level and can assess')
    WHERE NEW.outside_assessor <> '' AND EXISTS (
        SELECT 1 FROM clearance_standing AS c WHERE c.level >= NEW.level
          AND c.valid_from <= NEW.valid_from AND c.valid_until >= NEW.valid_from);
    SELECT RAISE(ABORT, 'clearance: an owner records an outside assessment')
    WHERE NEW.outside_assessor <> '' AND NOT EXISTS (SELECT 1 FROM member WHERE id = NEW.granted_by AND is_owner = 1 AND disabled_at IS NULL);
END;

-- Nobody is given, and nobody signs, a duty above the clearance that they hold on that day.
CREATE TRIGGER duty_assigned_to_cleared BEFORE UPDATE OF assigned_to ON duty
WHEN NEW.assigned_to IS NOT NULL AND NEW.clearance > 0 AND NOT EXISTS (
    SELECT 1 FROM clearance_standing AS c WHERE c.member_id = NEW.assigned_to AND c.level >= NEW.clearance
      AND c.valid_from <= NEW.assigned_on AND c.valid_until >= NEW.assigned_on)
BEGIN SELECT RAISE(ABORT, 'clearance: this person is not cleared for this duty'); END;
CREATE TRIGGER duty_born_unassigned BEFORE INSERT ON duty WHEN NEW.assigned_to IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'a duty is planned first and assigned after'); END;
-- When a band rises, a duty leaves the hands of those who are no longer cleared for it.
CREATE TRIGGER duty_band_rises AFTER UPDATE OF clearance ON duty
WHEN NEW.state = 'open' AND NEW.assigned_to IS NOT NULL AND NEW.clearance > OLD.clearance AND NOT EXISTS (
    SELECT 1 FROM clearance_standing AS c WHERE c.member_id = NEW.assigned_to AND c.level >= NEW.clearance
      AND c.valid_from <= NEW.assigned_on AND c.valid_until >= NEW.assigned_on)
BEGIN UPDATE duty SET assigned_to = NULL, assigned_on = NULL WHERE id = NEW.id; END;

-- Duties leave the hands of whoever is suspended, or whose clearance is withdrawn.
CREATE TRIGGER suspension_frees_duties AFTER INSERT ON suspension BEGIN
    UPDATE duty SET assigned_to = NULL, assigned_on = NULL WHERE state = 'open' AND assigned_to = NEW.member_id AND clearance > 0;
END;
CREATE TRIGGER withdrawal_frees_duties AFTER UPDATE OF withdrawn_at ON clearance BEGIN
    UPDATE duty SET assigned_to = NULL, assigned_on = NULL
    WHERE state = 'open' AND assigned_to = NEW.member_id AND clearance > 0 AND NOT EXISTS (
        SELECT 1 FROM clearance_standing AS c WHERE c.member_id = duty.assigned_to AND c.level >= duty.clearance
          AND c.valid_from <= duty.assigned_on AND c.valid_until >= duty.assigned_on);
END;

CREATE TRIGGER signoff_by_cleared BEFORE INSERT ON signoff
WHEN NEW.corrects_id IS NULL AND NEW.outcome NOT IN ('could-not') BEGIN
    SELECT RAISE(ABORT, 'clearance: this person is not cleared for this duty')
    WHERE MAX(NEW.clearance, (SELECT clearance FROM duty WHERE id = NEW.duty_id)) > 0 AND NOT EXISTS (
        SELECT 1 FROM clearance_standing AS c WHERE c.member_id = NEW.member_id
          AND c.level >= MAX(NEW.clearance, (SELECT clearance FROM duty WHERE id = NEW.duty_id))
          AND c.valid_from <= NEW.day AND c.valid_until >= NEW.day);
    SELECT RAISE(ABORT, 'clearance: this duty takes two people')
    WHERE NEW.outcome NOT IN ('found-dead', 'threat') AND NEW.second_id IS NULL
      AND MAX(NEW.persons, (SELECT persons FROM duty WHERE id = NEW.duty_id)) >= 2;
    SELECT RAISE(ABORT, 'signoff: this duty is held')
    WHERE NEW.outcome NOT IN ('found-dead', 'threat') AND (SELECT held FROM duty WHERE id = NEW.duty_id) IS NOT NULL;
    SELECT RAISE(ABORT, 'signoff: the checklist is not complete')
    WHERE NEW.outcome = 'done' AND NEW.checklist = ''
      AND EXISTS (SELECT 1 FROM duty WHERE id = NEW.duty_id AND exposure = 'hands-in' AND band = 3);
END;
CREATE TRIGGER signoff_of_open_duty BEFORE INSERT ON signoff
WHEN NEW.corrects_id IS NULL AND (SELECT state FROM duty WHERE id = NEW.duty_id) <> 'open'
BEGIN SELECT RAISE(ABORT, 'signoff: this duty is not open'); END;
CREATE TRIGGER signoff_closes_duty AFTER INSERT ON signoff WHEN NEW.corrects_id IS NULL
BEGIN UPDATE duty SET state = 'done' WHERE id = NEW.duty_id AND state = 'open'; END;
