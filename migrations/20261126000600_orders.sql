-- Orders with prices: the house's money, price lists, what is sold by single or by pack, and the check of what was packed.

-- The house's one currency, its tax, and what receipts say of the seller. No row until an owner has set it: there are no prices before.
CREATE TABLE trade_terms (
    id INTEGER PRIMARY KEY CONSTRAINT terms_are_one_row CHECK (id = 1),
    currency TEXT NOT NULL CONSTRAINT terms_currency CHECK (length(currency) = 3),
    decimals INTEGER NOT NULL CONSTRAINT terms_decimals CHECK (decimals BETWEEN 0 AND 4),
    tax_name TEXT NOT NULL DEFAULT 'Tax' CONSTRAINT tax_name_length CHECK (length(tax_name) BETWEEN 1 AND 40),
    tax_percent TEXT NOT NULL,
    prices_include_tax INTEGER NOT NULL CHECK (prices_include_tax IN (0, 1)),
    rounding TEXT NOT NULL CHECK (rounding IN ('document', 'line')),
    tax_number TEXT NOT NULL DEFAULT '',
    -- How many days an order keeps its stock unless somebody says otherwise.
    reserve_days INTEGER NOT NULL DEFAULT 7 CONSTRAINT reserve_days_range CHECK (reserve_days BETWEEN 1 AND 365),
    changed_by INTEGER REFERENCES member (id),
    changed_at TEXT NOT NULL,
    version INTEGER NOT NULL DEFAULT 1
) STRICT;
CREATE TRIGGER terms_stay BEFORE DELETE ON trade_terms BEGIN SELECT RAISE(ABORT, 'the terms of trade are changed, never removed'); END;

-- A price list is a draft until it is published; then it is never changed. The one that began last holds.
CREATE TABLE price_list (
    id INTEGER PRIMARY KEY,
    currency TEXT NOT NULL,
    decimals INTEGER NOT NULL,
    valid_from TEXT,
    published_at TEXT,
    published_by INTEGER REFERENCES member (id),
    note TEXT NOT NULL DEFAULT '',
    made_by INTEGER REFERENCES member (id),
    made_at TEXT NOT NULL,
    CONSTRAINT list_published_has_day CHECK ((published_at IS NULL) = (valid_from IS NULL))
) STRICT;
CREATE INDEX price_list_by_day ON price_list (valid_from, id) WHERE published_at IS NOT NULL;
CREATE TRIGGER price_list_keeps BEFORE UPDATE ON price_list WHEN OLD.published_at IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'handover: a price list that was published is never changed: a new one takes its place'); END;
CREATE TRIGGER price_list_stays BEFORE DELETE ON price_list WHEN OLD.published_at IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'handover: a price list that was published stays readable'); END;

-- A price: for a stage, or for a range of leg spans, of one sex or any, for one or for a pack.
CREATE TABLE price (
    id INTEGER PRIMARY KEY,
    list_id INTEGER NOT NULL REFERENCES price_list (id),
    species_id INTEGER NOT NULL REFERENCES species (id),
    stage TEXT REFERENCES bucket (code),
    from_mm INTEGER CONSTRAINT price_from_mm CHECK (from_mm BETWEEN 0 AND 400),
    to_mm INTEGER CONSTRAINT price_to_mm CHECK (to_mm BETWEEN from_mm AND 400),
    sex TEXT NOT NULL DEFAULT 'any' CHECK (sex IN ('any', 'female', 'male', 'unknown')),
    pack_of INTEGER NOT NULL DEFAULT 1 CONSTRAINT price_pack CHECK (pack_of BETWEEN 1 AND 1000),
    amount_minor INTEGER NOT NULL CONSTRAINT price_amount CHECK (amount_minor BETWEEN 0 AND 100000000),
    CONSTRAINT price_by_stage_or_size CHECK ((stage IS NULL) = (from_mm IS NOT NULL) AND (from_mm IS NULL) = (to_mm IS NULL))
) STRICT;
CREATE UNIQUE INDEX price_once ON price (list_id, species_id, COALESCE(stage, ''), COALESCE(from_mm, -1), COALESCE(to_mm, -1), sex, pack_of);
CREATE TRIGGER price_in_draft BEFORE INSERT ON price WHEN (SELECT published_at FROM price_list WHERE id = NEW.list_id) IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'handover: a price list that was published is never changed: a new one takes its place'); END;
CREATE TRIGGER price_keeps BEFORE UPDATE ON price WHEN (SELECT published_at FROM price_list WHERE id = OLD.list_id) IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'handover: a price list that was published is never changed: a new one takes its place'); END;
CREATE TRIGGER price_stays BEFORE DELETE ON price WHEN (SELECT published_at FROM price_list WHERE id = OLD.list_id) IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'handover: a price list that was published is never changed: a new one takes its place'); END;

