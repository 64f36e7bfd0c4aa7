-- The rules that duties are planned by, as figures of each revision of a care profile; how well fed an animal looks; rules
-- set apart for one animal or cohort. Revisions that are there get the figures that were the program's own until now.

ALTER TABLE care_stage ADD COLUMN retry_days INTEGER NOT NULL DEFAULT 2 CHECK (retry_days BETWEEN 1 AND 90);
ALTER TABLE care_stage ADD COLUMN refusals_check INTEGER NOT NULL DEFAULT 4 CHECK (refusals_check BETWEEN 1 AND 50);
ALTER TABLE care_stage ADD COLUMN close_check_days INTEGER NOT NULL DEFAULT 3 CHECK (close_check_days BETWEEN 1 AND 30);
-- In tenths of the longest usual days between moults.
ALTER TABLE care_stage ADD COLUMN look_after_tenths INTEGER NOT NULL DEFAULT 15 CHECK (look_after_tenths BETWEEN 10 AND 50);
ALTER TABLE care_stage ADD COLUMN settle_min_days INTEGER NOT NULL DEFAULT 5 CHECK (settle_min_days BETWEEN 0 AND 60);
ALTER TABLE care_stage ADD COLUMN settle_max_days INTEGER NOT NULL DEFAULT 10 CHECK (settle_max_days BETWEEN settle_min_days AND 60);
ALTER TABLE care_stage ADD COLUMN after_meal_days INTEGER NOT NULL DEFAULT 2 CHECK (after_meal_days BETWEEN 0 AND 30);
-- Null: as long as the fast.
ALTER TABLE care_stage ADD COLUMN after_moult_days INTEGER CHECK (after_moult_days BETWEEN 0 AND 120);
ALTER TABLE care_stage ADD COLUMN obese_skip_days INTEGER NOT NULL DEFAULT 14 CHECK (obese_skip_days BETWEEN 0 AND 180);
-- In tenths of the leg span.
ALTER TABLE care_stage ADD COLUMN length_tenths INTEGER NOT NULL DEFAULT 30 CHECK (length_tenths BETWEEN 10 AND 100);
ALTER TABLE care_stage ADD COLUMN width_tenths INTEGER NOT NULL DEFAULT 20 CHECK (width_tenths BETWEEN 10 AND 100);
ALTER TABLE care_stage ADD COLUMN most_length_tenths INTEGER NOT NULL DEFAULT 80 CHECK (most_length_tenths BETWEEN length_tenths AND 500);
ALTER TABLE care_stage ADD COLUMN fall_gap_tenths INTEGER NOT NULL DEFAULT 15 CHECK (fall_gap_tenths BETWEEN 5 AND 100);

DROP TRIGGER care_stage_keeps;
UPDATE care_stage SET
    retry_days = MIN(MAX((feed_min_days + 1) / 2, 2), 90),
    refusals_check = CASE stage WHEN 'spiderling' THEN 3 WHEN 'juvenile' THEN 4 ELSE 6 END,
    close_check_days = CASE stage WHEN 'spiderling' THEN 2 ELSE 3 END,
    settle_min_days = CASE stage WHEN 'spiderling' THEN 3 WHEN 'juvenile' THEN 5 ELSE 7 END,
    settle_max_days = CASE stage WHEN 'spiderling' THEN 7 WHEN 'juvenile' THEN 10 ELSE 14 END,
    obese_skip_days = CASE stage WHEN 'spiderling' THEN 7 WHEN 'juvenile' THEN 14 ELSE 30 END;
CREATE TRIGGER care_stage_keeps BEFORE UPDATE ON care_stage BEGIN SELECT RAISE(ABORT, 'a care profile revision is never changed'); END;

-- For the whole species. Null: as the house's settings say.
ALTER TABLE care_profile ADD COLUMN threat_open_hours INTEGER CHECK (threat_open_hours BETWEEN 1 AND 168);
ALTER TABLE care_profile ADD COLUMN threat_hands_in_days INTEGER CHECK (threat_hands_in_days BETWEEN 1 AND 60);
ALTER TABLE care_profile ADD COLUMN sac_pulled_days INTEGER NOT NULL DEFAULT 1 CHECK (sac_pulled_days BETWEEN 1 AND 14);
ALTER TABLE care_profile ADD COLUMN sac_with_dam_days INTEGER NOT NULL DEFAULT 7 CHECK (sac_with_dam_days BETWEEN 1 AND 30);
ALTER TABLE care_profile ADD COLUMN sac_turns INTEGER NOT NULL DEFAULT 3 CHECK (sac_turns BETWEEN 0 AND 12);

