-- Risky rehouses: planned ones, the house's own lines of the list, sizes that were known to break a rule, supervised
-- practice and what it takes to be cleared, the versioned text on safe work, and one rule for who may do what.

-- A planned rehouse: two people (or one) and a time. Its times are minutes of the local day by the clock on the wall.
CREATE TABLE rehouse_plan (
    id INTEGER PRIMARY KEY,
    duty_id INTEGER NOT NULL REFERENCES duty (id),
    first_id INTEGER NOT NULL REFERENCES member (id),
    second_id INTEGER REFERENCES member (id),
    day TEXT NOT NULL,
    starts INTEGER NOT NULL CONSTRAINT rehouse_plan_starts_range CHECK (starts BETWEEN 0 AND 1439),
    minutes INTEGER NOT NULL CONSTRAINT rehouse_plan_minutes_range CHECK (minutes BETWEEN 5 AND 480),
    made_by INTEGER NOT NULL REFERENCES member (id),
    made_at TEXT NOT NULL,
    -- How it ended; null while it stands.
    ended TEXT CHECK (ended IN ('done', 'broken-off', 'no-longer-due', 'clearance', 'given-away', 'asks-more', 'cancelled', 'passed')),
    -- Null where the book only knows that it did, such as for a duty that is no longer due.
    ended_at TEXT,
    ended_by INTEGER REFERENCES member (id),
    ended_why TEXT NOT NULL DEFAULT '',
    CONSTRAINT rehouse_plan_of_two_people CHECK (second_id IS NULL OR second_id <> first_id),
    CONSTRAINT rehouse_plan_within_the_day CHECK (starts + minutes <= 1440),
    CONSTRAINT rehouse_plan_cancelled_by CHECK (ended IS NOT 'cancelled' OR (ended_by IS NOT NULL AND ended_at IS NOT NULL))
) STRICT;
CREATE UNIQUE INDEX rehouse_plan_standing ON rehouse_plan (duty_id) WHERE ended IS NULL;
CREATE INDEX rehouse_plan_by_duty ON rehouse_plan (duty_id, id);
CREATE INDEX rehouse_plan_by_day ON rehouse_plan (day, starts) WHERE ended IS NULL;
CREATE TRIGGER rehouse_plan_keeps BEFORE UPDATE ON rehouse_plan
WHEN OLD.ended IS NOT NULL OR NEW.ended IS NULL OR NEW.id IS NOT OLD.id OR NEW.duty_id IS NOT OLD.duty_id OR NEW.first_id IS NOT OLD.first_id
  OR NEW.second_id IS NOT OLD.second_id OR NEW.day IS NOT OLD.day OR NEW.starts IS NOT OLD.starts OR NEW.minutes IS NOT OLD.minutes
  OR NEW.made_by IS NOT OLD.made_by OR NEW.made_at IS NOT OLD.made_at
BEGIN SELECT RAISE(ABORT, 'plan: it may end once, and is never changed otherwise'); END;
CREATE TRIGGER rehouse_plan_loses_none BEFORE DELETE ON rehouse_plan BEGIN SELECT RAISE(ABORT, 'plans are never removed'); END;

