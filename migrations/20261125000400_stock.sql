-- Animals, sacs, cohorts and the count ledger.

CREATE TABLE animal (
    id INTEGER PRIMARY KEY,
    tag TEXT NOT NULL COLLATE NOCASE CONSTRAINT animal_tag_length CHECK (length(tag) BETWEEN 3 AND 20),
    species_id INTEGER NOT NULL REFERENCES species (id),
    -- Exactly one origin: a line of a cohort's ledger, or bought in.
    origin TEXT NOT NULL CHECK (origin IN ('cohort', 'bought')),
    origin_line_id INTEGER REFERENCES ledger_line (id),
    supplier TEXT NOT NULL DEFAULT '',
    papers TEXT NOT NULL DEFAULT '',
    source_code TEXT NOT NULL CHECK (source_code IN ('W', 'R', 'C', 'F', 'U', 'I')),
    pre_convention INTEGER NOT NULL DEFAULT 0 CHECK (pre_convention IN (0, 1)),
    locality TEXT NOT NULL DEFAULT '',
    born_on TEXT,
    -- The day it came under this house's care as a tagged animal.
    started_on TEXT NOT NULL,
    sex TEXT NOT NULL DEFAULT 'unknown' CHECK (sex IN ('unknown', 'female', 'male')),
    sex_basis TEXT NOT NULL DEFAULT 'none' CHECK (sex_basis IN ('none', 'suspected', 'exuvium', 'mature')),
    mature_on TEXT,
    -- The instar it had when it came under care; null when nobody knows. Each moult since adds one.
    start_instar INTEGER CHECK (start_instar BETWEEN 1 AND 40),
    status TEXT NOT NULL DEFAULT 'alive' CHECK (status IN ('alive', 'dead', 'sold', 'escaped')),
    status_on TEXT,
    loss_cause TEXT,
    -- Where it stands; null once it has left.
    shelf_id INTEGER REFERENCES shelf (id),
    position INTEGER CHECK (position BETWEEN 1 AND 999),
    enclosure_length_mm INTEGER CHECK (enclosure_length_mm BETWEEN 10 AND 3000),
    enclosure_width_mm INTEGER CHECK (enclosure_width_mm BETWEEN 10 AND 3000),
    fall_gap_mm INTEGER CHECK (fall_gap_mm BETWEEN 0 AND 3000),
    -- Why it must be rehoused whatever its size (mould, mites); empty when it need not.
    rehouse_note TEXT NOT NULL DEFAULT '',
    note TEXT NOT NULL DEFAULT '',
    created_at TEXT NOT NULL,
    version INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT animal_tag_unique UNIQUE (tag),
    CONSTRAINT origin_is_one CHECK ((origin = 'cohort') = (origin_line_id IS NOT NULL)),
    CONSTRAINT sexed_has_basis CHECK ((sex = 'unknown') = (sex_basis = 'none')),
    CONSTRAINT dead_has_cause CHECK ((status IN ('dead', 'escaped')) = (loss_cause IS NOT NULL)),
    CONSTRAINT leaver_has_day CHECK ((status = 'alive') = (status_on IS NULL)),
    CONSTRAINT leaver_has_no_place CHECK (status = 'alive' OR shelf_id IS NULL)
) STRICT;
CREATE INDEX animal_by_species ON animal (species_id, status);
CREATE INDEX animal_by_shelf ON animal (shelf_id, position);
CREATE INDEX animal_by_origin_line ON animal (origin_line_id);
CREATE INDEX animal_by_status ON animal (status, tag);

-- An animal that died or was sold stays so; one that escaped can be found again.
CREATE TRIGGER animal_status_path BEFORE UPDATE OF status ON animal
WHEN OLD.status <> NEW.status AND OLD.status IN ('dead', 'sold')
BEGIN SELECT RAISE(ABORT, 'an animal that has died or been sold does not change its status'); END;
CREATE TRIGGER animal_origin_stays BEFORE UPDATE OF origin, origin_line_id, species_id, tag ON animal
WHEN OLD.origin <> NEW.origin OR OLD.origin_line_id IS NOT NEW.origin_line_id OR OLD.tag <> NEW.tag
BEGIN SELECT RAISE(ABORT, 'an animal keeps its tag and its origin'); END;
CREATE TRIGGER animal_stays BEFORE DELETE ON animal BEGIN SELECT RAISE(ABORT, 'animals are never removed'); END;

