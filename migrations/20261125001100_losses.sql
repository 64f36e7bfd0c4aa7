-- Somebody looked into a cohort's losses: what was found, and from when on losses count again.

CREATE TABLE loss_review (
    id INTEGER PRIMARY KEY,
    cohort_id INTEGER NOT NULL REFERENCES cohort (id),
    day TEXT NOT NULL,
    note TEXT NOT NULL CONSTRAINT loss_review_says_something CHECK (length(note) > 0),
    member_id INTEGER REFERENCES member (id),
    at TEXT NOT NULL
) STRICT;
CREATE INDEX loss_review_by_cohort ON loss_review (cohort_id, day);
CREATE TRIGGER loss_review_keeps BEFORE UPDATE ON loss_review BEGIN SELECT RAISE(ABORT, 'reviews are never changed'); END;
CREATE TRIGGER loss_review_loses_none BEFORE DELETE ON loss_review BEGIN SELECT RAISE(ABORT, 'reviews are never removed'); END;
