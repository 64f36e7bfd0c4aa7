-- Stock on the road: outings and their reconciliation, dispatch, arrival, what comes back, credit notes.

-- The house's rules for the road. All of them are common practice and may be changed here.
CREATE TABLE road_rules (
    id INTEGER PRIMARY KEY CHECK (id = 1),
    -- No dispatch when either end forecasts below or above these, in tenths of a degree Celsius.
    lowest_tenths INTEGER NOT NULL DEFAULT 50 CHECK (lowest_tenths BETWEEN -300 AND 600),
    highest_tenths INTEGER NOT NULL DEFAULT 300 CHECK (highest_tenths BETWEEN -300 AND 600),
    -- Below the first a heat pack goes in; between the two it is for whoever packs to judge.
    pack_below_tenths INTEGER NOT NULL DEFAULT 100 CHECK (pack_below_tenths BETWEEN -300 AND 600),
    pack_judge_tenths INTEGER NOT NULL DEFAULT 150 CHECK (pack_judge_tenths BETWEEN -300 AND 600),
    -- The weekdays of dispatch: bit 0 is Monday.
    weekdays INTEGER NOT NULL DEFAULT 7 CHECK (weekdays BETWEEN 1 AND 127),
    claim_hours INTEGER NOT NULL DEFAULT 2 CHECK (claim_hours BETWEEN 1 AND 168),
    return_hold_days INTEGER NOT NULL DEFAULT 30 CHECK (return_hold_days BETWEEN 1 AND 365),
    outing_hold_days INTEGER NOT NULL DEFAULT 10 CHECK (outing_hold_days BETWEEN 1 AND 365),
    version INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT road_limits CHECK (lowest_tenths < highest_tenths),
    CONSTRAINT road_packs CHECK (pack_below_tenths <= pack_judge_tenths)
) STRICT;
INSERT INTO road_rules (id) VALUES (1);

-- An outing of several days; null: one day.
ALTER TABLE outing ADD COLUMN last_day TEXT;
ALTER TABLE outing ADD COLUMN out_at TEXT;
ALTER TABLE outing ADD COLUMN out_by INTEGER REFERENCES member (id);
ALTER TABLE outing ADD COLUMN back_at TEXT;
ALTER TABLE outing ADD COLUMN back_by INTEGER REFERENCES member (id);

-- What was put into the boxes, as it was scanned: for one item the newest row stands, and 0 means that it was taken out again.
CREATE TABLE outing_packed (
    id INTEGER PRIMARY KEY,
    outing_id INTEGER NOT NULL REFERENCES outing (id),
    animal_id INTEGER REFERENCES animal (id),
    cohort_id INTEGER REFERENCES cohort (id),
    stage TEXT REFERENCES bucket (code),
    quantity INTEGER NOT NULL CONSTRAINT packed_quantity CHECK (quantity BETWEEN 0 AND 3000),
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    CONSTRAINT packed_of_one CHECK ((animal_id IS NOT NULL) + (cohort_id IS NOT NULL) = 1),
    CONSTRAINT packed_stage CHECK ((cohort_id IS NOT NULL) = (stage IS NOT NULL)),
    CONSTRAINT packed_animal_is_one CHECK (animal_id IS NULL OR quantity <= 1)
) STRICT;
CREATE INDEX outing_packed_by_outing ON outing_packed (outing_id, id);
CREATE TRIGGER outing_packed_keeps BEFORE UPDATE ON outing_packed BEGIN SELECT RAISE(ABORT, 'what was packed is never changed'); END;
CREATE TRIGGER outing_packed_loses_none BEFORE DELETE ON outing_packed BEGIN SELECT RAISE(ABORT, 'what was packed is never removed'); END;
CREATE TRIGGER outing_packed_before_it_goes BEFORE INSERT ON outing_packed
WHEN (SELECT state FROM outing WHERE id = NEW.outing_id) <> 'packing'
BEGIN SELECT RAISE(ABORT, 'outing: it is packed no longer'); END;

