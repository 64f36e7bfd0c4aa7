-- The house itself: settings, members, sign-in, sent forms and the audit trail.
-- Instants are UTC in RFC 3339; days are local dates of the site's zone as YYYY-MM-DD.

-- One row: the settings of this house.
CREATE TABLE site (
    id INTEGER PRIMARY KEY CONSTRAINT site_is_one_row CHECK (id = 1),
    name TEXT NOT NULL CONSTRAINT site_name_length CHECK (length(name) BETWEEN 1 AND 80),
    zone TEXT NOT NULL,
    address TEXT NOT NULL DEFAULT '',
    -- The house's own emergency numbers, one a line: shown on incident pages.
    emergency TEXT NOT NULL DEFAULT '',
    -- How long a threat display holds opening, and longer, rehousing.
    agitated_open_hours INTEGER NOT NULL DEFAULT 24 CONSTRAINT agitated_open_hours_range CHECK (agitated_open_hours BETWEEN 1 AND 168),
    agitated_hands_in_days INTEGER NOT NULL DEFAULT 3 CONSTRAINT agitated_hands_in_days_range CHECK (agitated_hands_in_days BETWEEN 1 AND 60),
    -- The last local day that was planned as a whole.
    planned_on TEXT,
    version INTEGER NOT NULL DEFAULT 1
) STRICT;
INSERT INTO site (id, name, zone) VALUES (1, 'Our house', 'UTC');

CREATE TABLE member (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL CONSTRAINT member_name_length CHECK (length(name) BETWEEN 1 AND 80),
    sign_in_name TEXT NOT NULL COLLATE NOCASE CONSTRAINT member_sign_in_name_length CHECK (length(sign_in_name) BETWEEN 2 AND 40),
    pass_hash TEXT NOT NULL,
    -- A short number that confirms a second person at somebody else's screen; null until chosen.
    pin_hash TEXT,
    is_owner INTEGER NOT NULL DEFAULT 0 CHECK (is_owner IN (0, 1)),
    is_lead INTEGER NOT NULL DEFAULT 0 CHECK (is_lead IN (0, 1)),
    is_keeper INTEGER NOT NULL DEFAULT 0 CHECK (is_keeper IN (0, 1)),
    is_counter INTEGER NOT NULL DEFAULT 0 CHECK (is_counter IN (0, 1)),
    disabled_at TEXT,
    created_at TEXT NOT NULL,
    version INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT member_sign_in_name_unique UNIQUE (sign_in_name)
) STRICT;

-- One-time links: the first owner's set-up, invitations, and new pass phrases. Only a hash of the secret is kept.
CREATE TABLE one_time_link (
    id INTEGER PRIMARY KEY,
    purpose TEXT NOT NULL CHECK (purpose IN ('setup', 'invitation', 'reset')),
    token_hash TEXT NOT NULL UNIQUE,
    member_id INTEGER REFERENCES member (id),
    name TEXT NOT NULL DEFAULT '',
    is_owner INTEGER NOT NULL DEFAULT 0 CHECK (is_owner IN (0, 1)),
    is_lead INTEGER NOT NULL DEFAULT 0 CHECK (is_lead IN (0, 1)),
    is_keeper INTEGER NOT NULL DEFAULT 0 CHECK (is_keeper IN (0, 1)),
    is_counter INTEGER NOT NULL DEFAULT 0 CHECK (is_counter IN (0, 1)),
    created_by INTEGER REFERENCES member (id),
    created_at TEXT NOT NULL,
    expires_at TEXT NOT NULL,
    used_at TEXT,
    revoked_at TEXT,
    CONSTRAINT reset_names_a_member CHECK ((purpose = 'reset') = (member_id IS NOT NULL))
) STRICT;

-- Sign-ins. Only a hash of the cookie's value is kept.
CREATE TABLE session (
    id_hash TEXT PRIMARY KEY,
    member_id INTEGER REFERENCES member (id),
    data TEXT NOT NULL,
    device TEXT NOT NULL DEFAULT '',
    created_at TEXT NOT NULL,
    last_seen_at TEXT NOT NULL,
    expires_at TEXT NOT NULL
) STRICT;
CREATE INDEX session_by_member ON session (member_id);
CREATE INDEX session_by_expiry ON session (expires_at);

-- Wrong guesses at a sign-in name, so that guessing stays slow after a restart.
CREATE TABLE sign_in_failure (
    id INTEGER PRIMARY KEY,
    name_hash TEXT NOT NULL,
    at TEXT NOT NULL
) STRICT;
CREATE INDEX sign_in_failure_by_name ON sign_in_failure (name_hash, at);

-- Forms that were sent, by the one-time key that each carries, so that a second sending writes nothing.
CREATE TABLE submission (
    member_id INTEGER NOT NULL,
    once_key TEXT NOT NULL,
    body_hash TEXT NOT NULL,
    location TEXT NOT NULL,
    at TEXT NOT NULL,
    PRIMARY KEY (member_id, once_key)
) STRICT, WITHOUT ROWID;
CREATE INDEX submission_by_time ON submission (at);

-- Who changed what, each row sealed by a hash over itself and the row before.
CREATE TABLE audit (
    id INTEGER PRIMARY KEY,
    at TEXT NOT NULL,
    member_id INTEGER REFERENCES member (id),
    action TEXT NOT NULL,
    subject TEXT NOT NULL,
    before TEXT NOT NULL,
    after TEXT NOT NULL,
    previous_hash TEXT NOT NULL,
    hash TEXT NOT NULL UNIQUE
) STRICT;
CREATE INDEX audit_by_subject ON audit (subject, id);
CREATE TRIGGER audit_keeps_rows BEFORE UPDATE ON audit BEGIN SELECT RAISE(ABORT, 'audit rows are never changed'); END;
CREATE TRIGGER audit_loses_none BEFORE DELETE ON audit BEGIN SELECT RAISE(ABORT, 'audit rows are never removed'); END;