CREATE TABLE pairing (
    id INTEGER PRIMARY KEY,
    dam_id INTEGER NOT NULL REFERENCES animal (id),
    sire_id INTEGER NOT NULL REFERENCES animal (id),
    paired_on TEXT NOT NULL,
    note TEXT NOT NULL DEFAULT '',
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    CONSTRAINT pairing_of_two CHECK (dam_id <> sire_id)
) STRICT;
CREATE INDEX pairing_by_dam ON pairing (dam_id, paired_on);
CREATE TRIGGER pairing_keeps BEFORE UPDATE ON pairing BEGIN SELECT RAISE(ABORT, 'pairings are never changed'); END;
CREATE TRIGGER pairing_loses_none BEFORE DELETE ON pairing BEGIN SELECT RAISE(ABORT, 'pairings are never removed'); END;

CREATE TABLE sac (
    id INTEGER PRIMARY KEY,
    species_id INTEGER NOT NULL REFERENCES species (id),
    dam_id INTEGER REFERENCES animal (id),
    -- When the dam is not one of ours: what is known of her.
    dam_note TEXT NOT NULL DEFAULT '',
    dam_wild_mated INTEGER NOT NULL DEFAULT 0 CHECK (dam_wild_mated IN (0, 1)),
    -- Null: not known.
    sire_id INTEGER REFERENCES animal (id),
    sire_note TEXT NOT NULL DEFAULT '',
    laid_on TEXT NOT NULL,
    pulled_on TEXT,
    incubation TEXT NOT NULL CHECK (incubation IN ('with-dam', 'pulled')),
    incubation_note TEXT NOT NULL DEFAULT '',
    shelf_id INTEGER REFERENCES shelf (id),
    position INTEGER CHECK (position BETWEEN 1 AND 999),
    state TEXT NOT NULL DEFAULT 'incubating' CHECK (state IN ('incubating', 'opened', 'failed')),
    ended_on TEXT,
    end_note TEXT NOT NULL DEFAULT '',
    created_at TEXT NOT NULL,
    version INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT pulled_not_before_laid CHECK (pulled_on IS NULL OR pulled_on >= laid_on),
    CONSTRAINT ended_not_before_laid CHECK (ended_on IS NULL OR ended_on >= laid_on),
    CONSTRAINT pulled_has_day CHECK ((incubation = 'pulled') = (pulled_on IS NOT NULL)),
    CONSTRAINT ended_has_day CHECK ((state = 'incubating') = (ended_on IS NULL))
) STRICT;
CREATE INDEX sac_by_state ON sac (state, laid_on);

CREATE TABLE cohort (
    id INTEGER PRIMARY KEY,
    code TEXT NOT NULL COLLATE NOCASE CONSTRAINT cohort_code_length CHECK (length(code) BETWEEN 2 AND 20),
    species_id INTEGER NOT NULL REFERENCES species (id),
    origin TEXT NOT NULL CHECK (origin IN ('sac', 'bought', 'split')),
    sac_id INTEGER REFERENCES sac (id),
    parent_cohort_id INTEGER REFERENCES cohort (id),
    supplier TEXT NOT NULL DEFAULT '',
    papers TEXT NOT NULL DEFAULT '',
    source_code TEXT NOT NULL CHECK (source_code IN ('W', 'R', 'C', 'F', 'U', 'I')),
    pre_convention INTEGER NOT NULL DEFAULT 0 CHECK (pre_convention IN (0, 1)),
    locality TEXT NOT NULL DEFAULT '',
    started_on TEXT NOT NULL,
    -- Communal tub, or one to a vial.
    housing TEXT NOT NULL DEFAULT 'communal' CHECK (housing IN ('communal', 'vials')),
    separated_on TEXT,
    shelf_id INTEGER REFERENCES shelf (id),
    position INTEGER CHECK (position BETWEEN 1 AND 999),
    -- An estimate of leg span over the cohort, in mm; null when nobody has looked.
    span_mm INTEGER CHECK (span_mm BETWEEN 1 AND 400),
    note TEXT NOT NULL DEFAULT '',
    created_at TEXT NOT NULL,
    version INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT cohort_code_unique UNIQUE (code),
    CONSTRAINT cohort_origin_is_one CHECK ((origin = 'sac') = (sac_id IS NOT NULL) AND (origin = 'split') = (parent_cohort_id IS NOT NULL))
) STRICT;
CREATE INDEX cohort_by_species ON cohort (species_id);
CREATE UNIQUE INDEX cohort_of_sac ON cohort (sac_id) WHERE sac_id IS NOT NULL;
CREATE TRIGGER cohort_stays BEFORE DELETE ON cohort BEGIN SELECT RAISE(ABORT, 'cohorts are never removed'); END;

