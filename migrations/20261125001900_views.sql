-- The cohort at the head of each cohort's family: the one that it was split off from, and that from, up to one that was
-- split off none. A cohort that was not split off is its own; `depth` counts the splits between.
CREATE VIEW cohort_root AS
WITH RECURSIVE descent (cohort_id, root_id, depth) AS (
    SELECT id, id, 0 FROM cohort WHERE parent_cohort_id IS NULL
    UNION ALL
    SELECT cohort.id, descent.root_id, descent.depth + 1
    FROM cohort JOIN descent ON cohort.parent_cohort_id = descent.cohort_id
)
SELECT cohort_id, root_id, depth FROM descent;
