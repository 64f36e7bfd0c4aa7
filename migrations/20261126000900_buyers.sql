-- Buyers: finding them, keeping what is known of them no longer than needed, erasing them; recalls of what they were given.

-- What finds a buyer: name and contact as the program folds them, and the digits of the contact.
ALTER TABLE buyer ADD COLUMN search TEXT NOT NULL DEFAULT '';
ALTER TABLE buyer ADD COLUMN digits TEXT NOT NULL DEFAULT '';
-- Kept up to and with this day, whatever the house's rule says, and why.
ALTER TABLE buyer ADD COLUMN kept_until TEXT;
ALTER TABLE buyer ADD COLUMN kept_reason TEXT NOT NULL DEFAULT '';

-- How many months after the last dealing a buyer is erased by itself; 0: never. The rule erases nobody in its first 30 days.
ALTER TABLE site ADD COLUMN buyer_months INTEGER NOT NULL DEFAULT 36 CONSTRAINT buyer_months_range CHECK (buyer_months BETWEEN 0 AND 600);
ALTER TABLE site ADD COLUMN buyer_months_from TEXT;
-- Somebody was erased, and the file still has to be written anew without them.
ALTER TABLE site ADD COLUMN wipe_wanted INTEGER NOT NULL DEFAULT 0 CHECK (wipe_wanted IN (0, 1));

CREATE TRIGGER buyer_loses_none BEFORE DELETE ON buyer BEGIN SELECT RAISE(ABORT, 'buyers are erased, never removed'); END;
CREATE TRIGGER buyer_erased_stays BEFORE UPDATE ON buyer WHEN OLD.erased_at IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'handover: this buyer was erased, and nothing is written of them any more'); END;
-- Of an erased buyer the number stays, and nothing else.
CREATE TRIGGER buyer_erased_is_blank BEFORE UPDATE OF erased_at ON buyer WHEN NEW.erased_at IS NOT NULL BEGIN
    SELECT RAISE(ABORT, 'handover: of an erased buyer only the number is kept')
    WHERE NEW.name <> 'Erased buyer ' || NEW.id OR NEW.contact <> '' OR NEW.address <> '' OR NEW.language <> '' OR NEW.search <> ''
        OR NEW.digits <> '' OR NEW.kept_until IS NOT NULL OR NEW.kept_reason <> '';
    SELECT RAISE(ABORT, 'handover: this buyer is kept for a reason that still holds') WHERE OLD.kept_until > substr(NEW.erased_at, 1, 10);
    SELECT RAISE(ABORT, 'handover: an order of this buyer is open')
    WHERE EXISTS (SELECT 1 FROM sale_order WHERE buyer_id = NEW.id AND state = 'open');
    SELECT RAISE(ABORT, 'handover: a handover to this buyer is being made ready')
    WHERE EXISTS (SELECT 1 FROM handover WHERE buyer_id = NEW.id AND state = 'draft');
END;
-- Nothing begins anew for somebody who was erased.
CREATE TRIGGER handover_of_somebody BEFORE INSERT ON handover WHEN (SELECT erased_at FROM buyer WHERE id = NEW.buyer_id) IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'handover: this buyer was erased; enter them as somebody new'); END;
CREATE TRIGGER sale_order_of_somebody BEFORE INSERT ON sale_order WHEN (SELECT erased_at FROM buyer WHERE id = NEW.buyer_id) IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'handover: this buyer was erased; enter them as somebody new'); END;
CREATE TRIGGER reservation_of_somebody BEFORE INSERT ON reservation WHEN (SELECT erased_at FROM buyer WHERE id = NEW.buyer_id) IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'handover: this buyer was erased; enter them as somebody new'); END;
CREATE TRIGGER paper_of_somebody BEFORE INSERT ON paper
WHEN NEW.names_person = 1 AND (SELECT erased_at FROM buyer WHERE id = NEW.buyer_id) IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'handover: this buyer was erased, so no paper names them any more'); END;

-- What has ended stays as it was, but for the words that told of somebody who was erased.
DROP TRIGGER handover_done_stays;
CREATE TRIGGER handover_done_stays BEFORE UPDATE ON handover
WHEN OLD.state <> 'draft' AND NOT (
    (SELECT erased_at FROM buyer WHERE id = OLD.buyer_id) IS NOT NULL
    AND NEW.note = '' AND NEW.override_reason IN (OLD.override_reason, '(erased with the buyer)')
    AND NEW.id = OLD.id AND NEW.buyer_id = OLD.buyer_id AND NEW.state = OLD.state AND NEW.day IS OLD.day AND NEW.done_at IS OLD.done_at
    AND NEW.done_by IS OLD.done_by AND NEW.override_by IS OLD.override_by AND NEW.created_by = OLD.created_by
    AND NEW.created_at = OLD.created_at AND NEW.order_id IS OLD.order_id AND NEW.outing_id IS OLD.outing_id AND NEW.way = OLD.way)
