-- Prey: kinds and sizes as the house names them, which of them a spider is usually given, and the book of what came, went and was counted.

CREATE TABLE prey_kind (
    id INTEGER PRIMARY KEY,
    -- Generic words: cricket, cockroach, fruit fly.
    name TEXT NOT NULL CONSTRAINT prey_has_name CHECK (length(name) > 0),
    size TEXT NOT NULL CONSTRAINT prey_has_size CHECK (length(size) > 0),
    -- Body length.
    length_mm INTEGER NOT NULL CHECK (length_mm BETWEEN 1 AND 100),
    per_pack INTEGER NOT NULL CHECK (per_pack BETWEEN 1 AND 100000),
    -- Offered by default where its length fits; others only where somebody chooses them.
    staple INTEGER NOT NULL DEFAULT 1 CHECK (staple IN (0, 1)),
    active INTEGER NOT NULL DEFAULT 1 CHECK (active IN (0, 1)),
    version INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT prey_kind_unique UNIQUE (name, size)
) STRICT;
CREATE TRIGGER prey_kind_stays BEFORE DELETE ON prey_kind BEGIN SELECT RAISE(ABORT, 'kinds of prey are never removed'); END;

-- How long prey may be for a spider of a size, as a share of its leg span. Common practice, no source: the house changes them.
CREATE TABLE prey_rule (
    class TEXT PRIMARY KEY CHECK (class IN ('small', 'sling', 'larger', 'mature-male')),
    most_percent INTEGER NOT NULL CHECK (most_percent BETWEEN 1 AND 200),
    each INTEGER NOT NULL CHECK (each BETWEEN 1 AND 50),
    -- Pre-killed or cut: what is refused does not go back to stock.
    killed INTEGER NOT NULL CHECK (killed IN (0, 1))
) STRICT, WITHOUT ROWID;
INSERT INTO prey_rule (class, most_percent, each, killed)
VALUES ('small', 40, 1, 1), ('sling', 20, 1, 0), ('larger', 40, 1, 0), ('mature-male', 20, 1, 0);

-- Days from an order to its delivery, and how many days an order is to last.
ALTER TABLE site ADD COLUMN prey_lead_days INTEGER NOT NULL DEFAULT 3 CHECK (prey_lead_days BETWEEN 0 AND 30);
ALTER TABLE site ADD COLUMN prey_cover_days INTEGER NOT NULL DEFAULT 14 CHECK (prey_cover_days BETWEEN 1 AND 28);

-- What one animal or cohort is usually given, where it is not by the rule. The newest entry counts; no kind: by the rule again.
CREATE TABLE prey_usual (
    id INTEGER PRIMARY KEY,
    animal_id INTEGER REFERENCES animal (id),
    cohort_id INTEGER REFERENCES cohort (id),
    kind_id INTEGER REFERENCES prey_kind (id),
    each INTEGER NOT NULL CHECK (each BETWEEN 1 AND 50),
    note TEXT NOT NULL DEFAULT '',
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    CONSTRAINT prey_usual_of_one CHECK ((animal_id IS NOT NULL) + (cohort_id IS NOT NULL) = 1)
) STRICT;
CREATE INDEX prey_usual_by_animal ON prey_usual (animal_id, id) WHERE animal_id IS NOT NULL;
CREATE INDEX prey_usual_by_cohort ON prey_usual (cohort_id, id) WHERE cohort_id IS NOT NULL;
CREATE TRIGGER prey_usual_keeps BEFORE UPDATE ON prey_usual BEGIN SELECT RAISE(ABORT, 'usual prey is changed by a later entry'); END;
CREATE TRIGGER prey_usual_loses_none BEFORE DELETE ON prey_usual BEGIN SELECT RAISE(ABORT, 'entries of usual prey are never removed'); END;