-- Until which day an order keeps its stock.
ALTER TABLE sale_order ADD COLUMN reserve_until TEXT;

-- What is sold at which price, on an order, on a handover, or on an order and the handover made from it. The pieces of a lot's
-- lines add up to its one line of stock on the handover.
CREATE TABLE sale_line (
    id INTEGER PRIMARY KEY,
    order_id INTEGER REFERENCES sale_order (id),
    handover_id INTEGER REFERENCES handover (id),
    animal_id INTEGER REFERENCES animal (id),
    cohort_id INTEGER REFERENCES cohort (id),
    stage TEXT REFERENCES bucket (code),
    packs INTEGER NOT NULL DEFAULT 1 CONSTRAINT line_packs CHECK (packs BETWEEN 1 AND 3000),
    pack_of INTEGER NOT NULL DEFAULT 1 CONSTRAINT line_pack_of CHECK (pack_of BETWEEN 1 AND 3000),
    -- The price of one pack by the list on the day it was added; null when the list had none.
    list_minor INTEGER CONSTRAINT line_list CHECK (list_minor BETWEEN 0 AND 100000000),
    -- What is asked for one pack; null while nobody has said.
    unit_minor INTEGER CONSTRAINT line_unit CHECK (unit_minor BETWEEN 0 AND 100000000),
    CONSTRAINT sale_line_somewhere CHECK (COALESCE(order_id, handover_id) IS NOT NULL),
    CONSTRAINT sale_line_of_one CHECK ((animal_id IS NOT NULL) + (cohort_id IS NOT NULL) = 1),
    CONSTRAINT sale_line_stage CHECK ((cohort_id IS NOT NULL) = (stage IS NOT NULL)),
    CONSTRAINT sale_line_animal_is_one CHECK (animal_id IS NULL OR (packs = 1 AND pack_of = 1)),
    CONSTRAINT sale_line_pieces CHECK (packs * pack_of <= 3000)
) STRICT;
CREATE UNIQUE INDEX sale_line_animal_of_order ON sale_line (order_id, animal_id) WHERE animal_id IS NOT NULL AND order_id IS NOT NULL;
CREATE INDEX sale_line_by_order ON sale_line (order_id) WHERE order_id IS NOT NULL;
CREATE INDEX sale_line_by_handover ON sale_line (handover_id) WHERE handover_id IS NOT NULL;
INSERT INTO sale_line (handover_id, animal_id, cohort_id, stage, packs)
SELECT handover_id, animal_id, cohort_id, stage, quantity FROM handover_line;

CREATE TRIGGER sale_line_open BEFORE INSERT ON sale_line
WHEN COALESCE((SELECT state FROM handover WHERE id = NEW.handover_id), 'draft') <> 'draft'
    OR COALESCE((SELECT state FROM sale_order WHERE id = NEW.order_id), 'open') <> 'open'
BEGIN SELECT RAISE(ABORT, 'handover: what has ended takes no more lines'); END;
CREATE TRIGGER sale_line_keeps BEFORE UPDATE ON sale_line
WHEN COALESCE((SELECT state FROM handover WHERE id = OLD.handover_id), 'draft') = 'done'
    OR COALESCE((SELECT state FROM sale_order WHERE id = OLD.order_id), 'open') <> 'open'
BEGIN SELECT RAISE(ABORT, 'handover: what has ended keeps its prices'); END;
CREATE TRIGGER sale_line_stays BEFORE DELETE ON sale_line
WHEN COALESCE((SELECT state FROM handover WHERE id = OLD.handover_id), 'draft') = 'done'
    OR COALESCE((SELECT state FROM sale_order WHERE id = OLD.order_id), 'open') <> 'open'