-- The take-out count, frozen as the outing goes out.
CREATE TABLE outing_line (
    id INTEGER PRIMARY KEY,
    outing_id INTEGER NOT NULL REFERENCES outing (id),
    animal_id INTEGER REFERENCES animal (id),
    cohort_id INTEGER REFERENCES cohort (id),
    stage TEXT REFERENCES bucket (code),
    quantity INTEGER NOT NULL CONSTRAINT outing_line_quantity CHECK (quantity BETWEEN 1 AND 3000),
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    CONSTRAINT outing_line_of_one CHECK ((animal_id IS NOT NULL) + (cohort_id IS NOT NULL) = 1),
    CONSTRAINT outing_line_stage CHECK ((cohort_id IS NOT NULL) = (stage IS NOT NULL)),
    CONSTRAINT outing_line_animal_is_one CHECK (animal_id IS NULL OR quantity = 1),
    CONSTRAINT outing_animal_once UNIQUE (outing_id, animal_id),
    CONSTRAINT outing_lot_once UNIQUE (outing_id, cohort_id, stage)
) STRICT;
CREATE INDEX outing_line_by_animal ON outing_line (animal_id) WHERE animal_id IS NOT NULL;
CREATE INDEX outing_line_by_cohort ON outing_line (cohort_id) WHERE cohort_id IS NOT NULL;
CREATE TRIGGER outing_line_keeps BEFORE UPDATE ON outing_line BEGIN SELECT RAISE(ABORT, 'take-out counts are never changed'); END;
CREATE TRIGGER outing_line_loses_none BEFORE DELETE ON outing_line BEGIN SELECT RAISE(ABORT, 'take-out counts are never removed'); END;
CREATE TRIGGER outing_line_as_it_goes BEFORE INSERT ON outing_line
WHEN (SELECT state FROM outing WHERE id = NEW.outing_id) <> 'packing'
BEGIN SELECT RAISE(ABORT, 'outing: the take-out count stands already'); END;

-- How many of each line were sold: the lines of the handovers that were made on the outing.
CREATE VIEW outing_line_sold AS
SELECT line.id AS outing_line_id, line.outing_id, COALESCE(SUM(sold.quantity), 0) AS sold
FROM outing_line AS line
LEFT JOIN handover ON handover.outing_id = line.outing_id AND handover.state = 'done'
LEFT JOIN handover_line AS sold ON sold.handover_id = handover.id AND sold.animal_id IS line.animal_id
    AND sold.cohort_id IS line.cohort_id AND sold.stage IS line.stage
GROUP BY line.id, line.outing_id;

-- What became of each line: it adds up to what went out.
CREATE TABLE outing_back (
    outing_line_id INTEGER PRIMARY KEY REFERENCES outing_line (id),
    sold INTEGER NOT NULL CHECK (sold >= 0),
    returned INTEGER NOT NULL CHECK (returned >= 0),
    dead INTEGER NOT NULL CHECK (dead >= 0),
    missing INTEGER NOT NULL CHECK (missing >= 0),
    -- The cohort in which the returned ones are counted now: their own, or the one they were taken out of.
    cohort_id INTEGER REFERENCES cohort (id),
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL
) STRICT;
CREATE TRIGGER outing_back_keeps BEFORE UPDATE ON outing_back BEGIN SELECT RAISE(ABORT, 'a reconciliation is never changed'); END;
CREATE TRIGGER outing_back_loses_none BEFORE DELETE ON outing_back BEGIN SELECT RAISE(ABORT, 'a reconciliation is never removed'); END;
CREATE TRIGGER outing_back_reconciles BEFORE INSERT ON outing_back BEGIN
    SELECT RAISE(ABORT, 'outing: out is not sold + returned + dead + missing')
    WHERE (SELECT quantity FROM outing_line WHERE id = NEW.outing_line_id) <> NEW.sold + NEW.returned + NEW.dead + NEW.missing;
    SELECT RAISE(ABORT, 'outing: another number was sold')
    WHERE (SELECT sold FROM outing_line_sold WHERE outing_line_id = NEW.outing_line_id) <> NEW.sold;
END;