-- Nobody is reserved above their clearance of that day, nor twice at a time.
CREATE TRIGGER rehouse_plan_holds BEFORE INSERT ON rehouse_plan BEGIN
    SELECT RAISE(ABORT, 'plan: this rehouse is no longer due')
    WHERE NOT EXISTS (SELECT 1 FROM duty WHERE id = NEW.duty_id AND kind = 'rehouse' AND state = 'open');
    SELECT RAISE(ABORT, 'plan: this rehouse takes two people')
    WHERE NEW.second_id IS NULL AND (SELECT persons FROM duty WHERE id = NEW.duty_id) >= 2;
    SELECT RAISE(ABORT, 'clearance: this person is not cleared for this rehouse on that day')
    WHERE (SELECT clearance FROM duty WHERE id = NEW.duty_id) > 0 AND NOT EXISTS (
        SELECT 1 FROM clearance_standing AS c WHERE c.member_id = NEW.first_id
          AND c.level >= (SELECT clearance FROM duty WHERE id = NEW.duty_id) AND c.valid_from <= NEW.day AND c.valid_until >= NEW.day);
    SELECT RAISE(ABORT, 'clearance: this person can not be the second for this rehouse on that day')
    WHERE NEW.second_id IS NOT NULL AND (SELECT clearance FROM duty WHERE id = NEW.duty_id) > 1 AND NOT EXISTS (
        SELECT 1 FROM clearance_standing AS c WHERE c.member_id = NEW.second_id
          AND c.level >= (SELECT clearance FROM duty WHERE id = NEW.duty_id) - 1 AND c.valid_from <= NEW.day AND c.valid_until >= NEW.day);
    SELECT RAISE(ABORT, 'clearance: this person does not look after animals here')
    WHERE EXISTS (SELECT 1 FROM member WHERE id IN (NEW.first_id, NEW.second_id)
                  AND (disabled_at IS NOT NULL OR is_keeper + is_lead + is_owner = 0));
    SELECT RAISE(ABORT, 'clearance: the clearances of one of these people rest until an incident is reviewed')
    WHERE (SELECT clearance FROM duty WHERE id = NEW.duty_id) > 0 AND EXISTS (SELECT 1 FROM suspension WHERE member_id IN (NEW.first_id, NEW.second_id) AND lifted_at IS NULL);
    SELECT RAISE(ABORT, 'plan: one of these people is reserved for another rehouse at that time')
    WHERE EXISTS (SELECT 1 FROM rehouse_plan AS other WHERE other.ended IS NULL AND other.day = NEW.day
        AND other.starts < NEW.starts + NEW.minutes AND NEW.starts < other.starts + other.minutes
        AND (other.first_id IN (NEW.first_id, COALESCE(NEW.second_id, NEW.first_id))
          OR other.second_id IN (NEW.first_id, COALESCE(NEW.second_id, NEW.first_id))));
END;

-- A plan ends with its duty, ...
CREATE TRIGGER rehouse_plan_ends_with_duty AFTER UPDATE OF state ON duty WHEN NEW.state <> 'open' AND OLD.state = 'open' BEGIN
    UPDATE rehouse_plan SET
        ended = CASE WHEN NEW.state = 'dropped' THEN 'no-longer-due'
                     WHEN (SELECT outcome FROM signoff WHERE duty_id = NEW.id AND corrects_id IS NULL) = 'done' THEN 'done' ELSE 'broken-off' END,
        ended_at = (SELECT at FROM signoff WHERE duty_id = NEW.id AND corrects_id IS NULL),
        ended_by = (SELECT member_id FROM signoff WHERE duty_id = NEW.id AND corrects_id IS NULL)
    WHERE duty_id = NEW.id AND ended IS NULL;
