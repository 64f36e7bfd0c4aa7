//! The trade's words that more than one reckoning uses.

coded_enum! {
    /// The part of life that a care profile is written for.
    LifeStage, "life stage" {
        Spiderling = "spiderling", "spiderling";
        Juvenile = "juvenile", "juvenile";
        Adult = "adult", "adult";
    }
}

coded_enum! {
    /// How near a duty brings a person's hands.
    Exposure, "exposure" {
        Look = "look", "look, lid closed";
        Open = "open", "lid open, tools";
        HandsIn = "hands-in", "hands in";
    }
}

coded_enum! {
    /// One thing to do for one subject.
    DutyKind, "duty" {
        Feed = "feed", "Feed";
        ClearUneaten = "clear-uneaten", "Clear uneaten prey";
        MoultCheck = "moult-check", "Moult check";
        Water = "water", "Water";
        SpotClean = "spot-clean", "Spot clean";
        Rehouse = "rehouse", "Rehouse";
        SacCheck = "sac-check", "Sac check";
        CohortCount = "cohort-count", "Cohort count";
        SacTurn = "sac-turn", "Turn sac";
        RoomReading = "room-reading", "Read the climate";
    }
}

coded_enum! {
    /// Why an animal was lost. `Escape` is a loss from the book, not a death.
    LossCause, "loss cause" {
        Infertile = "infertile", "infertile";
        Mould = "mould", "mould";
        Desiccation = "desiccation", "dried out";
        TooWet = "too-wet", "drowned or too wet";
        FailedMoult = "failed-moult", "failed moult";
        Cannibalism = "cannibalism", "cannibalism";
        PreyInjury = "prey-injury", "injured by prey";
        Mites = "mites", "mites";
        PhoridFlies = "phorid-flies", "phorid flies";
        Nematodes = "nematodes", "nematodes";
        Fall = "fall", "fall or rupture";
        Escape = "escape", "escaped";
        Transport = "transport", "transport";
        Handling = "handling", "handling injury";
        Climate = "climate", "heat or cold failure";
        Euthanised = "euthanised", "euthanised";
        Unknown = "unknown", "not known";
    }
}

coded_enum! {
    /// What became of the prey offered.
    MealOutcome, "meal outcome" {
        Took = "took", "took it";
        Refused = "refused", "refused, prey taken out";
        LeftIn = "left-in", "prey left in";
    }
}

coded_enum! {
    /// What a moult check saw.
    MoultState, "moult state" {
        Normal = "normal", "no change";
        PreMoult = "pre-moult", "pre-moult";
        Moulting = "moulting", "moulting now";
    }
}

coded_enum! {
    /// Where a species lives: Old World or New World.
    World, "world" {
        Old = "old", "Old World";
        New = "new", "New World";
    }
}

coded_enum! {
    /// How a species lives.
    Habit, "habit" {
        Arboreal = "arboreal", "arboreal";
        Terrestrial = "terrestrial", "terrestrial";
        Fossorial = "fossorial", "fossorial";
    }
}

coded_enum! {
    /// How damp the substrate is kept.
    Moisture, "moisture" {
        Dry = "dry", "dry";
        DryWetCorner = "dry-wet-corner", "dry with a wet corner";
        HalfDamp = "half-damp", "half damp";
        Damp = "damp", "damp";
    }
}

coded_enum! {
    /// Urticating setae: where they are and how they travel.
    Setae, "kind of urticating setae" {
        None = "none", "no urticating setae";
        Contact = "contact", "on the abdomen, shed by contact";
        Kicked = "kicked", "on the abdomen, kicked into the air";
        Severe = "severe", "on the abdomen, kicked, severe";
        Palps = "palps", "on the palps";
        Unverified = "unverified", "on the abdomen, type not verified";
    }
}

coded_enum! {
    /// Venom concern: a project classification, not a clinical grade.
    Venom, "venom concern" {
        Mild = "mild", "mild";
        Moderate = "moderate", "moderate";
        Significant = "significant", "medically significant";
    }
}

coded_enum! {
    /// How fast a species grows, which sets its common-practice moult and feeding ranges.
    Pace, "pace of growth" {
        Fast = "fast", "fast";
        Medium = "medium", "medium";
        Slow = "slow", "slow";
    }
}

coded_enum! {
    /// What an animal is known to be.
    Sex, "sex" {
        Unknown = "unknown", "unsexed";
        Female = "female", "female";
        Male = "male", "male";
    }
}

coded_enum! {
    /// What the sex rests on, weakest first.
    SexBasis, "basis of sex" {
        None = "none", "not sexed";
        Suspected = "suspected", "suspected (ventral view or shape)";
        Exuvium = "exuvium", "shed skin";
        Mature = "mature", "mature male (palpal bulbs)";
    }
}

coded_enum! {
    /// What a hold on an enclosure is for.
    HoldKind, "hold" {
        Agitated = "agitated", "agitated";
        Moulting = "moulting", "moulting";
        JustMoulted = "just-moulted", "just moulted";
        Quarantine = "quarantine", "quarantine";
        Rest = "rest", "rest after a broken-off rehouse";
    }
}

coded_enum! {
    /// What a length was taken of: diagonal leg span or body length. Never converted into each other.
    SpanKind, "kind of length" {
        LegSpan = "dls", "diagonal leg span";
        Body = "bl", "body length";
    }
}

coded_enum! {
    /// Whether a length was measured or estimated.
    SpanMethod, "way of measuring" {
        Measured = "measured", "measured";
        Estimated = "estimated", "estimated";
    }
}
