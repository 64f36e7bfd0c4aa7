//! Ids as types, so that a cohort's number can't be handed to a function that wants an animal's.

macro_rules! id_types {
    ($($(#[$meta:meta])* $name:ident;)+) => {$(
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize, sqlx::Type)]
        #[sqlx(transparent)]
        #[serde(transparent)]
        pub struct $name(pub i64);

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(f)
            }
        }

        impl std::str::FromStr for $name {
            type Err = std::num::ParseIntError;
            fn from_str(given: &str) -> Result<Self, Self::Err> {
                given.trim().parse().map(Self)
            }
        }
    )+};
}

impl SpeciesId {
    /// The first and the last id of one species, or of every one: a range finds either by its index.
    #[must_use]
    pub fn range(of: Option<Self>) -> (i64, i64) {
        of.map_or((i64::MIN, i64::MAX), |Self(id)| (id, id))
    }
}

id_types! {
    /// A member of staff.
    MemberId;
    /// Somebody's usual week from a day on.
    PatternId;
    /// Days on which somebody is away.
    AbsenceId;
    /// A one-time link (set-up, invitation, new pass phrase).
    LinkId;
    /// A room's tablet, signed in as itself.
    DeviceId;
    /// A room.
    RoomId;
    /// A rack in a room.
    RackId;
    /// A shelf of a rack.
    ShelfId;
    /// A reading of temperature and humidity.
    ReadingId;
    /// A species.
    SpeciesId;
    /// A revision of a care profile.
    ProfileId;
    /// A revision of a species' care-sheet text in a language.
    CareTextId;
    /// What was found at a stop.
    FindingId;
    /// A tagged animal.
    AnimalId;
    /// A pairing of two animals.
    PairingId;
    /// One time that the two of a pairing were put together.
    IntroductionId;
    /// An egg sac.
    SacId;
    /// A reading beside an egg sac.
    SacReadingId;
    /// A stage that was seen in an egg sac.
    SacSeenId;
    /// A line: the house's own name for a closed group of one species.
    StrainId;
    /// A cohort of spiderlings.
    CohortId;
    /// A line of a cohort's count ledger.
    LineId;
    /// A duty.
    DutyId;
    /// A sign-off of a duty.
    SignoffId;
    /// A sign-off that waited for the wireless and could not be written.
    RefusalId;
    /// A kind and size of prey.
    PreyKindId;
    /// A line of the book of prey.
    PreyLineId;
    /// A planned rehouse: two people and a time.
    RehousePlanId;
    /// A supervised rehouse.
    AssessmentId;
    /// A line that the house adds to the list before a rehouse.
    ChecklistLineId;
    /// A hold on an enclosure.
    HoldId;
    /// A rule set apart for one animal or cohort.
    ApartId;
    /// An individual caution.
    CautionId;
    /// A clearance that was granted.
    ClearanceId;
    /// An incident.
    IncidentId;
    /// A buyer.
    BuyerId;
    /// A handover.
    HandoverId;
    /// A line of a handover.
    HandoverLineId;
    /// An order.
    OrderId;
    /// What is sold at one price, on an order or a handover.
    SaleLineId;
    /// A price list.
    PriceListId;
    /// A price of a list.
    PriceId;
    /// An outing: a day on which stock is taken along to sell.
    OutingId;
    /// A line of what an outing took along.
    OutingLineId;
    /// How what was sent arrived.
    ArrivalId;
    /// What a buyer brought back.
    ReturnId;
    /// What is reserved for somebody.
    ReservationId;
    /// A recall of what is related to an animal or a cohort.
    RecallId;
    /// An issued paper.
    PaperId;
    /// A paper on file that shows where an animal or cohort is from.
    DocumentId;
    /// A statement on breeding stock.
    StatementId;
    /// A note on what law asks for at a place.
    LawPlaceId;
    /// A saved sheet of labels.
    LabelSheetId;
}