CREATE TRIGGER outing_goes_its_way BEFORE UPDATE OF state ON outing WHEN OLD.state <> NEW.state BEGIN
    SELECT RAISE(ABORT, 'outing: it has ended already') WHERE OLD.state IN ('reconciled', 'cancelled');
    SELECT RAISE(ABORT, 'outing: what is out is reconciled, not cancelled') WHERE OLD.state = 'out' AND NEW.state <> 'reconciled';
    SELECT RAISE(ABORT, 'outing: nothing is taken along')
    WHERE NEW.state = 'out' AND NOT EXISTS (SELECT 1 FROM outing_line WHERE outing_id = NEW.id);
    SELECT RAISE(ABORT, 'outing: it has not gone out') WHERE NEW.state = 'reconciled' AND OLD.state <> 'out';
    SELECT RAISE(ABORT, 'outing: a line is not reconciled')
    WHERE NEW.state = 'reconciled' AND EXISTS (SELECT 1 FROM outing_line AS line WHERE line.outing_id = NEW.id
        AND NOT EXISTS (SELECT 1 FROM outing_back WHERE outing_back.outing_line_id = line.id));
    SELECT RAISE(ABORT, 'outing: a handover of it is still being made ready')
    WHERE NEW.state = 'reconciled' AND EXISTS (SELECT 1 FROM handover WHERE outing_id = NEW.id AND state = 'draft');
END;

-- A handover at the stall takes only what is out; one that fulfils an order takes what the order reserved.
CREATE TRIGGER handover_line_from_outing BEFORE INSERT ON handover_line
WHEN EXISTS (SELECT 1 FROM handover WHERE id = NEW.handover_id AND outing_id IS NOT NULL AND order_id IS NULL)
BEGIN
    SELECT RAISE(ABORT, 'handover: this is not out on the outing')
    WHERE NOT EXISTS (
        SELECT 1 FROM handover JOIN outing_line AS line ON line.outing_id = handover.outing_id
        WHERE handover.id = NEW.handover_id AND line.animal_id IS NEW.animal_id AND line.cohort_id IS NEW.cohort_id
          AND line.stage IS NEW.stage AND line.quantity >= NEW.quantity);
END;
CREATE TRIGGER handover_on_an_outing BEFORE UPDATE OF state ON handover WHEN NEW.state = 'done' AND NEW.outing_id IS NOT NULL BEGIN
    SELECT RAISE(ABORT, 'handover: its outing is not out')
    WHERE (SELECT state FROM outing WHERE id = NEW.outing_id) <> 'out' AND NEW.order_id IS NULL;
    -- An order that is fulfilled after the outing was counted would change the count.
    SELECT RAISE(ABORT, 'handover: its outing has been reconciled already')
    WHERE (SELECT state FROM outing WHERE id = NEW.outing_id) = 'reconciled' AND EXISTS (
        SELECT 1 FROM handover_line AS mine JOIN outing_line AS line ON line.outing_id = NEW.outing_id AND line.animal_id IS mine.animal_id
            AND line.cohort_id IS mine.cohort_id AND line.stage IS mine.stage
        WHERE mine.handover_id = NEW.id);
    SELECT RAISE(ABORT, 'handover: fewer than that are left on the outing')
    WHERE EXISTS (
        SELECT 1 FROM handover_line AS mine
        JOIN outing_line AS line ON line.outing_id = NEW.outing_id AND line.animal_id IS mine.animal_id
            AND line.cohort_id IS mine.cohort_id AND line.stage IS mine.stage
        JOIN outing_line_sold ON outing_line_sold.outing_line_id = line.id
        WHERE mine.handover_id = NEW.id AND outing_line_sold.sold + mine.quantity > line.quantity);
END;