BEGIN SELECT RAISE(ABORT, 'handover: what has ended keeps its prices'); END;

-- An order ends once, and is handed over only when all of it has been.
CREATE TRIGGER order_ends_once BEFORE UPDATE ON sale_order
WHEN OLD.state <> 'open' AND (NEW.state <> OLD.state OR NEW.buyer_id <> OLD.buyer_id OR NEW.way <> OLD.way
    OR NEW.wanted_on IS NOT OLD.wanted_on OR NEW.reserve_until IS NOT OLD.reserve_until)
BEGIN SELECT RAISE(ABORT, 'handover: an order that has ended is never changed'); END;
CREATE TRIGGER order_stays BEFORE DELETE ON sale_order BEGIN SELECT RAISE(ABORT, 'orders are never removed'); END;
CREATE TRIGGER order_handed_over_whole BEFORE UPDATE OF state ON sale_order
WHEN NEW.state = 'handed-over' AND EXISTS (SELECT 1 FROM sale_line AS line LEFT JOIN handover ON handover.id = line.handover_id
    WHERE line.order_id = NEW.id AND COALESCE(handover.state, 'draft') <> 'done')
BEGIN SELECT RAISE(ABORT, 'handover: something of this order has not been handed over'); END;

-- What was scanned into the box: who packed it, with whom where the band takes two. Taking it out again is a line of its own.
CREATE TABLE packed (
    id INTEGER PRIMARY KEY,
    handover_id INTEGER NOT NULL REFERENCES handover (id),
    animal_id INTEGER REFERENCES animal (id),
    cohort_id INTEGER REFERENCES cohort (id),
    stage TEXT REFERENCES bucket (code),
    -- Negative when it was taken out again.
    quantity INTEGER NOT NULL CONSTRAINT packed_quantity CHECK (quantity <> 0 AND quantity BETWEEN -3000 AND 3000),
    band INTEGER NOT NULL CHECK (band BETWEEN 0 AND 3),
    packer_id INTEGER NOT NULL REFERENCES member (id),
    second_id INTEGER REFERENCES member (id),
    member_id INTEGER NOT NULL REFERENCES member (id),
    day TEXT NOT NULL,
    at TEXT NOT NULL,
    CONSTRAINT packed_of_one CHECK ((animal_id IS NOT NULL) + (cohort_id IS NOT NULL) = 1),
    CONSTRAINT packed_stage CHECK ((cohort_id IS NOT NULL) = (stage IS NOT NULL)),
    CONSTRAINT packed_by_two CHECK (second_id IS NULL OR second_id <> packer_id)
) STRICT;
CREATE INDEX packed_by_handover ON packed (handover_id);
CREATE TRIGGER packed_keeps BEFORE UPDATE ON packed BEGIN SELECT RAISE(ABORT, 'what was packed is never changed'); END;
CREATE TRIGGER packed_loses_none BEFORE DELETE ON packed BEGIN SELECT RAISE(ABORT, 'what was packed is never removed'); END;
CREATE TRIGGER packed_by_cleared BEFORE INSERT ON packed BEGIN
    SELECT RAISE(ABORT, 'handover: only what is being made ready is packed')
    WHERE (SELECT state FROM handover WHERE id = NEW.handover_id) <> 'draft';
    SELECT RAISE(ABORT, 'clearance: whoever packs looks after animals here')
    WHERE (SELECT is_keeper + is_lead + is_owner FROM member WHERE id = NEW.packer_id AND disabled_at IS NULL) IS NOT TRUE;
    SELECT RAISE(ABORT, 'clearance: this person is not cleared to pack this')
    WHERE EXISTS (SELECT 1 FROM exposure_default AS d LEFT JOIN exposure_rule AS r ON r.band = d.band AND r.exposure = d.exposure
        WHERE d.band = NEW.band AND d.exposure = 'hands-in' AND COALESCE(r.clearance, d.clearance) > 0 AND NOT EXISTS (
            SELECT 1 FROM clearance_standing AS c WHERE c.member_id = NEW.packer_id
              AND c.level >= COALESCE(r.clearance, d.clearance) AND c.valid_from <= NEW.day AND c.valid_until >= NEW.day));
    SELECT RAISE(ABORT, 'clearance: packing this takes two people')
    WHERE EXISTS (SELECT 1 FROM exposure_default AS d LEFT JOIN exposure_rule AS r ON r.band = d.band AND r.exposure = d.exposure
        WHERE d.band = NEW.band AND d.exposure = 'hands-in' AND COALESCE(r.persons, d.persons) >= 2 AND (
            NEW.second_id IS NULL
            OR (SELECT is_keeper + is_lead + is_owner FROM member WHERE id = NEW.second_id AND disabled_at IS NULL) IS NOT TRUE
            OR (COALESCE(r.clearance, d.clearance) > 1 AND NOT EXISTS (
                SELECT 1 FROM clearance_standing AS c WHERE c.member_id = NEW.second_id
                  AND c.level >= COALESCE(r.clearance, d.clearance) - 1 AND c.valid_from <= NEW.day AND c.valid_until >= NEW.day))));