END;
-- (whether one of a plan's people may no longer take part in it)
CREATE VIEW rehouse_plan_uncleared AS
SELECT plan.id AS plan_id FROM rehouse_plan AS plan JOIN duty ON duty.id = plan.duty_id
WHERE plan.ended IS NULL AND (
    EXISTS (SELECT 1 FROM member WHERE id IN (plan.first_id, plan.second_id) AND disabled_at IS NOT NULL)
    OR (duty.clearance > 0 AND EXISTS (
        SELECT 1 FROM suspension WHERE member_id IN (plan.first_id, plan.second_id) AND lifted_at IS NULL))
    OR (duty.clearance > 0 AND NOT EXISTS (
        SELECT 1 FROM clearance_standing AS c WHERE c.member_id = plan.first_id AND c.level >= duty.clearance
          AND c.valid_from <= plan.day AND c.valid_until >= plan.day))
    OR (duty.clearance > 1 AND plan.second_id IS NOT NULL AND NOT EXISTS (
        SELECT 1 FROM clearance_standing AS c WHERE c.member_id = plan.second_id AND c.level >= duty.clearance - 1
          AND c.valid_from <= plan.day AND c.valid_until >= plan.day)));
-- ... when the duty leaves the hands of its people, because one of them may no longer or because it went to others, ...
CREATE TRIGGER rehouse_plan_ends_with_first AFTER UPDATE OF assigned_to ON duty WHEN NEW.assigned_to IS NOT OLD.assigned_to BEGIN
    UPDATE rehouse_plan SET ended = CASE WHEN id IN (SELECT plan_id FROM rehouse_plan_uncleared) THEN 'clearance' ELSE 'given-away' END
    WHERE duty_id = NEW.id AND ended IS NULL AND first_id IS NOT NEW.assigned_to;
END;
CREATE TRIGGER rehouse_plan_ends_with_second AFTER UPDATE OF second_to ON duty WHEN NEW.second_to IS NOT OLD.second_to BEGIN
    UPDATE rehouse_plan SET ended = CASE WHEN id IN (SELECT plan_id FROM rehouse_plan_uncleared) THEN 'clearance' ELSE 'given-away' END
    WHERE duty_id = NEW.id AND ended IS NULL AND second_id IS NOT NEW.second_to;
END;
-- ... and when the rehouse asks for one person more than were planned.
CREATE TRIGGER rehouse_plan_ends_with_persons AFTER UPDATE OF persons ON duty WHEN NEW.persons >= 2 AND NEW.persons > OLD.persons BEGIN
    UPDATE rehouse_plan SET ended = 'asks-more' WHERE duty_id = NEW.id AND ended IS NULL AND second_id IS NULL;
END;

-- The second person leaves as the first does: when the duty asks for more, when a clearance goes, when somebody leaves the house.
CREATE TRIGGER duty_band_rises_second AFTER UPDATE OF clearance ON duty
WHEN NEW.state = 'open' AND NEW.second_to IS NOT NULL AND NEW.clearance > OLD.clearance AND NEW.clearance > 1 AND NOT EXISTS (
    SELECT 1 FROM clearance_standing AS c WHERE c.member_id = NEW.second_to AND c.level >= NEW.clearance - 1
      AND c.valid_from <= NEW.assigned_on AND c.valid_until >= NEW.assigned_on)
BEGIN UPDATE duty SET second_to = NULL WHERE id = NEW.id; END;
CREATE TRIGGER withdrawal_frees_second AFTER UPDATE OF withdrawn_at ON clearance BEGIN
    UPDATE duty SET second_to = NULL
    WHERE state = 'open' AND second_to = NEW.member_id AND clearance > 1 AND NOT EXISTS (
        SELECT 1 FROM clearance_standing AS c WHERE c.member_id = duty.second_to AND c.level >= duty.clearance - 1
          AND c.valid_from <= duty.assigned_on AND c.valid_until >= duty.assigned_on);
END;
CREATE TRIGGER leaving_frees_duties AFTER UPDATE OF disabled_at ON member WHEN NEW.disabled_at IS NOT NULL AND OLD.disabled_at IS NULL BEGIN
    UPDATE duty SET assigned_to = NULL, assigned_on = NULL WHERE state = 'open' AND assigned_to = NEW.id;
    UPDATE duty SET second_to = NULL WHERE state = 'open' AND second_to = NEW.id;
END;

-- Clearance is one half of who may; looking after animals here is the other.
CREATE TRIGGER duty_assigned_to_keeper BEFORE UPDATE OF assigned_to ON duty
WHEN NEW.assigned_to IS NOT NULL AND NEW.assigned_to IS NOT OLD.assigned_to AND NOT EXISTS (
    SELECT 1 FROM member WHERE id = NEW.assigned_to AND disabled_at IS NULL AND is_keeper + is_lead + is_owner > 0)
BEGIN SELECT RAISE(ABORT, 'clearance: this person does not look after animals here'); END;
CREATE TRIGGER duty_second_is_keeper BEFORE UPDATE OF second_to ON duty
WHEN NEW.second_to IS NOT NULL AND NEW.second_to IS NOT OLD.second_to BEGIN
    SELECT RAISE(ABORT, 'clearance: this person does not look after animals here')
    WHERE NOT EXISTS (SELECT 1 FROM member WHERE id = NEW.second_to AND disabled_at IS NULL AND is_keeper + is_lead + is_owner > 0);
    SELECT RAISE(ABORT, 'clearance: the clearances of this person rest until an incident is reviewed')
    WHERE NEW.clearance > 0 AND EXISTS (SELECT 1 FROM suspension WHERE member_id = NEW.second_to AND lifted_at IS NULL);
END;
-- The second person of a sign-off is held to the same rule as the one who is named before.
CREATE TRIGGER signoff_by_people_who_may BEFORE INSERT ON signoff
WHEN NEW.corrects_id IS NULL AND NEW.outcome <> 'could-not' BEGIN
    SELECT RAISE(ABORT, 'clearance: this person does not look after animals here')
    WHERE EXISTS (SELECT 1 FROM member WHERE id IN (NEW.member_id, NEW.second_id)
                  AND (disabled_at IS NOT NULL OR is_keeper + is_lead + is_owner = 0));
    SELECT RAISE(ABORT, 'clearance: the clearances of the second person rest until an incident is reviewed')
    WHERE MAX(NEW.clearance, (SELECT clearance FROM duty WHERE id = NEW.duty_id)) > 0
      AND EXISTS (SELECT 1 FROM suspension WHERE member_id = NEW.second_id AND lifted_at IS NULL);
    SELECT RAISE(ABORT, 'clearance: this person can not be the second for this duty')
    WHERE NEW.second_id IS NOT NULL AND MAX(NEW.clearance, (SELECT clearance FROM duty WHERE id = NEW.duty_id)) > 1 AND NOT EXISTS (
        SELECT 1 FROM clearance_standing AS c WHERE c.member_id = NEW.second_id
          AND c.level >= MAX(NEW.clearance, (SELECT clearance FROM duty WHERE id = NEW.duty_id)) - 1
          AND c.valid_from <= NEW.day AND c.valid_until >= NEW.day);
END;

-- What the house adds to the list that is ticked before a rehouse.
CREATE TABLE checklist_line (
    id INTEGER PRIMARY KEY,
    text TEXT NOT NULL CONSTRAINT checklist_line_length CHECK (length(text) BETWEEN 3 AND 120 AND instr(text, char(10)) = 0),
    -- It stands on the list of rehouses of this band and above.
    from_band INTEGER NOT NULL CHECK (from_band BETWEEN 0 AND 3),
    added_by INTEGER REFERENCES member (id),
    added_at TEXT NOT NULL,
    retired_by INTEGER REFERENCES member (id),
    retired_at TEXT
) STRICT;
CREATE UNIQUE INDEX checklist_line_standing ON checklist_line (text) WHERE retired_at IS NULL;
CREATE TRIGGER checklist_line_keeps BEFORE UPDATE ON checklist_line
WHEN OLD.retired_at IS NOT NULL OR NEW.retired_at IS NULL OR NEW.id IS NOT OLD.id OR NEW.text IS NOT OLD.text
  OR NEW.from_band IS NOT OLD.from_band OR NEW.added_by IS NOT OLD.added_by OR NEW.added_at IS NOT OLD.added_at
BEGIN SELECT RAISE(ABORT, 'lines are retired, never changed'); END;
CREATE TRIGGER checklist_line_loses_none BEFORE DELETE ON checklist_line BEGIN SELECT RAISE(ABORT, 'lines are retired, never removed'); END;
CREATE TRIGGER signoff_has_house_lines BEFORE INSERT ON signoff
WHEN NEW.corrects_id IS NULL AND NEW.outcome = 'done' AND EXISTS (
    SELECT 1 FROM duty JOIN checklist_line AS line ON line.retired_at IS NULL AND line.from_band <= duty.band
    WHERE duty.id = NEW.duty_id AND duty.kind = 'rehouse'
      AND instr(char(10) || NEW.checklist || char(10), char(10) || line.text || char(10)) = 0)
BEGIN SELECT RAISE(ABORT, 'signoff: the checklist is not complete'); END;

-- A new enclosure that breaks a rule of size, and why it was used all the same.
CREATE TABLE size_exception (
    signoff_id INTEGER PRIMARY KEY REFERENCES signoff (id),
    broken TEXT NOT NULL CONSTRAINT size_exception_names_rule CHECK (length(broken) > 0),
    reason TEXT NOT NULL CONSTRAINT size_exception_has_reason CHECK (length(reason) BETWEEN 1 AND 300)
) STRICT;
CREATE TRIGGER size_exception_keeps BEFORE UPDATE ON size_exception BEGIN SELECT RAISE(ABORT, 'these are never changed'); END;
CREATE TRIGGER size_exception_loses_none BEFORE DELETE ON size_exception BEGIN SELECT RAISE(ABORT, 'these are never removed'); END;

-- Supervised rehouses.
CREATE TABLE assessment (
    id INTEGER PRIMARY KEY,
    member_id INTEGER NOT NULL REFERENCES member (id),
    assessor_id INTEGER NOT NULL REFERENCES member (id),
    band INTEGER NOT NULL CHECK (band BETWEEN 1 AND 3),
    outcome TEXT NOT NULL CHECK (outcome IN ('passed', 'more-practice', 'stopped')),
    day TEXT NOT NULL,
    note TEXT NOT NULL DEFAULT '',
    -- The rehouse that was supervised, when the book has it.
    signoff_id INTEGER REFERENCES signoff (id),
    recorded_by INTEGER NOT NULL REFERENCES member (id),
    at TEXT NOT NULL,
    CONSTRAINT assessment_of_another CHECK (assessor_id <> member_id),
    CONSTRAINT assessment_once_a_rehouse UNIQUE (signoff_id, member_id)
) STRICT;
CREATE INDEX assessment_by_member ON assessment (member_id, band, day);
CREATE TRIGGER assessment_keeps BEFORE UPDATE ON assessment BEGIN SELECT RAISE(ABORT, 'assessments are never changed'); END;
CREATE TRIGGER assessment_loses_none BEFORE DELETE ON assessment BEGIN SELECT RAISE(ABORT, 'assessments are never removed'); END;
CREATE TRIGGER assessment_by_assessor BEFORE INSERT ON assessment BEGIN
    SELECT RAISE(ABORT, 'clearance: the assessor does not hold this level')
    WHERE NOT EXISTS (SELECT 1 FROM clearance_standing AS c WHERE c.member_id = NEW.assessor_id AND c.level >= NEW.band
                      AND c.valid_from <= NEW.day AND c.valid_until >= NEW.day);
    SELECT RAISE(ABORT, 'clearance: an assessment is recorded by the assessor or with a rehouse that both signed')
    WHERE NEW.recorded_by <> NEW.assessor_id AND NEW.signoff_id IS NULL;
    SELECT RAISE(ABORT, 'clearance: these two did not sign this rehouse together')
    WHERE NEW.signoff_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM signoff WHERE id = NEW.signoff_id
        AND ((member_id = NEW.member_id AND second_id = NEW.assessor_id) OR (member_id = NEW.assessor_id AND second_id = NEW.member_id)));