-- The buckets that a count can stand in: where it comes from, the stages, and where it ends.
CREATE TABLE bucket (
    code TEXT PRIMARY KEY,
    kind TEXT NOT NULL CHECK (kind IN ('source', 'stage', 'sink')),
    ordinal INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
INSERT INTO bucket (code, kind, ordinal) VALUES
    ('in', 'source', 0),
    ('egg', 'stage', 1), ('ewl', 'stage', 2),
    ('i1', 'stage', 3), ('i2', 'stage', 4), ('i3', 'stage', 5), ('i4', 'stage', 6), ('i5', 'stage', 7),
    ('i6', 'stage', 8), ('i7', 'stage', 9), ('i8', 'stage', 10), ('i9', 'stage', 11), ('i10', 'stage', 12),
    ('i11', 'stage', 13), ('i12', 'stage', 14), ('i13', 'stage', 15), ('i14', 'stage', 16), ('i15', 'stage', 17),
    ('i16', 'stage', 18), ('i17', 'stage', 19), ('i18', 'stage', 20), ('i19', 'stage', 21), ('i20', 'stage', 22),
    ('lost', 'sink', 30), ('sold', 'sink', 31), ('tagged', 'sink', 32), ('moved', 'sink', 33), ('variance', 'sink', 34);

-- Double entry: each line moves a quantity from one bucket to another, so a count can move but not leak.
CREATE TABLE ledger_line (
    id INTEGER PRIMARY KEY,
    cohort_id INTEGER NOT NULL REFERENCES cohort (id),
    day TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('received', 'moulted', 'lost', 'tagged', 'sold', 'moved', 'recounted', 'reversal')),
    from_bucket TEXT NOT NULL REFERENCES bucket (code),
    to_bucket TEXT NOT NULL REFERENCES bucket (code),
    quantity INTEGER NOT NULL CONSTRAINT ledger_quantity_range CHECK (quantity BETWEEN 1 AND 100000),
    cause TEXT CHECK (cause IN ('infertile', 'mould', 'desiccation', 'too-wet', 'failed-moult', 'cannibalism', 'prey-injury', 'mites',
        'phorid-flies', 'nematodes', 'fall', 'escape', 'transport', 'handling', 'climate', 'euthanised', 'unknown')),
    reverses_id INTEGER REFERENCES ledger_line (id),
    -- For spiderlings that came from another cohort of ours: the line by which they left it.
    moved_line_id INTEGER REFERENCES ledger_line (id),
    -- The duty sign-off that brought it, when one did.
    signoff_id INTEGER REFERENCES signoff (id),
    note TEXT NOT NULL DEFAULT '',
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    CONSTRAINT ledger_line_moves CHECK (from_bucket <> to_bucket),
    CONSTRAINT ledger_lost_has_cause CHECK ((from_bucket = 'lost' OR to_bucket = 'lost') = (cause IS NOT NULL)),
    CONSTRAINT ledger_reversal_names_line CHECK ((kind = 'reversal') = (reverses_id IS NOT NULL)),
    CONSTRAINT ledger_reversed_once UNIQUE (reverses_id),
    CONSTRAINT ledger_arrived_once UNIQUE (moved_line_id)
) STRICT;
CREATE INDEX ledger_line_by_cohort ON ledger_line (cohort_id, day, id);
CREATE TRIGGER ledger_line_keeps BEFORE UPDATE ON ledger_line BEGIN SELECT RAISE(ABORT, 'ledger lines are never changed'); END;
CREATE TRIGGER ledger_line_loses_none BEFORE DELETE ON ledger_line BEGIN SELECT RAISE(ABORT, 'ledger lines are never removed'); END;

-- "INSERT OR REPLACE" removes the row in its way without running the trigger above.
CREATE TRIGGER ledger_line_replaces_none BEFORE INSERT ON ledger_line
WHEN EXISTS (SELECT 1 FROM ledger_line WHERE id = NEW.id OR reverses_id = NEW.reverses_id OR moved_line_id = NEW.moved_line_id)
BEGIN SELECT RAISE(ABORT, 'ledger: this line is in the book already, or has been taken back already'); END;
-- What arrives from another cohort of ours is what left it: as many, at the same stage, on the same day.
CREATE TRIGGER ledger_line_arrives BEFORE INSERT ON ledger_line
WHEN NEW.moved_line_id IS NOT NULL AND NOT EXISTS (
    SELECT 1 FROM ledger_line AS departed
    WHERE departed.id = NEW.moved_line_id AND departed.kind = 'moved' AND NEW.kind = 'received' AND departed.cohort_id <> NEW.cohort_id
      AND departed.quantity = NEW.quantity AND departed.from_bucket = NEW.to_bucket AND departed.day = NEW.day)
