-- Weak wireless and the room's tablet: sign-offs that waited in a browser, what the book could not take of them, and devices that are signed in as themselves.

-- A tablet that hangs in a room. Only hashes are kept: of the address that makes a browser this device, and of the cookie that it then carries.
CREATE TABLE device (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL CONSTRAINT device_name_length CHECK (length(name) BETWEEN 1 AND 80),
    room_id INTEGER NOT NULL REFERENCES room (id),
    link_hash TEXT UNIQUE,
    link_expires_at TEXT,
    token_hash TEXT UNIQUE,
    opened_at TEXT,
    theme TEXT NOT NULL DEFAULT 'dim' CHECK (theme IN ('auto', 'light', 'dark', 'dim')),
    made_by INTEGER NOT NULL REFERENCES member (id),
    made_at TEXT NOT NULL,
    last_seen_at TEXT,
    revoked_at TEXT,
    revoked_by INTEGER REFERENCES member (id),
    CONSTRAINT device_link_ends CHECK ((link_hash IS NULL) = (link_expires_at IS NULL)),
    CONSTRAINT device_opened_has_token CHECK ((token_hash IS NULL) = (opened_at IS NULL)),
    CONSTRAINT device_revoked_by_somebody CHECK ((revoked_at IS NULL) = (revoked_by IS NULL))
) STRICT;
CREATE TRIGGER device_loses_none BEFORE DELETE ON device BEGIN SELECT RAISE(ABORT, 'devices are never removed'); END;
-- A revoked device never comes back, and none moves to another room: sign-offs name it.
CREATE TRIGGER device_keeps BEFORE UPDATE ON device
WHEN OLD.revoked_at IS NOT NULL OR NEW.id <> OLD.id OR NEW.name <> OLD.name OR NEW.room_id <> OLD.room_id OR NEW.made_by <> OLD.made_by
  OR NEW.made_at <> OLD.made_at
BEGIN SELECT RAISE(ABORT, 'a device may be opened, seen and revoked, and is never changed otherwise'); END;

-- The tablet at which it was signed.
ALTER TABLE signoff ADD COLUMN device_id INTEGER REFERENCES device (id);
CREATE INDEX signoff_by_device ON signoff (device_id, at) WHERE device_id IS NOT NULL;

CREATE TRIGGER signoff_says_how_it_came BEFORE INSERT ON signoff BEGIN
    SELECT RAISE(ABORT, 'signoff: what waited says when it was made')
    WHERE NEW.entered = 'queued' AND NEW.made_at IS NULL;
    SELECT RAISE(ABORT, 'signoff: nothing is made after it reached the book')
    WHERE NEW.made_at IS NOT NULL AND julianday(NEW.made_at) > julianday(NEW.at);
    -- A threat sets holds that others rely on.
    SELECT RAISE(ABORT, 'signoff: a threat is told at once, not later')
    WHERE NEW.entered = 'queued' AND NEW.outcome = 'threat';
    SELECT RAISE(ABORT, 'signoff: a tablet signs by its name')
    WHERE (NEW.entered = 'tablet') <> (NEW.device_id IS NOT NULL);
    SELECT RAISE(ABORT, 'signoff: this tablet is no longer signed in')
    WHERE EXISTS (SELECT 1 FROM device WHERE id = NEW.device_id AND revoked_at IS NOT NULL);
END;

-- What waited in a browser and could not be written when it arrived: kept until a person has settled it.
CREATE TABLE queue_refusal (
    id INTEGER PRIMARY KEY,
    member_id INTEGER NOT NULL REFERENCES member (id),
    -- The one-time key of the form that waited, so that a second sending is told the same.
    once_key TEXT NOT NULL,
    duty_id INTEGER REFERENCES duty (id),
    label TEXT NOT NULL CONSTRAINT queue_refusal_label_length CHECK (length(label) BETWEEN 1 AND 200),
    -- What was entered, in words.
    entered TEXT NOT NULL DEFAULT '',
    made_at TEXT NOT NULL,
    arrived_at TEXT NOT NULL,
    why TEXT NOT NULL CONSTRAINT queue_refusal_has_reason CHECK (length(why) > 0),
    settled_at TEXT,
    settled_by INTEGER REFERENCES member (id),
    settled_how TEXT CHECK (settled_how IN ('noted', 'nothing')),
    note TEXT NOT NULL DEFAULT '' CONSTRAINT queue_refusal_note_length CHECK (length(note) <= 400),
    CONSTRAINT queue_refusal_settled_whole CHECK ((settled_at IS NULL) = (settled_by IS NULL) AND (settled_at IS NULL) = (settled_how IS NULL)),
    CONSTRAINT queue_refusal_noted_has_note CHECK ((settled_how IS 'noted') = (length(note) > 0))
) STRICT;
CREATE INDEX queue_refusal_open ON queue_refusal (member_id) WHERE settled_at IS NULL;
CREATE INDEX queue_refusal_by_key ON queue_refusal (member_id, once_key);
CREATE TRIGGER queue_refusal_loses_none BEFORE DELETE ON queue_refusal BEGIN SELECT RAISE(ABORT, 'what could not be written is never removed'); END;
CREATE TRIGGER queue_refusal_keeps BEFORE UPDATE ON queue_refusal
WHEN OLD.settled_at IS NOT NULL OR NEW.settled_at IS NULL OR NEW.id <> OLD.id OR NEW.member_id <> OLD.member_id OR NEW.once_key <> OLD.once_key
  OR NEW.duty_id IS NOT OLD.duty_id OR NEW.label <> OLD.label OR NEW.entered <> OLD.entered OR NEW.made_at <> OLD.made_at
  OR NEW.arrived_at <> OLD.arrived_at OR NEW.why <> OLD.why
BEGIN SELECT RAISE(ABORT, 'what could not be written may be settled once, and is never changed otherwise'); END;
