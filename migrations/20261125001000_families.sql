-- A cohort is followed together with all that was split off it.
CREATE INDEX cohort_by_parent ON cohort (parent_cohort_id) WHERE parent_cohort_id IS NOT NULL;