BEGIN SELECT RAISE(ABORT, 'a handover that is done or cancelled is never changed'); END;
DROP TRIGGER reservation_keeps;
CREATE TRIGGER reservation_keeps BEFORE UPDATE ON reservation
WHEN OLD.animal_id IS NOT NEW.animal_id OR OLD.cohort_id IS NOT NEW.cohort_id OR OLD.stage IS NOT NEW.stage
    OR OLD.quantity <> NEW.quantity OR OLD.until <> NEW.until OR OLD.buyer_id IS NOT NEW.buyer_id OR OLD.order_id IS NOT NEW.order_id
    OR OLD.outing_id IS NOT NEW.outing_id
    OR (OLD.ended_as IS NOT NULL AND (
        NEW.ended_as IS NOT OLD.ended_as OR NEW.ended_at IS NOT OLD.ended_at OR NEW.ended_by IS NOT OLD.ended_by OR NEW.note <> ''
        OR (SELECT erased_at FROM buyer
            WHERE id = COALESCE(OLD.buyer_id, (SELECT buyer_id FROM sale_order WHERE id = OLD.order_id))) IS NULL))
BEGIN SELECT RAISE(ABORT, 'a reservation is ended, once, and otherwise never changed'); END;

DROP TRIGGER journey_keeps;
CREATE TRIGGER journey_keeps BEFORE UPDATE ON journey
WHEN NOT (
    (SELECT buyer.erased_at FROM handover JOIN buyer ON buyer.id = handover.buyer_id WHERE handover.id = OLD.handover_id) IS NOT NULL
    AND NEW.note = '' AND NEW.id = OLD.id AND NEW.handover_id = OLD.handover_id AND NEW.carrier = OLD.carrier AND NEW.day = OLD.day
    AND NEW.unit = OLD.unit AND NEW.here_low = OLD.here_low AND NEW.here_high = OLD.here_high AND NEW.there_low = OLD.there_low
    AND NEW.there_high = OLD.there_high AND NEW.member_id IS OLD.member_id AND NEW.at = OLD.at)
BEGIN SELECT RAISE(ABORT, 'a planned journey is never changed; plan another'); END;
DROP TRIGGER arrival_keeps;
CREATE TRIGGER arrival_keeps BEFORE UPDATE ON arrival
WHEN NOT (
    (SELECT buyer.erased_at FROM handover JOIN buyer ON buyer.id = handover.buyer_id WHERE handover.id = OLD.handover_id) IS NOT NULL
    AND NEW.note = '' AND NEW.id = OLD.id AND NEW.handover_id = OLD.handover_id AND NEW.corrects_id IS OLD.corrects_id
    AND NEW.arrived_at = OLD.arrived_at AND NEW.claimed_at IS OLD.claimed_at AND NEW.claim_hours = OLD.claim_hours
    AND NEW.member_id IS OLD.member_id AND NEW.at = OLD.at)
BEGIN SELECT RAISE(ABORT, 'arrivals are never changed; a later entry corrects them'); END;
DROP TRIGGER sale_return_keeps;
CREATE TRIGGER sale_return_keeps BEFORE UPDATE ON sale_return
WHEN OLD.handover_line_id <> NEW.handover_line_id OR OLD.animal_id IS NOT NEW.animal_id OR OLD.cohort_id IS NOT NEW.cohort_id
    OR OLD.quantity <> NEW.quantity OR OLD.day <> NEW.day OR (OLD.taken_back = 1 AND NEW.taken_back <> 1)
    OR ((NEW.reason <> OLD.reason OR NEW.condition <> OLD.condition OR OLD.taken_back = 1) AND NOT (
        NEW.reason = '(erased with the buyer)' AND NEW.condition = ''
        AND (SELECT buyer.erased_at FROM handover_line AS line JOIN handover ON handover.id = line.handover_id
             JOIN buyer ON buyer.id = handover.buyer_id WHERE line.id = OLD.handover_line_id) IS NOT NULL))
BEGIN SELECT RAISE(ABORT, 'returns are never changed'); END;

-- A recall: from one animal or cohort to all that is related to it, wherever it is by now.
CREATE TABLE recall (
    id INTEGER PRIMARY KEY,
    animal_id INTEGER REFERENCES animal (id),
    cohort_id INTEGER REFERENCES cohort (id),
    -- How far it reaches beyond the animal or cohort itself: cohort mates, the young of all generations, what shared a rack.
    mates INTEGER NOT NULL CHECK (mates IN (0, 1)),
    descent INTEGER NOT NULL CHECK (descent IN (0, 1)),
    rack INTEGER NOT NULL CHECK (rack IN (0, 1)),
    reason TEXT NOT NULL CHECK (reason IN ('nematodes', 'mites', 'wrong-species', 'illness', 'other')),
    -- What was found, in the house's words; the letters carry them. They name no person.
    words TEXT NOT NULL CONSTRAINT recall_words_length CHECK (length(words) BETWEEN 1 AND 2000),
    -- How many rows were found: none is added later.
    found INTEGER NOT NULL CHECK (found >= 0),
    day TEXT NOT NULL,
    made_by INTEGER NOT NULL REFERENCES member (id),
    made_at TEXT NOT NULL,
    CONSTRAINT recall_of_one CHECK ((animal_id IS NOT NULL) + (cohort_id IS NOT NULL) = 1)
) STRICT;
CREATE TRIGGER recall_keeps BEFORE UPDATE ON recall BEGIN SELECT RAISE(ABORT, 'recalls are never changed'); END;
CREATE TRIGGER recall_loses_none BEFORE DELETE ON recall BEGIN SELECT RAISE(ABORT, 'recalls are never removed'); END;

