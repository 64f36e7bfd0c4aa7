-- Species: names, hazards, listings, and care profiles that are only ever added to.
CREATE TABLE species (
    id INTEGER PRIMARY KEY,
    accepted_name TEXT NOT NULL COLLATE NOCASE CONSTRAINT species_name_length CHECK (length(accepted_name) BETWEEN 3 AND 80),
    authority TEXT NOT NULL,
    subfamily TEXT,
    world TEXT NOT NULL CHECK (world IN ('old', 'new')),
    range TEXT NOT NULL,
    habit TEXT NOT NULL CHECK (habit IN ('arboreal', 'terrestrial', 'fossorial')),
    moisture TEXT NOT NULL CHECK (moisture IN ('dry', 'dry-wet-corner', 'half-damp', 'damp')),
    adult_span_min_mm INTEGER NOT NULL CHECK (adult_span_min_mm > 0),
    adult_span_max_mm INTEGER NOT NULL CHECK (adult_span_max_mm >= adult_span_min_mm),
    setae TEXT NOT NULL CHECK (setae IN ('none', 'contact', 'kicked', 'severe', 'palps', 'unverified')),
    setae_note TEXT NOT NULL DEFAULT '',
    venom TEXT NOT NULL CHECK (venom IN ('mild', 'moderate', 'significant')),
    venom_basis TEXT NOT NULL,
    defensive INTEGER NOT NULL CHECK (defensive IN (0, 1)),
    very_fast INTEGER NOT NULL CHECK (very_fast IN (0, 1)),
    temper TEXT NOT NULL,
    communal INTEGER NOT NULL DEFAULT 0 CHECK (communal IN (0, 1)),
    pace TEXT NOT NULL CHECK (pace IN ('fast', 'medium', 'slow')),
    clutch_min INTEGER NOT NULL CHECK (clutch_min >= 0),
    clutch_max INTEGER NOT NULL CHECK (clutch_max >= clutch_min),
    -- Days after laying.
    pull_from_day INTEGER NOT NULL CHECK (pull_from_day > 0),
    pull_to_day INTEGER NOT NULL CHECK (pull_to_day >= pull_from_day),
    post_embryo_from INTEGER NOT NULL, post_embryo_to INTEGER NOT NULL,
    first_instar_from INTEGER NOT NULL, first_instar_to INTEGER NOT NULL,
    second_instar_from INTEGER NOT NULL, second_instar_to INTEGER NOT NULL,
    breeding_basis TEXT NOT NULL DEFAULT '',
    law_note TEXT NOT NULL DEFAULT '',
    version INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT species_name_unique UNIQUE (accepted_name)
) STRICT;

CREATE TABLE species_name (
    id INTEGER PRIMARY KEY,
    species_id INTEGER NOT NULL REFERENCES species (id),
    name TEXT NOT NULL COLLATE NOCASE,
    kind TEXT NOT NULL CHECK (kind IN ('former', 'trade', 'common')),
    note TEXT NOT NULL DEFAULT '',
    -- Why this name must not be mapped silently; null when it is safe.
    ambiguous_with TEXT,
    CONSTRAINT species_name_once UNIQUE (species_id, name)
) STRICT;

-- What a list of law or convention said of the species, when it was last looked at, and where.
CREATE TABLE species_listing (
    id INTEGER PRIMARY KEY,
    species_id INTEGER NOT NULL REFERENCES species (id),
    scheme TEXT NOT NULL,
    entry TEXT NOT NULL,
    source TEXT NOT NULL CONSTRAINT listing_names_its_source CHECK (length(source) > 0),
    valid_from TEXT,
    last_checked TEXT NOT NULL,
    verified INTEGER NOT NULL CHECK (verified IN (0, 1)),
    note TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX species_listing_by_species ON species_listing (species_id);

CREATE TABLE care_profile (
    id INTEGER PRIMARY KEY,
    species_id INTEGER NOT NULL REFERENCES species (id),
    revision INTEGER NOT NULL CHECK (revision >= 1),
    why TEXT NOT NULL,
    created_by INTEGER REFERENCES member (id),
    created_at TEXT NOT NULL,
    CONSTRAINT care_profile_revision_unique UNIQUE (species_id, revision)
) STRICT;

CREATE TABLE care_stage (
    profile_id INTEGER NOT NULL REFERENCES care_profile (id),
    stage TEXT NOT NULL CHECK (stage IN ('spiderling', 'juvenile', 'adult')),
    feed_min_days INTEGER NOT NULL CHECK (feed_min_days >= 1),
    feed_max_days INTEGER NOT NULL CHECK (feed_max_days >= feed_min_days),
    moult_min_days INTEGER NOT NULL CHECK (moult_min_days >= 1),
    moult_max_days INTEGER NOT NULL CHECK (moult_max_days >= moult_min_days),
    day_min_c INTEGER NOT NULL CHECK (day_min_c BETWEEN 5 AND 40),
    day_max_c INTEGER NOT NULL CHECK (day_max_c BETWEEN day_min_c AND 40),
    rh_min INTEGER NOT NULL CHECK (rh_min BETWEEN 0 AND 100),
    rh_max INTEGER NOT NULL CHECK (rh_max BETWEEN rh_min AND 100),
    prey TEXT NOT NULL,
    water TEXT NOT NULL,
    substrate TEXT NOT NULL,
    ventilation TEXT NOT NULL,
    hide TEXT NOT NULL,
    uneaten_hours INTEGER NOT NULL CHECK (uneaten_hours BETWEEN 1 AND 72),
    water_days INTEGER NOT NULL CHECK (water_days >= 1),
    clean_days INTEGER NOT NULL CHECK (clean_days >= 1),
    moult_check_days INTEGER NOT NULL CHECK (moult_check_days >= 1),
    count_days INTEGER NOT NULL CHECK (count_days >= 1),
    basis TEXT NOT NULL,
    PRIMARY KEY (profile_id, stage)
) STRICT, WITHOUT ROWID;

CREATE TRIGGER care_profile_keeps BEFORE UPDATE ON care_profile BEGIN SELECT RAISE(ABORT, 'a care profile revision is never changed'); END;
CREATE TRIGGER care_profile_loses_none BEFORE DELETE ON care_profile BEGIN SELECT RAISE(ABORT, 'a care profile revision is never removed'); END;
CREATE TRIGGER care_stage_keeps BEFORE UPDATE ON care_stage BEGIN SELECT RAISE(ABORT, 'a care profile revision is never changed'); END;
CREATE TRIGGER care_stage_loses_none BEFORE DELETE ON care_stage BEGIN SELECT RAISE(ABORT, 'a care profile revision is never removed'); END;

-- The newest revision of each species.
CREATE VIEW care_now AS
SELECT care_profile.id AS profile_id, care_profile.species_id, care_profile.revision
FROM care_profile
WHERE revision = (SELECT MAX(newest.revision) FROM care_profile AS newest WHERE newest.species_id = care_profile.species_id);
