//! What the export says of breeding, of outings and returns, and of papers that were issued.

/// Each file's name and what stands in it.
pub(super) const FILES: [(&str, &str); 8] = [
    ("pairings", PAIRINGS),
    ("introductions", INTRODUCTIONS),
    ("sacs", SACS),
    ("sac-readings", SAC_READINGS),
    ("lines", LINES),
    ("outings", OUTINGS),
    ("returns", RETURNS),
    ("papers", PAPERS),
];

const PAIRINGS: &str =
    "SELECT pairing.id, species.accepted_name AS species, dam.tag AS dam, sire.tag AS sire, pairing.paired_on AS planned_on,
        pairing.note, member.name AS member
     FROM pairing JOIN animal AS dam ON dam.id = pairing.dam_id JOIN animal AS sire ON sire.id = pairing.sire_id
     JOIN species ON species.id = dam.species_id LEFT JOIN member ON member.id = pairing.member_id
     ORDER BY pairing.id";

const INTRODUCTIONS: &str = "SELECT introduction.id, introduction.pairing_id AS pairing, introduction.day, introduction.began_at,
        introduction.insertion, introduction.outcome, introduction.note, first.name AS member, second.name AS second_person,
        introduction.at, introduction.corrects_id AS corrects, introduction.void_reason
     FROM introduction LEFT JOIN member AS first ON first.id = introduction.member_id
     LEFT JOIN member AS second ON second.id = introduction.second_id
     ORDER BY introduction.id";

const SACS: &str = "SELECT sac.id, species.accepted_name AS species, dam.tag AS dam, sac.dam_note, sac.dam_wild_mated, sire.tag AS sire,
        sac.sire_note, sac.laid_on, sac.pulled_on, sac.incubation_note, sac.state, sac.ended_on, sac.end_note, cohort.code AS cohort
     FROM sac JOIN species ON species.id = sac.species_id LEFT JOIN animal AS dam ON dam.id = sac.dam_id
     LEFT JOIN animal AS sire ON sire.id = sac.sire_id LEFT JOIN cohort ON cohort.sac_id = sac.id
     ORDER BY sac.id";

const SAC_READINGS: &str = "SELECT reading.id, reading.sac_id AS sac, reading.at, reading.day, reading.decicelsius, reading.humidity,
        member.name AS member, reading.corrects_id AS corrects
     FROM sac_reading AS reading LEFT JOIN member ON member.id = reading.member_id
     ORDER BY reading.id";

const LINES: &str = "SELECT entry.id, line.name AS line, species.accepted_name AS species, animal.tag, cohort.code AS cohort, entry.day,
        entry.note, entry.at
     FROM line_entry AS entry LEFT JOIN line ON line.id = entry.line_id
     LEFT JOIN animal ON animal.id = entry.animal_id LEFT JOIN cohort ON cohort.id = entry.cohort_id
     JOIN species ON species.id = COALESCE(line.species_id, animal.species_id, cohort.species_id)
     ORDER BY entry.id";

const OUTINGS: &str = "SELECT outing.id AS outing, outing.name, outing.day, outing.state, animal.tag, cohort.code AS cohort, line.stage,
        line.quantity AS went_out, back.sold, back.returned, back.dead, back.missing
     FROM outing LEFT JOIN outing_line AS line ON line.outing_id = outing.id
     LEFT JOIN outing_back AS back ON back.outing_line_id = line.id
     LEFT JOIN animal ON animal.id = line.animal_id LEFT JOIN cohort ON cohort.id = line.cohort_id
     ORDER BY outing.id, line.id";

/// Reasons and conditions are a buyer's own words: they stay in the book.
const RETURNS: &str = "SELECT back.id, line.handover_id AS handover, animal.tag, cohort.code AS cohort, back.quantity, back.day, back.at
     FROM sale_return AS back JOIN handover_line AS line ON line.id = back.handover_line_id
     LEFT JOIN animal ON animal.id = back.animal_id LEFT JOIN cohort ON cohort.id = back.cohort_id
     ORDER BY back.id";

const PAPERS: &str = "SELECT paper.number, paper.kind, paper.revision, paper.language, paper.handover_id AS handover, animal.tag,
        cohort.code AS cohort, paper.issued_on, paper.fingerprint
     FROM paper LEFT JOIN animal ON animal.id = paper.animal_id LEFT JOIN cohort ON cohort.id = paper.cohort_id
     ORDER BY paper.id";
