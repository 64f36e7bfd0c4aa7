-- Orders, outings (days on which stock is taken along to sell), and what is reserved for either.

CREATE TABLE sale_order (
    id INTEGER PRIMARY KEY,
    buyer_id INTEGER NOT NULL REFERENCES buyer (id),
    state TEXT NOT NULL DEFAULT 'open' CHECK (state IN ('open', 'handed-over', 'cancelled')),
    way TEXT NOT NULL DEFAULT 'collection' CHECK (way IN ('collection', 'dispatch', 'outing')),
    -- The day it is wanted for; null when none was said.
    wanted_on TEXT,
    note TEXT NOT NULL DEFAULT '',
    created_by INTEGER NOT NULL REFERENCES member (id),
    created_at TEXT NOT NULL,
    ended_at TEXT,
    ended_by INTEGER REFERENCES member (id),
    version INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT order_ended_has_name CHECK ((state = 'open') = (ended_at IS NULL))
) STRICT;
CREATE INDEX sale_order_by_state ON sale_order (state, id);
CREATE INDEX sale_order_by_buyer ON sale_order (buyer_id);

CREATE TABLE outing (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL CONSTRAINT outing_name_length CHECK (length(name) BETWEEN 1 AND 120),
    day TEXT NOT NULL,
    state TEXT NOT NULL DEFAULT 'packing' CHECK (state IN ('packing', 'out', 'reconciled', 'cancelled')),
    note TEXT NOT NULL DEFAULT '',
    created_by INTEGER NOT NULL REFERENCES member (id),
    created_at TEXT NOT NULL,
    version INTEGER NOT NULL DEFAULT 1
) STRICT;
CREATE INDEX outing_by_state ON outing (state, day);

ALTER TABLE handover ADD COLUMN order_id INTEGER REFERENCES sale_order (id);
ALTER TABLE handover ADD COLUMN outing_id INTEGER REFERENCES outing (id);
ALTER TABLE handover ADD COLUMN way TEXT NOT NULL DEFAULT 'collection' CHECK (way IN ('collection', 'dispatch', 'outing'));
CREATE INDEX handover_by_order ON handover (order_id) WHERE order_id IS NOT NULL;
CREATE INDEX handover_by_outing ON handover (outing_id) WHERE outing_id IS NOT NULL;
CREATE INDEX handover_by_buyer ON handover (buyer_id);
DROP VIEW handover_shown;
CREATE VIEW handover_shown AS
SELECT handover.id, handover.buyer_id, buyer.name AS buyer_name, handover.state, handover.way, handover.order_id, handover.outing_id,
       handover.day, handover.done_at, done.name AS done_by_name, handover.override_reason, overrider.name AS override_by_name,
       handover.note, handover.created_at, handover.version,
       (SELECT COUNT(*) FROM handover_line WHERE handover_line.handover_id = handover.id) AS lines
FROM handover JOIN buyer ON buyer.id = handover.buyer_id
LEFT JOIN member AS done ON done.id = handover.done_by LEFT JOIN member AS overrider ON overrider.id = handover.override_by;

-- What is kept for somebody, up to and with its last day. It ends once: used by a handover, released, or lapsed.
CREATE TABLE reservation (
    id INTEGER PRIMARY KEY,
    animal_id INTEGER REFERENCES animal (id),
    cohort_id INTEGER REFERENCES cohort (id),
    stage TEXT REFERENCES bucket (code),
    quantity INTEGER NOT NULL CONSTRAINT reservation_quantity CHECK (quantity BETWEEN 1 AND 3000),
    buyer_id INTEGER REFERENCES buyer (id),
    order_id INTEGER REFERENCES sale_order (id),
    outing_id INTEGER REFERENCES outing (id),
    until TEXT NOT NULL,
    note TEXT NOT NULL DEFAULT '',
    made_on TEXT NOT NULL,
    made_by INTEGER REFERENCES member (id),
    made_at TEXT NOT NULL,
    ended_as TEXT CHECK (ended_as IN ('used', 'released', 'lapsed')),
    ended_at TEXT,
    ended_by INTEGER REFERENCES member (id),
    CONSTRAINT reservation_of_one CHECK ((animal_id IS NOT NULL) + (cohort_id IS NOT NULL) = 1),
    CONSTRAINT reservation_stage CHECK ((cohort_id IS NOT NULL) = (stage IS NOT NULL)),
    CONSTRAINT reservation_animal_is_one CHECK (animal_id IS NULL OR quantity = 1),
    CONSTRAINT reservation_for_somebody CHECK (COALESCE(buyer_id, order_id, outing_id) IS NOT NULL),
    CONSTRAINT reservation_until_not_past CHECK (until >= made_on),
    CONSTRAINT reservation_end CHECK ((ended_as IS NULL) = (ended_at IS NULL))
) STRICT;
CREATE UNIQUE INDEX reservation_of_animal ON reservation (animal_id) WHERE animal_id IS NOT NULL AND ended_as IS NULL;
CREATE INDEX reservation_of_cohort ON reservation (cohort_id, until) WHERE cohort_id IS NOT NULL AND ended_as IS NULL;
CREATE INDEX reservation_of_order ON reservation (order_id) WHERE order_id IS NOT NULL;
CREATE INDEX reservation_of_outing ON reservation (outing_id) WHERE outing_id IS NOT NULL;
CREATE INDEX reservation_of_buyer ON reservation (buyer_id) WHERE buyer_id IS NOT NULL;
CREATE INDEX reservation_open ON reservation (until) WHERE ended_as IS NULL;
CREATE TRIGGER reservation_keeps BEFORE UPDATE ON reservation
WHEN OLD.ended_as IS NOT NULL OR OLD.animal_id IS NOT NEW.animal_id OR OLD.cohort_id IS NOT NEW.cohort_id OR OLD.stage IS NOT NEW.stage
    OR OLD.quantity <> NEW.quantity OR OLD.until <> NEW.until OR OLD.buyer_id IS NOT NEW.buyer_id OR OLD.order_id IS NOT NEW.order_id
    OR OLD.outing_id IS NOT NEW.outing_id