BEGIN SELECT RAISE(ABORT, 'ledger: what arrives from another cohort is not what left it'); END;

-- What stands in each bucket now, kept by the triggers below; a line that would make one negative is refused.
CREATE TABLE ledger_balance (
    cohort_id INTEGER NOT NULL REFERENCES cohort (id),
    bucket TEXT NOT NULL REFERENCES bucket (code),
    quantity INTEGER NOT NULL CONSTRAINT ledger_never_negative CHECK (quantity >= 0),
    PRIMARY KEY (cohort_id, bucket)
) STRICT, WITHOUT ROWID;

-- The movements that each kind of line may make.
CREATE TRIGGER ledger_line_shape BEFORE INSERT ON ledger_line BEGIN
    SELECT RAISE(ABORT, 'ledger: this kind of line cannot move between these buckets')
    WHERE NOT EXISTS (
        SELECT 1 FROM bucket AS f, bucket AS t
        WHERE f.code = NEW.from_bucket AND t.code = NEW.to_bucket AND (
            (NEW.kind = 'received' AND f.kind = 'source' AND t.kind = 'stage')
            OR (NEW.kind = 'moulted' AND f.kind = 'stage' AND t.kind = 'stage' AND t.ordinal > f.ordinal)
            OR (NEW.kind IN ('lost', 'sold', 'moved') AND f.kind = 'stage' AND t.code = NEW.kind)
            OR (NEW.kind = 'tagged' AND f.kind = 'stage' AND f.code NOT IN ('egg', 'ewl') AND t.code = NEW.kind)
            OR (NEW.kind = 'recounted' AND f.kind = 'stage' AND t.code = 'variance')
            OR (NEW.kind = 'recounted' AND f.code IN ('variance', 'in') AND t.kind = 'stage')
            OR (NEW.kind = 'reversal' AND EXISTS (
                SELECT 1 FROM ledger_line AS original
                WHERE original.id = NEW.reverses_id AND original.kind <> 'reversal' AND original.cohort_id = NEW.cohort_id
                  AND original.day = NEW.day AND original.quantity = NEW.quantity
                  AND original.from_bucket = NEW.to_bucket AND original.to_bucket = NEW.from_bucket
                  AND original.cause IS NEW.cause))
        )
    );
END;

CREATE TRIGGER ledger_line_posts AFTER INSERT ON ledger_line BEGIN
    -- What came in is counted up in the bucket "in"; every other bucket gives and takes.
    INSERT INTO ledger_balance (cohort_id, bucket, quantity) VALUES (NEW.cohort_id, NEW.from_bucket, 0) ON CONFLICT DO NOTHING;
    INSERT INTO ledger_balance (cohort_id, bucket, quantity) VALUES (NEW.cohort_id, NEW.to_bucket, 0) ON CONFLICT DO NOTHING;
    UPDATE ledger_balance
    SET quantity = quantity + CASE WHEN bucket = 'in' THEN NEW.quantity ELSE -NEW.quantity END
    WHERE cohort_id = NEW.cohort_id AND bucket = NEW.from_bucket;
    UPDATE ledger_balance
    SET quantity = quantity + CASE WHEN bucket = 'in' THEN -NEW.quantity ELSE NEW.quantity END
    WHERE cohort_id = NEW.cohort_id AND bucket = NEW.to_bucket;
    -- A line dated back must not leave any day after it short: day by day, no bucket ends below zero.
    SELECT RAISE(ABORT, 'ledger: fewer than that stood there on that day')
    WHERE EXISTS (
        SELECT 1 FROM (
            SELECT SUM(SUM(change)) OVER (PARTITION BY bucket ORDER BY day) AS standing
            FROM (
                SELECT day, from_bucket AS bucket, -quantity AS change FROM ledger_line
                WHERE cohort_id = NEW.cohort_id AND from_bucket <> 'in' AND from_bucket IN (NEW.from_bucket, NEW.to_bucket)
                UNION ALL
                SELECT day, to_bucket AS bucket, quantity AS change FROM ledger_line
                WHERE cohort_id = NEW.cohort_id AND to_bucket <> 'in' AND to_bucket IN (NEW.from_bucket, NEW.to_bucket)
            )
            GROUP BY bucket, day
        )
        WHERE standing < 0
    );