-- A journey as planned, with the forecast at both ends in tenths of the unit that it was typed in. The newest stands.
CREATE TABLE journey (
    id INTEGER PRIMARY KEY,
    handover_id INTEGER NOT NULL REFERENCES handover (id),
    carrier TEXT NOT NULL CONSTRAINT carrier_length CHECK (length(carrier) BETWEEN 1 AND 120),
    day TEXT NOT NULL,
    unit TEXT NOT NULL CHECK (unit IN ('c', 'f')),
    here_low INTEGER NOT NULL,
    here_high INTEGER NOT NULL,
    there_low INTEGER NOT NULL,
    there_high INTEGER NOT NULL,
    note TEXT NOT NULL DEFAULT '',
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    CONSTRAINT journey_in_order CHECK (here_low <= here_high AND there_low <= there_high)
) STRICT;
CREATE INDEX journey_by_handover ON journey (handover_id, id);
-- But for words that may tell of a buyer who was erased.
CREATE TRIGGER journey_keeps BEFORE UPDATE ON journey
WHEN NOT ((SELECT buyer.erased_at FROM handover JOIN buyer ON buyer.id = handover.buyer_id WHERE handover.id = OLD.handover_id) IS NOT NULL
    AND NEW.note = '' AND NEW.id = OLD.id AND NEW.handover_id = OLD.handover_id AND NEW.carrier = OLD.carrier AND NEW.day = OLD.day
    AND NEW.unit = OLD.unit AND NEW.here_low = OLD.here_low AND NEW.here_high = OLD.here_high AND NEW.there_low = OLD.there_low
    AND NEW.there_high = OLD.there_high AND NEW.member_id IS OLD.member_id AND NEW.at = OLD.at)
BEGIN SELECT RAISE(ABORT, 'a planned journey is never changed; plan another'); END;
CREATE TRIGGER journey_loses_none BEFORE DELETE ON journey BEGIN SELECT RAISE(ABORT, 'planned journeys are never removed'); END;
CREATE TRIGGER journey_before_it_goes BEFORE INSERT ON journey
WHEN (SELECT state FROM handover WHERE id = NEW.handover_id) <> 'draft'
BEGIN SELECT RAISE(ABORT, 'handover: it has ended, so no journey is planned'); END;
CREATE VIEW journey_standing AS
SELECT * FROM journey WHERE NOT EXISTS (
    SELECT 1 FROM journey AS later WHERE later.handover_id = journey.handover_id AND later.id > journey.id);

-- What is sent goes on its planned day, within the limits, unless a lead wrote why. In eighteenths of a tenth of a degree, so that
-- Celsius and Fahrenheit are held to the limits exactly.
CREATE TRIGGER handover_is_sent BEFORE UPDATE OF state ON handover WHEN NEW.state = 'done' AND NEW.way = 'dispatch' BEGIN
    SELECT RAISE(ABORT, 'handover: no journey is planned')
    WHERE NOT EXISTS (SELECT 1 FROM journey WHERE handover_id = NEW.id);
    SELECT RAISE(ABORT, 'handover: the rule of temperature and day stops the dispatch')
    WHERE NEW.override_reason = '' AND EXISTS (
        SELECT 1 FROM journey_standing AS journey, road_rules AS rules
        WHERE journey.handover_id = NEW.id AND (
            journey.day <> NEW.day
            OR ((rules.weekdays >> ((CAST(strftime('%w', NEW.day) AS INTEGER) + 6) % 7)) & 1) = 0
            OR MIN(journey.here_low, journey.there_low) * CASE unit WHEN 'c' THEN 18 ELSE 10 END - CASE unit WHEN 'c' THEN 0 ELSE 3200 END
                < rules.lowest_tenths * 18
            OR MAX(journey.here_high, journey.there_high) * CASE unit WHEN 'c' THEN 18 ELSE 10 END - CASE unit WHEN 'c' THEN 0 ELSE 3200 END
                > rules.highest_tenths * 18));
END;

-- How what was sent arrived. A later entry corrects an earlier one.
CREATE TABLE arrival (
    id INTEGER PRIMARY KEY,
    handover_id INTEGER NOT NULL REFERENCES handover (id),
    corrects_id INTEGER UNIQUE REFERENCES arrival (id),
    arrived_at TEXT NOT NULL,
    -- When the buyer told of dead or injured ones; null when there was no claim.
    claimed_at TEXT,
    -- Within how many hours a claim counts, as the rule stood.
    claim_hours INTEGER NOT NULL,
    note TEXT NOT NULL DEFAULT '',
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    CONSTRAINT claim_not_before_arrival CHECK (claimed_at IS NULL OR claimed_at >= arrived_at)
) STRICT;
CREATE INDEX arrival_by_handover ON arrival (handover_id, id);
-- One first entry a handover: every further one corrects the one before it.
CREATE UNIQUE INDEX arrival_first ON arrival (handover_id) WHERE corrects_id IS NULL;
CREATE TRIGGER arrival_keeps BEFORE UPDATE ON arrival
WHEN NOT ((SELECT buyer.erased_at FROM handover JOIN buyer ON buyer.id = handover.buyer_id WHERE handover.id = OLD.handover_id) IS NOT NULL
    AND NEW.note = '' AND NEW.id = OLD.id AND NEW.handover_id = OLD.handover_id AND NEW.corrects_id IS OLD.corrects_id
    AND NEW.arrived_at = OLD.arrived_at AND NEW.claimed_at IS OLD.claimed_at AND NEW.claim_hours = OLD.claim_hours
    AND NEW.member_id IS OLD.member_id AND NEW.at = OLD.at)