-- What a recall found, as it stood at that time. Its buyer is that of its line.
CREATE TABLE recall_found (
    id INTEGER PRIMARY KEY,
    recall_id INTEGER NOT NULL REFERENCES recall (id),
    animal_id INTEGER REFERENCES animal (id),
    cohort_id INTEGER REFERENCES cohort (id),
    quantity INTEGER NOT NULL CHECK (quantity >= 1),
    relation TEXT NOT NULL CHECK (relation IN ('itself', 'mate', 'descendant', 'rack')),
    generation INTEGER NOT NULL CHECK (generation >= 0),
    -- 0: it is related only if the right one of several males is the sire.
    certain INTEGER NOT NULL CHECK (certain IN (0, 1)),
    fate TEXT NOT NULL CHECK (fate IN ('here', 'dead', 'escaped', 'sold', 'returned')),
    place TEXT NOT NULL,
    handover_line_id INTEGER REFERENCES handover_line (id),
    CONSTRAINT recall_found_one CHECK ((animal_id IS NOT NULL) + (cohort_id IS NOT NULL) = 1),
    CONSTRAINT recall_found_animal_is_one CHECK (animal_id IS NULL OR quantity = 1)
) STRICT;
CREATE INDEX recall_found_by_recall ON recall_found (recall_id, id);
CREATE INDEX recall_found_by_line ON recall_found (handover_line_id) WHERE handover_line_id IS NOT NULL;
CREATE TRIGGER recall_found_is_frozen BEFORE INSERT ON recall_found
WHEN (SELECT COUNT(*) FROM recall_found WHERE recall_id = NEW.recall_id) >= (SELECT found FROM recall WHERE id = NEW.recall_id)
BEGIN SELECT RAISE(ABORT, 'what a recall found stays as it was found'); END;
CREATE TRIGGER recall_found_keeps BEFORE UPDATE ON recall_found BEGIN SELECT RAISE(ABORT, 'what a recall found stays as it was found'); END;
CREATE TRIGGER recall_found_loses_none BEFORE DELETE ON recall_found BEGIN SELECT RAISE(ABORT, 'what a recall found stays as it was found'); END;

-- Who was written to about a recall, and who was reached.
CREATE TABLE recall_contact (
    id INTEGER PRIMARY KEY,
    recall_id INTEGER NOT NULL REFERENCES recall (id),
    buyer_id INTEGER NOT NULL REFERENCES buyer (id),
    what TEXT NOT NULL CHECK (what IN ('letter', 'reached', 'not-reached')),
    paper_id INTEGER REFERENCES paper (id),
    day TEXT NOT NULL,
    note TEXT NOT NULL DEFAULT '',
    member_id INTEGER NOT NULL REFERENCES member (id),
    at TEXT NOT NULL,
    CONSTRAINT recall_letter_is_a_paper CHECK ((what = 'letter') = (paper_id IS NOT NULL))
) STRICT;
CREATE INDEX recall_contact_by_recall ON recall_contact (recall_id, buyer_id, id);
CREATE INDEX recall_contact_by_buyer ON recall_contact (buyer_id, id);
CREATE UNIQUE INDEX recall_letter_once ON recall_contact (recall_id, buyer_id) WHERE what = 'letter';
CREATE TRIGGER recall_contact_of_its_list BEFORE INSERT ON recall_contact WHEN NOT EXISTS (
    SELECT 1 FROM recall_found JOIN handover_line ON handover_line.id = recall_found.handover_line_id
    JOIN handover ON handover.id = handover_line.handover_id
    WHERE recall_found.recall_id = NEW.recall_id AND handover.buyer_id = NEW.buyer_id)
BEGIN SELECT RAISE(ABORT, 'handover: this recall found nothing with that buyer'); END;
CREATE TRIGGER recall_contact_keeps BEFORE UPDATE ON recall_contact
WHEN NOT (
    (SELECT erased_at FROM buyer WHERE id = OLD.buyer_id) IS NOT NULL AND NEW.note = '' AND NEW.id = OLD.id
    AND NEW.recall_id = OLD.recall_id AND NEW.buyer_id = OLD.buyer_id AND NEW.what = OLD.what AND NEW.paper_id IS OLD.paper_id
    AND NEW.day = OLD.day AND NEW.member_id = OLD.member_id AND NEW.at = OLD.at)
BEGIN SELECT RAISE(ABORT, 'who was written to and reached is never changed'); END;
CREATE TRIGGER recall_contact_loses_none BEFORE DELETE ON recall_contact
BEGIN SELECT RAISE(ABORT, 'who was written to and reached is never removed'); END;