END;
-- An assessment that was entered by mistake is struck out by a later entry, with its reason.
CREATE TABLE assessment_strike (
    assessment_id INTEGER PRIMARY KEY REFERENCES assessment (id),
    reason TEXT NOT NULL CONSTRAINT assessment_strike_has_reason CHECK (length(reason) BETWEEN 1 AND 300),
    member_id INTEGER NOT NULL REFERENCES member (id),
    at TEXT NOT NULL
) STRICT;
CREATE TRIGGER assessment_strike_keeps BEFORE UPDATE ON assessment_strike BEGIN SELECT RAISE(ABORT, 'these are never changed'); END;
CREATE TRIGGER assessment_strike_loses_none BEFORE DELETE ON assessment_strike BEGIN SELECT RAISE(ABORT, 'these are never removed'); END;
CREATE VIEW assessment_standing AS
SELECT assessment.* FROM assessment
WHERE NOT EXISTS (SELECT 1 FROM assessment_strike WHERE assessment_strike.assessment_id = assessment.id);

-- How many supervised rehouses of a band must have been passed before a clearance is granted: common practice, no source.
CREATE TABLE practice_rule (
    level INTEGER PRIMARY KEY CHECK (level BETWEEN 1 AND 3),
    least INTEGER NOT NULL,
    passes INTEGER NOT NULL,
    CONSTRAINT practice_rule_range CHECK (passes BETWEEN least AND 20)
) STRICT;
INSERT INTO practice_rule (level, least, passes) VALUES (1, 1, 1), (2, 2, 2), (3, 3, 3);
CREATE TRIGGER practice_rule_keeps_least BEFORE UPDATE ON practice_rule WHEN NEW.least IS NOT OLD.least OR NEW.level IS NOT OLD.level
BEGIN SELECT RAISE(ABORT, 'the least numbers are never changed'); END;
CREATE TRIGGER practice_rule_loses_none BEFORE DELETE ON practice_rule BEGIN SELECT RAISE(ABORT, 'the least numbers are never removed'); END;