END;

-- What is reserved is not held back for breeding.
CREATE TRIGGER holdback_within_unreserved BEFORE INSERT ON holdback WHEN NEW.quantity > 0
    AND EXISTS (SELECT 1 FROM reservation WHERE cohort_id = NEW.cohort_id AND ended_as IS NULL AND until >= substr(NEW.at, 1, 10)) BEGIN
    SELECT RAISE(ABORT, 'holdback: some of them are reserved for buyers: hold fewer back, or release a reservation first')
    WHERE (SELECT COALESCE(SUM(quantity), 0) FROM reservation
           WHERE cohort_id = NEW.cohort_id AND ended_as IS NULL AND until >= substr(NEW.at, 1, 10))
        + (SELECT COALESCE(SUM(quantity), 0) FROM holdback WHERE cohort_id = NEW.cohort_id) + NEW.quantity
        > (SELECT COALESCE(SUM(quantity), 0) FROM ledger_balance JOIN bucket ON bucket.code = ledger_balance.bucket
           WHERE cohort_id = NEW.cohort_id AND bucket.kind = 'stage');
END;

-- A handover that is done: its prices and its stock agree, what has a price has a receipt, and what was ordered was packed.
CREATE TRIGGER handover_done_is_reckoned BEFORE UPDATE OF state ON handover WHEN NEW.state = 'done' BEGIN
    SELECT RAISE(ABORT, 'handover: its prices and its stock do not agree')
    WHERE EXISTS (SELECT 1 FROM handover_line AS line WHERE line.handover_id = NEW.id AND line.quantity <> (
            SELECT COALESCE(SUM(packs * pack_of), line.quantity) FROM sale_line
            WHERE sale_line.handover_id = NEW.id AND (sale_line.animal_id = line.animal_id
                OR (sale_line.cohort_id = line.cohort_id AND sale_line.stage = line.stage))))
       OR EXISTS (SELECT 1 FROM sale_line WHERE sale_line.handover_id = NEW.id AND NOT EXISTS (
            SELECT 1 FROM handover_line AS line WHERE line.handover_id = NEW.id AND (line.animal_id = sale_line.animal_id
                OR (line.cohort_id = sale_line.cohort_id AND line.stage = sale_line.stage))));
    SELECT RAISE(ABORT, 'handover: what has a price needs its receipt')
    WHERE EXISTS (SELECT 1 FROM sale_line WHERE handover_id = NEW.id AND unit_minor IS NOT NULL)
      AND NOT EXISTS (SELECT 1 FROM paper WHERE handover_id = NEW.id AND kind = 'receipt');
    SELECT RAISE(ABORT, 'handover: not everything that was ordered has been packed')
    WHERE NEW.order_id IS NOT NULL AND NEW.override_reason = ''
      AND EXISTS (SELECT 1 FROM handover_line AS line WHERE line.handover_id = NEW.id AND line.quantity <> (
            SELECT COALESCE(SUM(packed.quantity), 0) FROM packed WHERE packed.handover_id = NEW.id
              AND (packed.animal_id = line.animal_id OR (packed.cohort_id = line.cohort_id AND packed.stage = line.stage))));
END;
CREATE UNIQUE INDEX receipt_of_handover ON paper (handover_id) WHERE kind = 'receipt';
