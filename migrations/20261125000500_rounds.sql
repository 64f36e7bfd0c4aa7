-- Duties, sign-offs and what they record of each animal; holds.

CREATE TABLE duty (
    id INTEGER PRIMARY KEY,
    kind TEXT NOT NULL CHECK (kind IN ('feed', 'clear-uneaten', 'moult-check', 'water', 'spot-clean', 'rehouse', 'sac-check', 'cohort-count')),
    animal_id INTEGER REFERENCES animal (id),
    cohort_id INTEGER REFERENCES cohort (id),
    sac_id INTEGER REFERENCES sac (id),
    due_on TEXT NOT NULL,
    late_after TEXT NOT NULL,
    -- For duties with an hour: uneaten prey.
    due_at TEXT,
    seconds INTEGER NOT NULL CHECK (seconds >= 0),
    exposure TEXT NOT NULL CHECK (exposure IN ('look', 'open', 'hands-in')),
    band INTEGER NOT NULL CHECK (band BETWEEN 0 AND 3),
    clearance INTEGER NOT NULL CHECK (clearance BETWEEN 0 AND 3),
    persons INTEGER NOT NULL CHECK (persons BETWEEN 1 AND 3),
    reason TEXT NOT NULL CONSTRAINT duty_has_reason CHECK (length(reason) > 0),
    -- Why it may not be done yet; null when it may.
    held TEXT,
    state TEXT NOT NULL DEFAULT 'open' CHECK (state IN ('open', 'done', 'dropped')),
    assigned_to INTEGER REFERENCES member (id),
    assigned_on TEXT,
    planned_at TEXT NOT NULL,
    CONSTRAINT duty_has_one_subject CHECK ((animal_id IS NOT NULL) + (cohort_id IS NOT NULL) + (sac_id IS NOT NULL) = 1),
    CONSTRAINT assigned_has_day CHECK ((assigned_to IS NULL) = (assigned_on IS NULL)),
    CONSTRAINT risky_rehouse_takes_two CHECK (NOT (exposure = 'hands-in' AND band = 3) OR persons >= 2)
) STRICT;
-- At most one open duty for one subject and kind.
CREATE UNIQUE INDEX duty_open_of_animal ON duty (animal_id, kind) WHERE state = 'open' AND animal_id IS NOT NULL;
CREATE UNIQUE INDEX duty_open_of_cohort ON duty (cohort_id, kind) WHERE state = 'open' AND cohort_id IS NOT NULL;
CREATE UNIQUE INDEX duty_open_of_sac ON duty (sac_id, kind) WHERE state = 'open' AND sac_id IS NOT NULL;
CREATE INDEX duty_of_animal ON duty (animal_id, kind, state);
CREATE INDEX duty_of_cohort ON duty (cohort_id, kind, state);
CREATE INDEX duty_of_sac ON duty (sac_id, kind, state);
CREATE INDEX duty_open_by_member ON duty (assigned_to) WHERE state = 'open';

CREATE TABLE signoff (
    id INTEGER PRIMARY KEY,
    duty_id INTEGER NOT NULL REFERENCES duty (id),
    member_id INTEGER NOT NULL REFERENCES member (id),
    second_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    day TEXT NOT NULL,
    -- took, refused, left-in; normal, pre-moult, moulting, moulted; done; counts; could-not; found-dead; threat; undone
    outcome TEXT NOT NULL CHECK (outcome IN ('took', 'refused', 'left-in', 'normal', 'pre-moult', 'moulting', 'moulted', 'done', 'counts',
        'could-not', 'found-dead', 'threat', 'undone')),
    note TEXT NOT NULL DEFAULT '',
    -- The tools and steps that were ticked, one a line.
    checklist TEXT NOT NULL DEFAULT '',
    -- What the rules asked for when it was signed.
    clearance INTEGER NOT NULL CHECK (clearance BETWEEN 0 AND 3),
    persons INTEGER NOT NULL CHECK (persons BETWEEN 1 AND 3),
    corrects_id INTEGER REFERENCES signoff (id),
    CONSTRAINT signoff_of_two_people CHECK (second_id IS NULL OR second_id <> member_id),
    CONSTRAINT signoff_corrected_once UNIQUE (corrects_id),
    CONSTRAINT signoff_undoes_one CHECK ((outcome = 'undone') = (corrects_id IS NOT NULL))
) STRICT;
-- A duty is signed off once.
CREATE UNIQUE INDEX signoff_once ON signoff (duty_id) WHERE corrects_id IS NULL;
CREATE INDEX signoff_by_day ON signoff (day, member_id);
CREATE TRIGGER signoff_keeps BEFORE UPDATE ON signoff BEGIN SELECT RAISE(ABORT, 'sign-offs are never changed'); END;
CREATE TRIGGER signoff_loses_none BEFORE DELETE ON signoff BEGIN SELECT RAISE(ABORT, 'sign-offs are never removed'); END;