-- The text on safe work, by version, and who has read which.
CREATE TABLE safe_work_text (
    version INTEGER PRIMARY KEY,
    text TEXT NOT NULL CONSTRAINT safe_work_text_length CHECK (length(text) BETWEEN 20 AND 6000),
    -- Nobody: it came with the program.
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL
) STRICT;
CREATE TRIGGER safe_work_text_keeps BEFORE UPDATE ON safe_work_text BEGIN SELECT RAISE(ABORT, 'texts are never changed'); END;
CREATE TRIGGER safe_work_text_loses_none BEFORE DELETE ON safe_work_text BEGIN SELECT RAISE(ABORT, 'texts are never removed'); END;
CREATE TABLE safe_work_read (
    member_id INTEGER NOT NULL REFERENCES member (id),
    version INTEGER NOT NULL REFERENCES safe_work_text (version),
    at TEXT NOT NULL,
    PRIMARY KEY (member_id, version)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER safe_work_read_keeps BEFORE UPDATE ON safe_work_read BEGIN SELECT RAISE(ABORT, 'these are never changed'); END;
CREATE TRIGGER safe_work_read_loses_none BEFORE DELETE ON safe_work_read BEGIN SELECT RAISE(ABORT, 'these are never removed'); END;
-- Common practice, no source.
INSERT INTO safe_work_text (version, text, at) VALUES (1,
'Read the band and the cautions before every lid. If you are not sure, close it and ask.
Never alone with a dangerous animal and hands in: two people, one of them cleared for it, both in the room.
The door is shut and its gap sealed. Work inside a larger tub, with the catch cup, the long forceps and the brush within reach.
No bare hand inside the box of a risky or a dangerous animal. No free-handling for show, ever.
A threat posture, a run or a strike: stop, close the lid, leave the animal alone, and record it. Breaking off is always right.
Against setae: goggles and covered skin. Never touch your face before you have washed your hands.
An escape, a bite, setae in the eye, or a near miss: read the emergency page first, call whom it names, then record it.',
'2026-11-25T00:00:00+00:00');

-- A clearance follows practice and reading. What somebody outside assessed does not: nobody here could have supervised it.
DROP TRIGGER clearance_by_assessor;
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
    SELECT RAISE(ABORT, 'clearance: supervised rehouses are still missing')
    WHERE NEW.outside_assessor = '' AND
        (SELECT COUNT(*) FROM assessment_standing AS a WHERE a.member_id = NEW.member_id AND a.band >= NEW.level AND a.outcome = 'passed'
           AND a.day BETWEEN date(NEW.valid_from, '-730 days') AND NEW.valid_from)
        < (SELECT passes FROM practice_rule WHERE level = NEW.level);
    SELECT RAISE(ABORT, 'clearance: the current text on safe work has not been read')
    WHERE NEW.outside_assessor = ''
      AND NOT EXISTS (SELECT 1 FROM safe_work_read WHERE member_id = NEW.member_id AND version = (SELECT MAX(version) FROM safe_work_text));
END;