-- Days without food after a moult, by leg span: each class includes its lower bound.
CREATE TABLE care_fast (
    profile_id INTEGER NOT NULL REFERENCES care_profile (id),
    from_mm INTEGER NOT NULL CHECK (from_mm BETWEEN 0 AND 400),
    min_days INTEGER NOT NULL CHECK (min_days BETWEEN 1 AND 120),
    max_days INTEGER NOT NULL CHECK (max_days BETWEEN min_days AND 120),
    PRIMARY KEY (profile_id, from_mm)
) STRICT, WITHOUT ROWID;
INSERT INTO care_fast (profile_id, from_mm, min_days, max_days)
SELECT care_profile.id, usual.column1, usual.column2, usual.column3
FROM care_profile CROSS JOIN (VALUES (0, 3, 5), (15, 5, 7), (40, 7, 10), (80, 10, 14), (120, 14, 21)) AS usual;
CREATE TRIGGER care_fast_keeps BEFORE UPDATE ON care_fast BEGIN SELECT RAISE(ABORT, 'a care profile revision is never changed'); END;
CREATE TRIGGER care_fast_loses_none BEFORE DELETE ON care_fast BEGIN SELECT RAISE(ABORT, 'a care profile revision is never removed'); END;

-- Since when there are legs in the sac, so that it is turned no more, and the sign-off that said so.
ALTER TABLE sac ADD COLUMN legs_out_on TEXT CHECK (legs_out_on >= laid_on);
ALTER TABLE sac ADD COLUMN legs_out_signoff_id INTEGER REFERENCES signoff (id);

-- The readings that a sign-off brought.
CREATE TABLE signoff_reading (
    reading_id INTEGER PRIMARY KEY REFERENCES climate_reading (id),
    signoff_id INTEGER NOT NULL REFERENCES signoff (id)
) STRICT;
CREATE INDEX signoff_reading_by_signoff ON signoff_reading (signoff_id);

-- How well fed an animal looks. The widths, in tenths of a millimetre, are what the score was reckoned from, if it was.
CREATE TABLE body_condition (
    id INTEGER PRIMARY KEY,
    animal_id INTEGER NOT NULL REFERENCES animal (id),
    day TEXT NOT NULL,
    condition TEXT NOT NULL CHECK (condition IN ('shrunken', 'lean', 'good', 'heavy', 'obese')),
    abdomen_tenths INTEGER CHECK (abdomen_tenths BETWEEN 1 AND 1500),
    carapace_tenths INTEGER CHECK (carapace_tenths BETWEEN 1 AND 1500),
    signoff_id INTEGER REFERENCES signoff (id),
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    corrects_id INTEGER REFERENCES body_condition (id) UNIQUE,
    void INTEGER NOT NULL DEFAULT 0 CHECK (void IN (0, 1)),
    -- Why it was struck out; empty when a sign-off was taken back.
    void_reason TEXT NOT NULL DEFAULT '',
    CONSTRAINT condition_has_both_widths CHECK ((abdomen_tenths IS NULL) = (carapace_tenths IS NULL)),
    CONSTRAINT condition_follows_widths CHECK (carapace_tenths IS NULL OR condition = CASE
        WHEN abdomen_tenths * 10 < carapace_tenths * 8 THEN 'shrunken'
        WHEN abdomen_tenths * 10 < carapace_tenths * 11 THEN 'lean'
        WHEN abdomen_tenths * 10 < carapace_tenths * 15 THEN 'good'
        WHEN abdomen_tenths * 10 <= carapace_tenths * 20 THEN 'heavy'
        ELSE 'obese' END)
) STRICT;
CREATE INDEX body_condition_by_animal ON body_condition (animal_id, day, id);
CREATE VIEW body_condition_standing AS
SELECT body_condition.* FROM body_condition
WHERE void = 0 AND NOT EXISTS (SELECT 1 FROM body_condition AS later WHERE later.corrects_id = body_condition.id);
CREATE TRIGGER body_condition_keeps BEFORE UPDATE ON body_condition BEGIN SELECT RAISE(ABORT, 'scores are never changed'); END;
CREATE TRIGGER body_condition_loses_none BEFORE DELETE ON body_condition BEGIN SELECT RAISE(ABORT, 'scores are never removed'); END;