END;

CREATE TRIGGER ledger_balance_stays BEFORE DELETE ON ledger_balance BEGIN SELECT RAISE(ABORT, 'balances are never removed'); END;

-- Kept for breeding: how many of the living are not for sale without release. Positive holds back, negative releases.
CREATE TABLE holdback (
    id INTEGER PRIMARY KEY,
    cohort_id INTEGER NOT NULL REFERENCES cohort (id),
    day TEXT NOT NULL,
    quantity INTEGER NOT NULL CONSTRAINT holdback_is_something CHECK (quantity <> 0),
    reason TEXT NOT NULL DEFAULT '',
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL
) STRICT;
CREATE INDEX holdback_by_cohort ON holdback (cohort_id, id);
CREATE TRIGGER holdback_keeps BEFORE UPDATE ON holdback BEGIN SELECT RAISE(ABORT, 'holdbacks are never changed'); END;
CREATE TRIGGER holdback_loses_none BEFORE DELETE ON holdback BEGIN SELECT RAISE(ABORT, 'holdbacks are never removed'); END;
CREATE TRIGGER holdback_within_reason AFTER INSERT ON holdback BEGIN
    SELECT RAISE(ABORT, 'holdback: more released than held')
    WHERE (SELECT SUM(quantity) FROM holdback WHERE cohort_id = NEW.cohort_id) < 0;
    SELECT RAISE(ABORT, 'holdback: more held back than alive')
    WHERE NEW.quantity > 0 AND (SELECT SUM(quantity) FROM holdback WHERE cohort_id = NEW.cohort_id)
        > (SELECT COALESCE(SUM(quantity), 0) FROM ledger_balance JOIN bucket ON bucket.code = ledger_balance.bucket
           WHERE cohort_id = NEW.cohort_id AND bucket.kind = 'stage');
END;
-- What is held back is not sold. Asked before the line is posted: the order of triggers after it is not fixed.
CREATE TRIGGER ledger_sells_only_free BEFORE INSERT ON ledger_line
WHEN NEW.kind IN ('sold', 'moved') AND EXISTS (SELECT 1 FROM holdback WHERE cohort_id = NEW.cohort_id) BEGIN
    SELECT RAISE(ABORT, 'ledger: that many are held back')
    WHERE (SELECT SUM(quantity) FROM holdback WHERE cohort_id = NEW.cohort_id)
        > (SELECT COALESCE(SUM(quantity), 0) FROM ledger_balance JOIN bucket ON bucket.code = ledger_balance.bucket
           WHERE cohort_id = NEW.cohort_id AND bucket.kind = 'stage') - NEW.quantity;
END;

-- A tagged animal stands for exactly one of the counted: never more animals than its line took out, and of its cohort's species.
CREATE TRIGGER animal_from_ledger BEFORE INSERT ON animal WHEN NEW.origin_line_id IS NOT NULL BEGIN
    SELECT RAISE(ABORT, 'animal: its ledger line tagged no more animals than exist already')
    WHERE (SELECT COUNT(*) + 1 FROM animal WHERE origin_line_id = NEW.origin_line_id)
        > COALESCE((SELECT quantity FROM ledger_line WHERE id = NEW.origin_line_id AND kind = 'tagged'
            AND NOT EXISTS (SELECT 1 FROM ledger_line AS later WHERE later.reverses_id = NEW.origin_line_id)), 0);
    SELECT RAISE(ABORT, 'animal: it is not of its cohort''s species')
    WHERE (SELECT cohort.species_id FROM ledger_line JOIN cohort ON cohort.id = ledger_line.cohort_id WHERE ledger_line.id = NEW.origin_line_id)
        IS NOT NEW.species_id;
END;
-- Once animals carry tags, the line that made them is not reversed.
CREATE TRIGGER ledger_tagged_stays BEFORE INSERT ON ledger_line
WHEN NEW.kind = 'reversal' AND EXISTS (SELECT 1 FROM animal WHERE origin_line_id = NEW.reverses_id)
BEGIN SELECT RAISE(ABORT, 'ledger: these animals carry tags now; record what happened to each animal instead'); END;
