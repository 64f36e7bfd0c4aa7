//! The inventory of personal data: every table that tells of a buyer, what of them it holds, what for, and how long. A test holds
//! that no table is missing.

/// One table of the inventory.
#[derive(Debug, Clone, Copy)]
pub struct Kept {
    /// The table.
    pub table: &'static str,
    /// What it is called on pages.
    pub what: &'static str,
    /// What it holds of the person.
    pub holds: &'static str,
    /// What it is for.
    pub purpose: &'static str,
    /// What happens to it when the person is erased.
    pub erasure: &'static str,
}

/// Every table that tells of a buyer.
pub const INVENTORY: [Kept; 19] = [
    Kept {
        table: "buyer",
        what: "the buyer",
        holds: "name, telephone or mail, address, language, and why they are kept longer, if they are",
        purpose: "to hand animals over, to print papers in a language that is read, and to reach the person when something is found in related animals",
        erasure: "all of it goes; the number and the day of the erasure stay",
    },
    Kept {
        table: "handover",
        what: "handovers",
        holds: "who took animals and when, and the staff's note",
        purpose: "to know what left the house, when, and with which papers",
        erasure: "the note and a lead's written reason go; day, state and number stay, tied to the buyer's number",
    },
    Kept {
        table: "handover_line",
        what: "what was handed over",
        holds: "which animals, or how many of which cohort",
        purpose: "to trace a sold animal to its parents, its sac and its papers",
        erasure: "stays: it names animals only",
    },
    Kept {
        table: "sale_order",
        what: "orders",
        holds: "what was wanted and when, and the staff's note",
        purpose: "to have the right animals ready",
        erasure: "the note goes; the rest stays, tied to the buyer's number",
    },
    Kept {
        table: "sale_line",
        what: "what was sold at which price",
        holds: "which animals of an order or a handover, in which packs, at which price",
        purpose: "to ask for the right amount, and to show later what was charged",
        erasure: "stays: amounts may have to be shown for years, and it names animals only",
    },
    Kept {
        table: "packed",
        what: "what was packed",
        holds: "which animals were put into the box, and when; who of the staff packed is the staff's",
        purpose: "to hand over what was ordered and nothing else",
        erasure: "stays: it names animals only",
    },
    Kept {
        table: "handover_risk_shown",
        what: "that the cautions were shown",
        holds: "that the cautions of risky animals were shown, and which least age was asked for",
        purpose: "to hand risky animals only to people who were told of the risk",
        erasure: "stays, tied to the number of the handover",
    },
    Kept {
        table: "journey",
        what: "journeys that were planned",
        holds: "by which carrier and on which day animals were to be sent to them, with the forecast there, and the staff's note",
        purpose: "to send animals only when it is neither too cold nor too hot",
        erasure: "the note goes; the rest stays, tied to the number of the handover",
    },
    Kept {
        table: "arrival",
        what: "arrivals",
        holds: "when what was sent arrived, when they told of dead ones, and the staff's note",
        purpose: "to make good what arrived dead or injured",
        erasure: "the note goes; the rest stays, tied to the number of the handover",
    },
    Kept {
        table: "arrival_line",
        what: "what arrived",
        holds: "how many of what was sent arrived alive, injured or dead",
        purpose: "to make good what arrived dead or injured",
        erasure: "stays: it names animals only",
    },
    Kept {
        table: "sale_return",
        what: "what they brought back",
        holds: "which animals came back, when, why and how they were",
        purpose: "to keep what comes back apart, and to know where an animal has been",
        erasure: "why and how they were go; the rest stays, tied to the number of the handover",
    },
    Kept {
        table: "credit_note",
        what: "credit notes",
        holds: "what was given back to them, in money",
        purpose: "to show what was charged and given back",
        erasure: "stays: amounts may have to be shown for years",
    },
    Kept {
        table: "credit_line",
        what: "what a credit note is for",
        holds: "for which of the animals something was given back, and why",
        purpose: "to show what was charged and given back",
        erasure: "stays: it names animals only",
    },
    Kept {
        table: "reservation",
        what: "reservations",
        holds: "what was kept for them and how long, and the staff's note",
        purpose: "to sell what is kept for somebody to nobody else",
        erasure: "what stands is released, and the notes go; the rest stays, tied to the buyer's number",
    },
    Kept {
        table: "paper",
        what: "papers",
        holds: "which papers they were given; the papers' own words name no person but in the part below",
        purpose: "to show years later what was given with an animal, unchanged",
        erasure: "stays with its number, day, animals and amounts: a house may have to show them for years",
    },
    Kept {
        table: "paper_person",
        what: "the part of a paper that names them",
        holds: "name, contact and address as printed",
        purpose: "to print a paper again as it was issued",
        erasure: "goes; the paper says so in its place",
    },
    Kept {
        table: "buyer_link",
        what: "links to papers",
        holds: "whether a link to one of their papers is open, and since when",
        purpose: "to let whoever holds a printed paper open it on the web",
        erasure: "closed",
    },
    Kept {
        table: "recall_found",
        what: "what a recall found with them",
        holds: "which of the animals they bought a recall concerns",
        purpose: "to tell the buyers of related animals when something was found",
        erasure: "stays: it names animals only",
    },
    Kept {
        table: "recall_contact",
        what: "who was written to about a recall",
        holds: "when they were written to, whether they were reached, and a note",
        purpose: "to know whom a recall has not reached yet",
        erasure: "the note goes; the rest stays, tied to the buyer's number",
    },
];