-- What a meal took from stock. Spent: offered, not taken, and gone all the same (pre-killed, or taken out after a night).
ALTER TABLE meal ADD COLUMN prey_kind_id INTEGER REFERENCES prey_kind (id);
ALTER TABLE meal ADD COLUMN prey_each INTEGER NOT NULL DEFAULT 0 CHECK (prey_each BETWEEN 0 AND 50);
ALTER TABLE meal ADD COLUMN prey_spent INTEGER NOT NULL DEFAULT 0 CHECK (prey_spent IN (0, 1));
ALTER TABLE meal ADD COLUMN prey_used INTEGER GENERATED ALWAYS AS (
    CASE WHEN prey_kind_id IS NULL OR void = 1 OR (outcome = 'refused' AND prey_spent = 0) THEN 0 ELSE prey_each END) VIRTUAL;
ALTER TABLE cohort_meal ADD COLUMN prey_kind_id INTEGER REFERENCES prey_kind (id);
ALTER TABLE cohort_meal ADD COLUMN prey_each INTEGER NOT NULL DEFAULT 0 CHECK (prey_each BETWEEN 0 AND 50);
-- From how many of those that refused it did not go back.
ALTER TABLE cohort_meal ADD COLUMN prey_spent INTEGER NOT NULL DEFAULT 0 CHECK (prey_spent >= 0);
ALTER TABLE cohort_meal ADD COLUMN prey_used INTEGER GENERATED ALWAYS AS (
    CASE WHEN prey_kind_id IS NULL OR void = 1 THEN 0 ELSE (took + left_in + prey_spent) * prey_each END) VIRTUAL;

CREATE TABLE prey_line (
    id INTEGER PRIMARY KEY,
    kind_id INTEGER NOT NULL REFERENCES prey_kind (id),
    day TEXT NOT NULL,
    what TEXT NOT NULL CHECK (what IN ('delivered', 'used', 'died', 'thrown', 'counted', 'reversed')),
    -- By how much it changes what is on hand.
    quantity INTEGER NOT NULL CHECK (quantity BETWEEN -10000000 AND 10000000),
    -- What was found, for a count.
    counted INTEGER CHECK (counted >= 0),
    -- What a delivery cost, in minor units of the house's currency.
    cost_minor INTEGER CHECK (cost_minor >= 0),
    meal_id INTEGER REFERENCES meal (id),
    cohort_meal_id INTEGER REFERENCES cohort_meal (id),
    signoff_id INTEGER REFERENCES signoff (id),
    reverses_id INTEGER UNIQUE REFERENCES prey_line (id),
    note TEXT NOT NULL DEFAULT '',
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    CONSTRAINT prey_line_sign CHECK (CASE what WHEN 'delivered' THEN quantity > 0 WHEN 'died' THEN quantity < 0 WHEN 'thrown' THEN quantity < 0
        WHEN 'counted' THEN 1 ELSE quantity <> 0 END),
    CONSTRAINT prey_line_cost CHECK (cost_minor IS NULL OR what = 'delivered'),
    CONSTRAINT prey_line_count CHECK (counted IS NULL OR what = 'counted'),
    CONSTRAINT prey_line_reverses CHECK ((what = 'reversed') = (reverses_id IS NOT NULL)),
    CONSTRAINT prey_line_meal CHECK ((what = 'used') = (meal_id IS NOT NULL OR cohort_meal_id IS NOT NULL))
) STRICT;
CREATE INDEX prey_line_by_kind ON prey_line (kind_id, id);
CREATE INDEX prey_line_by_count ON prey_line (kind_id, day) WHERE counted IS NOT NULL;
CREATE INDEX prey_line_by_day ON prey_line (day, id);
CREATE TRIGGER prey_line_keeps BEFORE UPDATE ON prey_line BEGIN SELECT RAISE(ABORT, 'lines of prey are never changed'); END;
CREATE TRIGGER prey_line_loses_none BEFORE DELETE ON prey_line BEGIN SELECT RAISE(ABORT, 'lines of prey are never removed'); END;