BEGIN SELECT RAISE(ABORT, 'a reservation is ended, once, and otherwise never changed'); END;
CREATE TRIGGER reservation_stays BEFORE DELETE ON reservation BEGIN SELECT RAISE(ABORT, 'reservations are never removed'); END;
CREATE TRIGGER reservation_of_living BEFORE INSERT ON reservation WHEN NEW.animal_id IS NOT NULL
    AND (SELECT status FROM animal WHERE id = NEW.animal_id) <> 'alive'
BEGIN SELECT RAISE(ABORT, 'reservation: this animal is not in the house'); END;
-- Never more reserved and held back together than are alive.
CREATE TRIGGER reservation_within_free AFTER INSERT ON reservation WHEN NEW.cohort_id IS NOT NULL BEGIN
    SELECT RAISE(ABORT, 'reservation: fewer than that are free')
    WHERE (SELECT COALESCE(SUM(quantity), 0) FROM reservation
           WHERE cohort_id = NEW.cohort_id AND ended_as IS NULL AND until >= NEW.made_on)
        + (SELECT COALESCE(SUM(quantity), 0) FROM holdback WHERE cohort_id = NEW.cohort_id)
        > (SELECT COALESCE(SUM(quantity), 0) FROM ledger_balance JOIN bucket ON bucket.code = ledger_balance.bucket
           WHERE cohort_id = NEW.cohort_id AND bucket.kind = 'stage');
END;

-- What is reserved is not sold to anybody else: a handover ends its own order's or outing's reservations before it takes the stock.
CREATE TRIGGER animal_reserved_stays BEFORE UPDATE OF status ON animal
WHEN NEW.status = 'sold' AND OLD.status <> 'sold' AND EXISTS (
    SELECT 1 FROM reservation WHERE animal_id = NEW.id AND ended_as IS NULL AND until >= NEW.status_on)
BEGIN SELECT RAISE(ABORT, 'animal: it is reserved for somebody else'); END;
CREATE TRIGGER ledger_sells_only_unreserved BEFORE INSERT ON ledger_line
WHEN NEW.kind IN ('sold', 'moved') AND EXISTS (
    SELECT 1 FROM reservation WHERE cohort_id = NEW.cohort_id AND ended_as IS NULL AND until >= NEW.day) BEGIN
    SELECT RAISE(ABORT, 'ledger: that many are reserved')
    WHERE (SELECT COALESCE(SUM(quantity), 0) FROM reservation
           WHERE cohort_id = NEW.cohort_id AND ended_as IS NULL AND until >= NEW.day)
        + (SELECT COALESCE(SUM(quantity), 0) FROM holdback WHERE cohort_id = NEW.cohort_id)
        > (SELECT COALESCE(SUM(quantity), 0) FROM ledger_balance JOIN bucket ON bucket.code = ledger_balance.bucket
           WHERE cohort_id = NEW.cohort_id AND bucket.kind = 'stage') - NEW.quantity;
END;

-- Reservations as pages show them.
CREATE VIEW reservation_shown AS
SELECT reservation.id, reservation.animal_id, reservation.cohort_id, reservation.stage, reservation.quantity,
       COALESCE(animal.tag, cohort.code) AS label, species.accepted_name AS species, reservation.buyer_id, reservation.order_id,
       reservation.outing_id, reservation.until, reservation.note, reservation.made_on, member.name AS made_by_name, reservation.ended_as
FROM reservation
LEFT JOIN animal ON animal.id = reservation.animal_id
LEFT JOIN cohort ON cohort.id = reservation.cohort_id
LEFT JOIN species ON species.id = COALESCE(animal.species_id, cohort.species_id)
LEFT JOIN member ON member.id = reservation.made_by;