BEGIN SELECT RAISE(ABORT, 'arrivals are never changed; a later entry corrects them'); END;
CREATE TRIGGER arrival_loses_none BEFORE DELETE ON arrival BEGIN SELECT RAISE(ABORT, 'arrivals are never removed'); END;
CREATE TRIGGER arrival_of_what_was_sent BEFORE INSERT ON arrival BEGIN
    SELECT RAISE(ABORT, 'handover: only what was sent arrives')
    WHERE NOT EXISTS (SELECT 1 FROM handover WHERE id = NEW.handover_id AND state = 'done' AND way = 'dispatch');
    SELECT RAISE(ABORT, 'handover: this arrival was corrected already')
    WHERE NEW.corrects_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM arrival WHERE id = NEW.corrects_id AND handover_id = NEW.handover_id);
END;
CREATE VIEW arrival_standing AS
SELECT * FROM arrival WHERE NOT EXISTS (SELECT 1 FROM arrival AS later WHERE later.corrects_id = arrival.id);
CREATE TABLE arrival_line (
    arrival_id INTEGER NOT NULL REFERENCES arrival (id),
    handover_line_id INTEGER NOT NULL REFERENCES handover_line (id),
    alive INTEGER NOT NULL CHECK (alive >= 0),
    injured INTEGER NOT NULL CHECK (injured >= 0),
    dead INTEGER NOT NULL CHECK (dead >= 0),
    PRIMARY KEY (arrival_id, handover_line_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX arrival_line_by_line ON arrival_line (handover_line_id);
CREATE TRIGGER arrival_line_keeps BEFORE UPDATE ON arrival_line BEGIN SELECT RAISE(ABORT, 'arrivals are never changed; a later entry corrects them'); END;
CREATE TRIGGER arrival_line_loses_none BEFORE DELETE ON arrival_line BEGIN SELECT RAISE(ABORT, 'arrivals are never removed'); END;
CREATE TRIGGER arrival_line_adds_up BEFORE INSERT ON arrival_line BEGIN
    SELECT RAISE(ABORT, 'handover: alive, injured and dead are not what was sent')
    WHERE NOT EXISTS (
        SELECT 1 FROM handover_line AS line JOIN arrival ON arrival.id = NEW.arrival_id AND arrival.handover_id = line.handover_id
        WHERE line.id = NEW.handover_line_id AND line.quantity = NEW.alive + NEW.injured + NEW.dead);
END;

-- What a buyer brought back. An animal is the same animal again; a number out of a cohort comes in as a cohort of its own.
CREATE TABLE sale_return (
    id INTEGER PRIMARY KEY,
    handover_line_id INTEGER NOT NULL REFERENCES handover_line (id),
    animal_id INTEGER REFERENCES animal (id),
    cohort_id INTEGER REFERENCES cohort (id),
    quantity INTEGER NOT NULL CONSTRAINT return_quantity CHECK (quantity BETWEEN 1 AND 3000),
    day TEXT NOT NULL,
    reason TEXT NOT NULL CONSTRAINT return_reason CHECK (length(reason) BETWEEN 1 AND 400),
    condition TEXT NOT NULL DEFAULT '',
    -- Whether the animal has come back into the book by it: once.
    taken_back INTEGER NOT NULL DEFAULT 0 CHECK (taken_back IN (0, 1)),
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL,
    CONSTRAINT return_of_one CHECK ((animal_id IS NOT NULL) + (cohort_id IS NOT NULL) = 1)
) STRICT;
CREATE INDEX sale_return_by_line ON sale_return (handover_line_id);
CREATE INDEX sale_return_by_animal ON sale_return (animal_id, taken_back) WHERE animal_id IS NOT NULL;
-- It is marked once as the animal comes back; and the words go when the buyer is erased.
CREATE TRIGGER sale_return_keeps BEFORE UPDATE ON sale_return
WHEN OLD.id <> NEW.id OR OLD.handover_line_id <> NEW.handover_line_id OR OLD.animal_id IS NOT NEW.animal_id
    OR OLD.cohort_id IS NOT NEW.cohort_id OR OLD.quantity <> NEW.quantity OR OLD.day <> NEW.day OR OLD.taken_back > NEW.taken_back
    OR OLD.member_id IS NOT NEW.member_id OR OLD.at <> NEW.at
    OR ((OLD.reason <> NEW.reason OR OLD.condition <> NEW.condition) AND NOT (
        NEW.reason = '(erased with the buyer)' AND NEW.condition = ''
        AND (SELECT buyer.erased_at FROM handover_line AS line JOIN handover ON handover.id = line.handover_id
             JOIN buyer ON buyer.id = handover.buyer_id WHERE line.id = OLD.handover_line_id) IS NOT NULL))
BEGIN SELECT RAISE(ABORT, 'returns are never changed'); END;
CREATE TRIGGER sale_return_stays BEFORE DELETE ON sale_return BEGIN SELECT RAISE(ABORT, 'returns are never removed'); END;
CREATE TRIGGER sale_return_of_what_was_sold BEFORE INSERT ON sale_return BEGIN
    SELECT RAISE(ABORT, 'handover: only what was handed over comes back')
    WHERE NOT EXISTS (
        SELECT 1 FROM handover_line AS line JOIN handover ON handover.id = line.handover_id
        WHERE line.id = NEW.handover_line_id AND handover.state = 'done' AND handover.day <= NEW.day AND line.animal_id IS NEW.animal_id
          AND NEW.taken_back = 0);
    SELECT RAISE(ABORT, 'handover: more would come back than left')
    WHERE (SELECT COALESCE(SUM(quantity), 0) FROM sale_return WHERE handover_line_id = NEW.handover_line_id) + NEW.quantity
        > (SELECT quantity FROM handover_line WHERE id = NEW.handover_line_id);
END;

-- An animal that died stays dead. One that was sold comes back only by a return, and each return brings it back once.
DROP TRIGGER animal_status_path;
CREATE TRIGGER animal_status_path BEFORE UPDATE OF status ON animal
WHEN OLD.status <> NEW.status AND OLD.status IN ('dead', 'sold')
    AND NOT (OLD.status = 'sold' AND NEW.status = 'alive'
             AND EXISTS (SELECT 1 FROM sale_return WHERE animal_id = OLD.id AND taken_back = 0))
BEGIN SELECT RAISE(ABORT, 'an animal that has died or been sold does not change its status'); END;
CREATE TRIGGER animal_comes_back AFTER UPDATE OF status ON animal WHEN OLD.status = 'sold' AND NEW.status = 'alive'
BEGIN UPDATE sale_return SET taken_back = 1 WHERE animal_id = NEW.id AND taken_back = 0; END;

-- Sold once, unless it has come back since.
DROP TRIGGER handover_done_is_whole;
CREATE TRIGGER handover_done_is_whole BEFORE UPDATE OF state ON handover WHEN NEW.state = 'done' BEGIN
    SELECT RAISE(ABORT, 'handover: nothing is on it')
    WHERE NOT EXISTS (SELECT 1 FROM handover_line WHERE handover_id = NEW.id);
    SELECT RAISE(ABORT, 'handover: a line has no care sheet')
    WHERE EXISTS (SELECT 1 FROM handover_line AS line WHERE line.handover_id = NEW.id
        AND NOT EXISTS (SELECT 1 FROM paper WHERE paper.handover_line_id = line.id AND paper.kind = 'care-sheet'));
    SELECT RAISE(ABORT, 'handover: a line has not left the stock')
    WHERE EXISTS (SELECT 1 FROM handover_line AS line WHERE line.handover_id = NEW.id AND (
        (line.animal_id IS NOT NULL AND (SELECT status FROM animal WHERE id = line.animal_id) <> 'sold')
        OR (line.cohort_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM ledger_line WHERE ledger_line.id = line.ledger_line_id
            AND kind = 'sold' AND cohort_id = line.cohort_id AND from_bucket = line.stage AND quantity = line.quantity))));
    SELECT RAISE(ABORT, 'handover: an animal on it has been sold already')
    WHERE EXISTS (SELECT 1 FROM handover_line AS mine JOIN handover_line AS other ON other.animal_id = mine.animal_id
        JOIN handover ON handover.id = other.handover_id
        WHERE mine.handover_id = NEW.id AND other.handover_id <> NEW.id AND handover.state = 'done'
          AND NOT EXISTS (SELECT 1 FROM sale_return WHERE sale_return.handover_line_id = other.id AND taken_back = 1));
END;

-- What a credit note gave back, for each line of the handover, in minor units as the line was priced.
CREATE TABLE credit_note (
    paper_id INTEGER PRIMARY KEY REFERENCES paper (id),
    handover_id INTEGER NOT NULL REFERENCES handover (id),
    currency TEXT NOT NULL CHECK (length(currency) = 3),
    tax_percent TEXT NOT NULL,
    prices_include_tax INTEGER NOT NULL CHECK (prices_include_tax IN (0, 1)),
    net_minor INTEGER NOT NULL,
    tax_minor INTEGER NOT NULL,
    gross_minor INTEGER NOT NULL,
    CONSTRAINT credit_adds_up CHECK (net_minor + tax_minor = gross_minor AND tax_minor >= 0 AND net_minor >= 0 AND gross_minor > 0)
) STRICT;
CREATE INDEX credit_note_by_handover ON credit_note (handover_id);
CREATE TRIGGER credit_note_keeps BEFORE UPDATE ON credit_note BEGIN SELECT RAISE(ABORT, 'credit notes are never changed'); END;
CREATE TRIGGER credit_note_loses_none BEFORE DELETE ON credit_note BEGIN SELECT RAISE(ABORT, 'credit notes are never removed'); END;
CREATE TABLE credit_line (
    paper_id INTEGER NOT NULL REFERENCES credit_note (paper_id),
    handover_line_id INTEGER NOT NULL REFERENCES handover_line (id),
    quantity INTEGER NOT NULL CHECK (quantity BETWEEN 1 AND 3000),
    why TEXT NOT NULL CHECK (why IN ('returned', 'dead-on-arrival', 'injured', 'goodwill')),
    -- What was charged for the whole line.
    charged_minor INTEGER NOT NULL CHECK (charged_minor > 0),
    amount_minor INTEGER NOT NULL CHECK (amount_minor > 0),
    PRIMARY KEY (paper_id, handover_line_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX credit_line_by_line ON credit_line (handover_line_id);
CREATE TRIGGER credit_line_keeps BEFORE UPDATE ON credit_line BEGIN SELECT RAISE(ABORT, 'credit notes are never changed'); END;
CREATE TRIGGER credit_line_loses_none BEFORE DELETE ON credit_line BEGIN SELECT RAISE(ABORT, 'credit notes are never removed'); END;
CREATE TRIGGER credit_line_within BEFORE INSERT ON credit_line BEGIN
    SELECT RAISE(ABORT, 'credit: this line is of another handover')
    WHERE NOT EXISTS (
        SELECT 1 FROM credit_note JOIN handover_line AS line ON line.handover_id = credit_note.handover_id
        WHERE credit_note.paper_id = NEW.paper_id AND line.id = NEW.handover_line_id AND line.quantity >= NEW.quantity);
    SELECT RAISE(ABORT, 'credit: another amount was charged for this line by an earlier credit note')
    WHERE EXISTS (SELECT 1 FROM credit_line WHERE handover_line_id = NEW.handover_line_id AND charged_minor <> NEW.charged_minor);
    SELECT RAISE(ABORT, 'credit: more than was charged for this line')
    WHERE (SELECT COALESCE(SUM(amount_minor), 0) FROM credit_line WHERE handover_line_id = NEW.handover_line_id) + NEW.amount_minor
        > NEW.charged_minor;
END;