-- What is on hand by the book. Below zero: more was used than ever came, so it was counted wrong.
CREATE TABLE prey_balance (
    kind_id INTEGER PRIMARY KEY REFERENCES prey_kind (id),
    quantity INTEGER NOT NULL
) STRICT;
CREATE TRIGGER prey_balance_stays BEFORE DELETE ON prey_balance BEGIN SELECT RAISE(ABORT, 'balances are never removed'); END;

-- Nothing dies or is thrown away that is not there; what was fed was fed, and is written whatever the book had.
CREATE TRIGGER prey_loss_within_stock BEFORE INSERT ON prey_line WHEN NEW.what IN ('died', 'thrown') BEGIN
    SELECT RAISE(ABORT, 'prey: fewer than that are on hand; count first')
    WHERE -NEW.quantity > COALESCE((SELECT quantity FROM prey_balance WHERE kind_id = NEW.kind_id), 0)
      AND NEW.day >= COALESCE((SELECT MAX(day) FROM prey_line WHERE kind_id = NEW.kind_id AND counted IS NOT NULL), '');
END;
-- A correction takes back the whole of one line of the same kind that somebody entered.
CREATE TRIGGER prey_reversal_fits BEFORE INSERT ON prey_line WHEN NEW.reverses_id IS NOT NULL BEGIN
    SELECT RAISE(ABORT, 'prey: only a delivery or a loss is taken back, as it stands')
    WHERE NOT EXISTS (SELECT 1 FROM prey_line AS line WHERE line.id = NEW.reverses_id AND line.kind_id = NEW.kind_id
        AND line.what IN ('delivered', 'died', 'thrown') AND line.quantity = -NEW.quantity AND line.day = NEW.day);
END;
CREATE TRIGGER prey_line_posts AFTER INSERT ON prey_line BEGIN
    INSERT INTO prey_balance (kind_id, quantity) VALUES (NEW.kind_id, NEW.quantity)
    ON CONFLICT (kind_id) DO UPDATE SET quantity = quantity + excluded.quantity;
END;
-- What is entered late for a day before the last count was seen by that count: it is in the figure already.
CREATE TRIGGER prey_count_has_it AFTER INSERT ON prey_line
WHEN NEW.what <> 'counted' AND NEW.quantity <> 0
    AND NEW.day < (SELECT MAX(day) FROM prey_line WHERE kind_id = NEW.kind_id AND counted IS NOT NULL)
BEGIN
    INSERT INTO prey_line (kind_id, day, what, quantity, note, member_id, at)
    VALUES (NEW.kind_id, NEW.day, 'counted', -NEW.quantity, 'entered late: the count after that day has it', NEW.member_id, NEW.at);
END;

-- Each entry of a meal takes from stock what it uses more than the entry in whose place it stands.
CREATE TRIGGER meal_uses_prey AFTER INSERT ON meal BEGIN
    INSERT INTO prey_line (kind_id, day, what, quantity, meal_id, signoff_id, member_id, at)
    SELECT kind_id, NEW.day, 'used', SUM(change), NEW.id, NEW.signoff_id, NEW.member_id, NEW.at
    FROM (SELECT NEW.prey_kind_id AS kind_id, -NEW.prey_used AS change
          UNION ALL SELECT prey_kind_id, prey_used FROM meal WHERE id = NEW.corrects_id)
    WHERE kind_id IS NOT NULL GROUP BY kind_id HAVING SUM(change) <> 0;
END;
CREATE TRIGGER cohort_meal_uses_prey AFTER INSERT ON cohort_meal BEGIN
    INSERT INTO prey_line (kind_id, day, what, quantity, cohort_meal_id, signoff_id, member_id, at)
    SELECT kind_id, NEW.day, 'used', SUM(change), NEW.id, NEW.signoff_id, NEW.member_id, NEW.at
    FROM (SELECT NEW.prey_kind_id AS kind_id, -NEW.prey_used AS change
          UNION ALL SELECT prey_kind_id, prey_used FROM cohort_meal WHERE id = NEW.corrects_id)
    WHERE kind_id IS NOT NULL GROUP BY kind_id HAVING SUM(change) <> 0;
END;