-- Sign-offs that stand: not taken back, and not a taking back.
CREATE VIEW signoff_standing AS
SELECT signoff.* FROM signoff
WHERE corrects_id IS NULL AND NOT EXISTS (SELECT 1 FROM signoff AS later WHERE later.corrects_id = signoff.id);

CREATE TABLE meal (
    id INTEGER PRIMARY KEY,
    animal_id INTEGER NOT NULL REFERENCES animal (id),
    day TEXT NOT NULL,
    offered_at TEXT NOT NULL,
    prey TEXT NOT NULL DEFAULT '',
    outcome TEXT NOT NULL CHECK (outcome IN ('took', 'refused', 'left-in')),
    signoff_id INTEGER REFERENCES signoff (id),
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    -- A later entry that takes this one's place, or with void = 1 strikes it out.
    corrects_id INTEGER REFERENCES meal (id) UNIQUE,
    void INTEGER NOT NULL DEFAULT 0 CHECK (void IN (0, 1)),
    -- Why it was struck out; empty when a sign-off was taken back.
    void_reason TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX meal_by_animal ON meal (animal_id, day, id);
CREATE INDEX meal_by_signoff ON meal (signoff_id);
CREATE VIEW meal_standing AS
SELECT meal.* FROM meal WHERE void = 0 AND NOT EXISTS (SELECT 1 FROM meal AS later WHERE later.corrects_id = meal.id);

-- A cohort in vials fed as a group.
CREATE TABLE cohort_meal (
    id INTEGER PRIMARY KEY,
    cohort_id INTEGER NOT NULL REFERENCES cohort (id),
    day TEXT NOT NULL,
    offered_at TEXT NOT NULL,
    prey TEXT NOT NULL DEFAULT '',
    took INTEGER NOT NULL CHECK (took >= 0),
    refused INTEGER NOT NULL CHECK (refused >= 0),
    left_in INTEGER NOT NULL CHECK (left_in >= 0),
    signoff_id INTEGER REFERENCES signoff (id),
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    corrects_id INTEGER REFERENCES cohort_meal (id) UNIQUE,
    void INTEGER NOT NULL DEFAULT 0 CHECK (void IN (0, 1))
) STRICT;
CREATE INDEX cohort_meal_by_cohort ON cohort_meal (cohort_id, day, id);
CREATE INDEX cohort_meal_by_signoff ON cohort_meal (signoff_id);
CREATE VIEW cohort_meal_standing AS
SELECT cohort_meal.* FROM cohort_meal
WHERE void = 0 AND NOT EXISTS (SELECT 1 FROM cohort_meal AS later WHERE later.corrects_id = cohort_meal.id);

CREATE TABLE moult (
    id INTEGER PRIMARY KEY,
    animal_id INTEGER NOT NULL REFERENCES animal (id),
    day TEXT NOT NULL,
    skin_kept INTEGER NOT NULL DEFAULT 0 CHECK (skin_kept IN (0, 1)),
    note TEXT NOT NULL DEFAULT '',
    signoff_id INTEGER REFERENCES signoff (id),
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    corrects_id INTEGER REFERENCES moult (id) UNIQUE,
    void INTEGER NOT NULL DEFAULT 0 CHECK (void IN (0, 1)),
    -- Why it was struck out; empty when a sign-off was taken back.
    void_reason TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX moult_by_animal ON moult (animal_id, day, id);
CREATE INDEX moult_by_signoff ON moult (signoff_id);
CREATE VIEW moult_standing AS
SELECT moult.* FROM moult WHERE void = 0 AND NOT EXISTS (SELECT 1 FROM moult AS later WHERE later.corrects_id = moult.id);

-- What was seen of an animal's moult state: normal, pre-moult, moulting.
CREATE TABLE moult_sign (
    id INTEGER PRIMARY KEY,
    animal_id INTEGER NOT NULL REFERENCES animal (id),
    day TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('normal', 'pre-moult', 'moulting')),
    signoff_id INTEGER REFERENCES signoff (id),
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    corrects_id INTEGER REFERENCES moult_sign (id) UNIQUE,
    void INTEGER NOT NULL DEFAULT 0 CHECK (void IN (0, 1)),
    -- Why it was struck out; empty when a sign-off was taken back.
    void_reason TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX moult_sign_by_animal ON moult_sign (animal_id, day, id);
CREATE INDEX moult_sign_by_signoff ON moult_sign (signoff_id);
CREATE VIEW moult_sign_standing AS
SELECT moult_sign.* FROM moult_sign
WHERE void = 0 AND NOT EXISTS (SELECT 1 FROM moult_sign AS later WHERE later.corrects_id = moult_sign.id);

CREATE TABLE measurement (
    id INTEGER PRIMARY KEY,
    animal_id INTEGER NOT NULL REFERENCES animal (id),
    day TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('dls', 'bl')),
    mm INTEGER NOT NULL CONSTRAINT measurement_range CHECK (mm BETWEEN 1 AND 400),
    method TEXT NOT NULL CHECK (method IN ('measured', 'estimated')),
    signoff_id INTEGER REFERENCES signoff (id),
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    corrects_id INTEGER REFERENCES measurement (id) UNIQUE,
    void INTEGER NOT NULL DEFAULT 0 CHECK (void IN (0, 1)),
    -- Why it was struck out; empty when a sign-off was taken back.
    void_reason TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX measurement_by_animal ON measurement (animal_id, day, id);
CREATE INDEX measurement_by_signoff ON measurement (signoff_id);
CREATE VIEW measurement_standing AS
SELECT measurement.* FROM measurement
WHERE void = 0 AND NOT EXISTS (SELECT 1 FROM measurement AS later WHERE later.corrects_id = measurement.id);

-- Where an animal or a cohort went, and when into a new enclosure.
CREATE TABLE stock_move (
    id INTEGER PRIMARY KEY,
    animal_id INTEGER REFERENCES animal (id),
    cohort_id INTEGER REFERENCES cohort (id),
    day TEXT NOT NULL,
    from_label TEXT NOT NULL,
    to_label TEXT NOT NULL,
    rehoused INTEGER NOT NULL DEFAULT 0 CHECK (rehoused IN (0, 1)),
    enclosure_length_mm INTEGER,
    signoff_id INTEGER REFERENCES signoff (id),
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    CONSTRAINT move_of_one CHECK ((animal_id IS NOT NULL) + (cohort_id IS NOT NULL) = 1)
) STRICT;
CREATE INDEX stock_move_by_animal ON stock_move (animal_id, day, id);
CREATE INDEX stock_move_by_cohort ON stock_move (cohort_id, day, id);

CREATE TRIGGER meal_keeps BEFORE UPDATE ON meal BEGIN SELECT RAISE(ABORT, 'meals are never changed'); END;
CREATE TRIGGER meal_loses_none BEFORE DELETE ON meal BEGIN SELECT RAISE(ABORT, 'meals are never removed'); END;
CREATE TRIGGER cohort_meal_keeps BEFORE UPDATE ON cohort_meal BEGIN SELECT RAISE(ABORT, 'meals are never changed'); END;
CREATE TRIGGER cohort_meal_loses_none BEFORE DELETE ON cohort_meal BEGIN SELECT RAISE(ABORT, 'meals are never removed'); END;
CREATE TRIGGER moult_keeps BEFORE UPDATE ON moult BEGIN SELECT RAISE(ABORT, 'moults are never changed'); END;
CREATE TRIGGER moult_loses_none BEFORE DELETE ON moult BEGIN SELECT RAISE(ABORT, 'moults are never removed'); END;
CREATE TRIGGER moult_sign_keeps BEFORE UPDATE ON moult_sign BEGIN SELECT RAISE(ABORT, 'moult signs are never changed'); END;
CREATE TRIGGER moult_sign_loses_none BEFORE DELETE ON moult_sign BEGIN SELECT RAISE(ABORT, 'moult signs are never removed'); END;
CREATE TRIGGER measurement_keeps BEFORE UPDATE ON measurement BEGIN SELECT RAISE(ABORT, 'measurements are never changed'); END;
CREATE TRIGGER measurement_loses_none BEFORE DELETE ON measurement BEGIN SELECT RAISE(ABORT, 'measurements are never removed'); END;
CREATE TRIGGER stock_move_keeps BEFORE UPDATE ON stock_move BEGIN SELECT RAISE(ABORT, 'moves are never changed'); END;
CREATE TRIGGER stock_move_loses_none BEFORE DELETE ON stock_move BEGIN SELECT RAISE(ABORT, 'moves are never removed'); END;

-- A dated stop on opening an enclosure. It blocks its exposure and everything nearer.
CREATE TABLE hold (
    id INTEGER PRIMARY KEY,
    animal_id INTEGER REFERENCES animal (id),
    cohort_id INTEGER REFERENCES cohort (id),
    kind TEXT NOT NULL CHECK (kind IN ('agitated', 'moulting', 'just-moulted', 'quarantine')),
    blocks TEXT NOT NULL CHECK (blocks IN ('open', 'hands-in')),
    from_at TEXT NOT NULL,
    -- The instant from which opening is free again; null: until somebody lifts it.
    until_at TEXT,
    reason TEXT NOT NULL,
    signoff_id INTEGER REFERENCES signoff (id),
    member_id INTEGER REFERENCES member (id),
    lifted_at TEXT,
    lifted_by INTEGER REFERENCES member (id),
    lift_note TEXT NOT NULL DEFAULT '',
    CONSTRAINT hold_of_one CHECK ((animal_id IS NOT NULL) + (cohort_id IS NOT NULL) = 1)
) STRICT;
CREATE INDEX hold_by_animal ON hold (animal_id, until_at);
CREATE INDEX hold_by_cohort ON hold (cohort_id, until_at);

-- What an animal is now, from what happened to it.
CREATE VIEW animal_now AS
SELECT animal.id AS animal_id,
       (SELECT MAX(day) FROM moult_standing WHERE moult_standing.animal_id = animal.id) AS last_moult_on,
       (SELECT COUNT(*) FROM moult_standing WHERE moult_standing.animal_id = animal.id) AS moults_here,
       (SELECT mm FROM measurement_standing WHERE measurement_standing.animal_id = animal.id AND kind = 'dls' ORDER BY day DESC, id DESC LIMIT 1) AS span_mm,
       (SELECT method FROM measurement_standing WHERE measurement_standing.animal_id = animal.id AND kind = 'dls' ORDER BY day DESC, id DESC LIMIT 1) AS span_method,
       (SELECT id FROM meal_standing WHERE meal_standing.animal_id = animal.id ORDER BY day DESC, id DESC LIMIT 1) AS last_meal_id,
       (SELECT id FROM moult_sign_standing WHERE moult_sign_standing.animal_id = animal.id ORDER BY day DESC, id DESC LIMIT 1) AS last_sign_id
FROM animal;

-- A dead, sold or escaped animal has no open duty.
CREATE TRIGGER duty_of_living BEFORE INSERT ON duty
WHEN NEW.animal_id IS NOT NULL AND NEW.state = 'open' AND (SELECT status FROM animal WHERE id = NEW.animal_id) <> 'alive'
BEGIN SELECT RAISE(ABORT, 'an animal that has left has no open duty'); END;
CREATE TRIGGER animal_leaves_duties AFTER UPDATE OF status ON animal
WHEN NEW.status <> 'alive'
BEGIN UPDATE duty SET state = 'dropped' WHERE animal_id = NEW.id AND state = 'open'; END;

-- A duty ends once, and never comes back.
CREATE TRIGGER duty_ends_once BEFORE UPDATE OF state ON duty
WHEN OLD.state <> 'open' AND NEW.state <> OLD.state
BEGIN SELECT RAISE(ABORT, 'a duty that has ended stays ended'); END;
CREATE TRIGGER duty_done_is_signed BEFORE UPDATE OF state ON duty
WHEN NEW.state = 'done' AND OLD.state = 'open' AND NOT EXISTS (SELECT 1 FROM signoff WHERE duty_id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'a duty is done by a sign-off'); END;

-- A duty with its subject and place in words, as lists show it. A sac that is with its dam stands where she stands.
CREATE VIEW duty_now AS
SELECT duty.*, COALESCE(animal.tag, cohort.code, 'Sac ' || sac.id) AS label, species.accepted_name AS species, place.shelf_id, place.rack_id,
       place.label AS place, place.room_order, place.room_name, place.rack_order, place.rack_name, place.shelf_number,
       COALESCE(animal.position, cohort.position, sac.position, dam.position) AS position, member.name AS assigned_name
FROM duty
LEFT JOIN animal ON animal.id = duty.animal_id
LEFT JOIN cohort ON cohort.id = duty.cohort_id
LEFT JOIN sac ON sac.id = duty.sac_id
LEFT JOIN animal AS dam ON dam.id = sac.dam_id
JOIN species ON species.id = COALESCE(animal.species_id, cohort.species_id, sac.species_id)
LEFT JOIN place ON place.shelf_id = COALESCE(animal.shelf_id, cohort.shelf_id, sac.shelf_id, dam.shelf_id)
LEFT JOIN member ON member.id = duty.assigned_to;