-- A rule set apart for one animal or cohort. It ends after its last day, or before, when a lead ends it.
CREATE TABLE set_apart (
    id INTEGER PRIMARY KEY,
    animal_id INTEGER REFERENCES animal (id),
    cohort_id INTEGER REFERENCES cohort (id),
    kind TEXT NOT NULL CHECK (kind IN ('feed-every', 'no-feed', 'check-every', 'no-rehouse')),
    days INTEGER CHECK (days BETWEEN 1 AND 365),
    from_on TEXT NOT NULL,
    until_on TEXT NOT NULL,
    reason TEXT NOT NULL CONSTRAINT apart_has_reason CHECK (length(reason) > 0),
    member_id INTEGER NOT NULL REFERENCES member (id),
    at TEXT NOT NULL,
    CONSTRAINT apart_of_one CHECK ((animal_id IS NOT NULL) + (cohort_id IS NOT NULL) = 1),
    CONSTRAINT apart_has_days CHECK ((kind IN ('feed-every', 'check-every')) = (days IS NOT NULL)),
    CONSTRAINT apart_ends CHECK (until_on >= from_on AND until_on <= date(from_on, '+365 days')),
    CONSTRAINT apart_rehouse_of_animal CHECK (kind <> 'no-rehouse' OR animal_id IS NOT NULL)
) STRICT;
CREATE INDEX set_apart_by_animal ON set_apart (animal_id, until_on);
CREATE INDEX set_apart_by_cohort ON set_apart (cohort_id, until_on);
CREATE TABLE set_apart_end (
    set_apart_id INTEGER PRIMARY KEY REFERENCES set_apart (id),
    reason TEXT NOT NULL CONSTRAINT apart_end_has_reason CHECK (length(reason) > 0),
    member_id INTEGER NOT NULL REFERENCES member (id),
    at TEXT NOT NULL
) STRICT;
CREATE VIEW set_apart_standing AS
SELECT set_apart.*, member.name AS by_name FROM set_apart JOIN member ON member.id = set_apart.member_id
WHERE NOT EXISTS (SELECT 1 FROM set_apart_end WHERE set_apart_end.set_apart_id = set_apart.id);
-- A rule draws looks closer, never apart, and only a lead sets one or ends it.
CREATE TRIGGER set_apart_by_lead BEFORE INSERT ON set_apart
WHEN NOT EXISTS (SELECT 1 FROM member WHERE id = NEW.member_id AND disabled_at IS NULL AND (is_owner = 1 OR is_lead = 1))
BEGIN SELECT RAISE(ABORT, 'set apart: only a lead sets a rule apart'); END;
CREATE TRIGGER set_apart_end_by_lead BEFORE INSERT ON set_apart_end
WHEN NOT EXISTS (SELECT 1 FROM member WHERE id = NEW.member_id AND disabled_at IS NULL AND (is_owner = 1 OR is_lead = 1))
BEGIN SELECT RAISE(ABORT, 'set apart: only a lead ends a rule set apart'); END;
CREATE TRIGGER set_apart_keeps BEFORE UPDATE ON set_apart BEGIN SELECT RAISE(ABORT, 'rules set apart are never changed'); END;
CREATE TRIGGER set_apart_loses_none BEFORE DELETE ON set_apart BEGIN SELECT RAISE(ABORT, 'rules set apart are never removed'); END;
CREATE TRIGGER set_apart_end_keeps BEFORE UPDATE ON set_apart_end BEGIN SELECT RAISE(ABORT, 'rules set apart are never changed'); END;
CREATE TRIGGER set_apart_end_loses_none BEFORE DELETE ON set_apart_end BEGIN SELECT RAISE(ABORT, 'rules set apart are never removed'); END;
