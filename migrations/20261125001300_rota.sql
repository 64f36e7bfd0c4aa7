-- Who works when: each person's usual week from a day on, and the days on which they are away.

-- A week replaces the one before it from its first day on; of two with the same first day the later entry counts.
CREATE TABLE work_pattern (
    id INTEGER PRIMARY KEY,
    member_id INTEGER NOT NULL REFERENCES member (id),
    valid_from TEXT NOT NULL,
    entered_by INTEGER REFERENCES member (id),
    entered_at TEXT NOT NULL
) STRICT;
CREATE INDEX work_pattern_by_member ON work_pattern (member_id, valid_from, id);

-- The days of a week on which somebody works; on a weekday that is not here they do not.
CREATE TABLE work_day (
    pattern_id INTEGER NOT NULL REFERENCES work_pattern (id),
    -- 1 Monday to 7 Sunday.
    weekday INTEGER NOT NULL CHECK (weekday BETWEEN 1 AND 7),
    -- Minutes of the local day, by the clock on the wall.
    starts INTEGER NOT NULL CONSTRAINT work_day_starts_range CHECK (starts BETWEEN 0 AND 1439),
    ends INTEGER NOT NULL CONSTRAINT work_day_ends_range CHECK (ends BETWEEN 1 AND 1440),
    -- Of these, minutes for duties.
    minutes INTEGER NOT NULL,
    PRIMARY KEY (pattern_id, weekday),
    CONSTRAINT work_day_ends_later CHECK (ends > starts),
    CONSTRAINT work_day_holds_minutes CHECK (minutes BETWEEN 0 AND ends - starts)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER work_pattern_keeps BEFORE UPDATE ON work_pattern BEGIN SELECT RAISE(ABORT, 'working weeks are never changed'); END;
CREATE TRIGGER work_pattern_loses_none BEFORE DELETE ON work_pattern BEGIN SELECT RAISE(ABORT, 'working weeks are never removed'); END;
CREATE TRIGGER work_day_keeps BEFORE UPDATE ON work_day BEGIN SELECT RAISE(ABORT, 'working weeks are never changed'); END;
CREATE TRIGGER work_day_loses_none BEFORE DELETE ON work_day BEGIN SELECT RAISE(ABORT, 'working weeks are never removed'); END;

CREATE TABLE absence (
    id INTEGER PRIMARY KEY,
    member_id INTEGER NOT NULL REFERENCES member (id),
    first_day TEXT NOT NULL,
    last_day TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('leave', 'ill', 'training', 'other')),
    note TEXT NOT NULL DEFAULT '',
    entered_by INTEGER REFERENCES member (id),
    entered_at TEXT NOT NULL,
    cancelled_by INTEGER REFERENCES member (id),
    cancelled_at TEXT,
    CONSTRAINT absence_ends_later CHECK (last_day >= first_day),
    CONSTRAINT absence_length CHECK (julianday(last_day) - julianday(first_day) <= 365),
    CONSTRAINT absence_cancelled_by CHECK (cancelled_by IS NULL OR cancelled_at IS NOT NULL)
) STRICT;
CREATE INDEX absence_by_member ON absence (member_id, last_day);
CREATE INDEX absence_by_day ON absence (last_day, first_day) WHERE cancelled_at IS NULL;
CREATE TRIGGER absence_overlaps_none BEFORE INSERT ON absence
WHEN EXISTS (SELECT 1 FROM absence AS other WHERE other.member_id = NEW.member_id AND other.cancelled_at IS NULL
             AND other.first_day <= NEW.last_day AND other.last_day >= NEW.first_day)
BEGIN SELECT RAISE(ABORT, 'absence: they are away on some of these days already'); END;
-- An absence is cancelled, once; nothing else of it ever changes.
CREATE TRIGGER absence_keeps BEFORE UPDATE ON absence
WHEN OLD.cancelled_at IS NOT NULL OR NEW.cancelled_at IS NULL OR NEW.id IS NOT OLD.id OR NEW.member_id IS NOT OLD.member_id
  OR NEW.first_day IS NOT OLD.first_day OR NEW.last_day IS NOT OLD.last_day OR NEW.kind IS NOT OLD.kind OR NEW.note IS NOT OLD.note
  OR NEW.entered_by IS NOT OLD.entered_by OR NEW.entered_at IS NOT OLD.entered_at
BEGIN SELECT RAISE(ABORT, 'absences are cancelled, never changed'); END;
CREATE TRIGGER absence_loses_none BEFORE DELETE ON absence BEGIN SELECT RAISE(ABORT, 'absences are cancelled, never removed'); END;

-- What became of somebody's duties when they turned out not to be in: to whom each went, or why to nobody.
CREATE TABLE duty_passed_on (
    id INTEGER PRIMARY KEY,
    day TEXT NOT NULL,
    from_member INTEGER NOT NULL REFERENCES member (id),
    duty_id INTEGER NOT NULL REFERENCES duty (id),
    to_member INTEGER REFERENCES member (id),
    -- Why nobody has it, as it stood then; empty when somebody has.
    why TEXT NOT NULL DEFAULT '',
    at TEXT NOT NULL,
    CONSTRAINT passed_on_or_why CHECK ((to_member IS NULL) = (length(why) > 0)),
    CONSTRAINT passed_on_to_another CHECK (to_member IS NOT from_member)
) STRICT;
CREATE INDEX duty_passed_on_by_member ON duty_passed_on (from_member, day);
CREATE INDEX duty_passed_on_of_duty ON duty_passed_on (duty_id);
CREATE TRIGGER duty_passed_on_keeps BEFORE UPDATE ON duty_passed_on BEGIN SELECT RAISE(ABORT, 'what was passed on is never changed'); END;
CREATE TRIGGER duty_passed_on_loses_none BEFORE DELETE ON duty_passed_on BEGIN SELECT RAISE(ABORT, 'what was passed on is never removed'); END;
