//! Why a gate says what it says: figures and places in the snapshot's lists, no text.

use super::gates;
use super::snapshot::{Approach, Snapshot};
use crate::places::{
    ApproachAt, CrewAt, ExcursionAt, FlightAt, InhibitAt, OutsideAt, RemedyAt, SiteAt, TaskAt,
    ToolAt,
};
use crate::supplies::Supply;
use crate::timeline::Lanes;
use domain::words::RemedyState;

/// One reason of one gate. Small and without pointers, since a matrix holds one per gate and cell.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub enum Reason {
    /// This gate is not built yet and stands outside the verdict.
    #[default]
    NotChecked,
    Time(TimeFigures),
    /// Nobody accepted the chances, in per cent, from which a check is tight and met.
    BoundsNotAccepted {
        tight: u8,
        met: u8,
    },
    Unknown(Unknown),
    /// No place in the order keeps what the task needs before it and what needs it after it.
    NoPlaceInOrder,
    SeatsEnough {
        takes: u8,
        there: u8,
    },
    SeatsTooFew {
        takes: u8,
        there: u8,
    },
    /// Fewer seats are chosen than the task takes.
    SeatsChosen {
        takes: u8,
        chosen: u8,
    },
    ApproachFree {
        approach: ApproachAt,
    },
    ApproachQuestioned {
        approach: ApproachAt,
    },
    ApproachBlocked {
        approach: ApproachAt,
    },
    ApproachNotRecorded {
        approach: ApproachAt,
    },
    ApproachDrafted {
        approach: ApproachAt,
    },
    ApproachWithdrawn {
        approach: ApproachAt,
    },
    /// No technique is kept for the task: its own estimate was taken.
    ApproachNotNamed,
    NothingNeeded,
    NeedsMet,
    /// Needed, open, and set nowhere before.
    NeedsOpen {
        task: TaskAt,
    },
    NeedsDropped {
        task: TaskAt,
    },
    NeedsSetLater {
        task: TaskAt,
        excursion: ExcursionAt,
    },
    SameVisitElsewhere {
        task: TaskAt,
        excursion: ExcursionAt,
    },
    /// The other is set nowhere yet: both go here together.
    SameVisitTogether {
        task: TaskAt,
    },
    NeededBefore {
        task: TaskAt,
        excursion: ExcursionAt,
    },
    InsteadOfSet {
        task: TaskAt,
        excursion: ExcursionAt,
    },
    WaitsForTrigger,
    NoToolsNamed,
    ToolsAboard {
        count: u8,
    },
    ToolLast {
        tool: ToolAt,
    },
    ToolArrivesWith {
        tool: ToolAt,
        flight: FlightAt,
    },
    ToolArrivesAfter {
        tool: ToolAt,
        flight: FlightAt,
    },
    ToolNotAboard {
        tool: ToolAt,
    },
    ToolOutside {
        tool: ToolAt,
    },
    ToolLost {
        tool: ToolAt,
    },
    ToolBroken {
        tool: ToolAt,
    },
    ToolNotCounted {
        tool: ToolAt,
    },
    ToolInOtherHands {
        tool: ToolAt,
        task: TaskAt,
    },
    /// Of a get-ahead: what the crew holds, and how far it is from where they stand.
    ToolsInHand,
    ToolNotInHand {
        tool: ToolAt,
    },
    WayFromHere {
        minutes: u16,
    },
    NoRemedies,
    RemediesVerified {
        count: u8,
    },
    RemedyDone {
        approach: ApproachAt,
        remedy: RemedyAt,
    },
    RemedyOpen {
        approach: ApproachAt,
        remedy: RemedyAt,
    },
    WayThere {
        minutes: u16,
    },
    /// The way needs an aid that is not in place then.
    WayNeedsAid {
        site: SiteAt,
        aid: OutsideAt,
    },
    /// Bringing the aid in here takes the way from a task that is set for later.
    TakesWayFrom {
        aid: OutsideAt,
        task: TaskAt,
        excursion: ExcursionAt,
    },
    NoReturnDate,
    BackInTime {
        flight: FlightAt,
    },
    BackTooLate {
        flight: FlightAt,
    },
    NoNeededBy,
    InTime,
    Late,
    LateMoot,
    /// In time for the constraint or outside item that it ends; or not.
    BeforeBound,
    AfterBound,
    /// There is no place in the lanes, so this cannot be told either.
    NoPlace,
    NoArmNeeded,
    AnyLight,
    Window(WindowFigures),
    /// The orbit has none of the light that the work needs.
    NoSuchLight,
    NearCriticalBeta {
        excursion: ExcursionAt,
    },
    BagHolds,
    BagFull {
        out: bool,
        needs: f32,
        left: f32,
    },
    Rehearsed(PracticeFigures),
    Trained {
        crew: CrewAt,
        figures: PracticeFigures,
    },
    NoInhibits,
    InhibitsArranged {
        count: u8,
    },
    InhibitNotAsked {
        inhibit: InhibitAt,
    },
    InhibitAsked {
        inhibit: InhibitAt,
    },
    /// It is in place from one PET to another, and the work fits nowhere into that.
    InhibitOff {
        inhibit: InhibitAt,
        from: i32,
        until: Option<i32>,
    },
    /// The first supply to run out of a seat, the minutes between the end at P80 and that, and the
    /// task that is under way then.
    Supply {
        supply: Supply,
        seat: u8,
        runs_out: i32,
        left: i32,
        during: Option<TaskAt>,
    },
    SuppliesLast,
    /// What a check says of an approach that follows where the first one does not work.
    OfFallback {
        approach: ApproachAt,
        of: OfFallback,
    },
    /// The place is one only where the task begins no earlier than that minute, on purpose.
    BeginsNoEarlier {
        start: i32,
    },
    /// The check holds at another place, where another one fails.
    HoldsElsewhere {
        excursion: ExcursionAt,
        lanes: Lanes,
        start: i32,
    },
    /// A set task starts so much later with this one that it misses its window, or passes its
    /// latest start.
    Pushes {
        task: TaskAt,
        from: i32,
        to: i32,
        window: bool,
    },
}

/// What can stand against a fallback. As small as a reason: the rest is read from the snapshot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum OfFallback {
    Guard,
    Tool { tool: ToolAt, excursion: ExcursionAt },
    Remedy { remedy: RemedyAt },
    Rehearsed(PracticeFigures),
    Trained { crew: CrewAt, figures: PracticeFigures },
    SeatsTooFew { takes: u8, there: u8 },
    SeatsChosen { takes: u8, chosen: u8 },
}

impl OfFallback {
    /// The part of a reason that says something about an approach; none where it speaks of more
    /// than that.
    pub(super) fn of(reason: Reason, excursion: ExcursionAt) -> Option<Self> {
        Some(match reason {
            Reason::ApproachQuestioned { .. }
            | Reason::ApproachBlocked { .. }
            | Reason::ApproachNotRecorded { .. }
            | Reason::ApproachDrafted { .. }
            | Reason::ApproachWithdrawn { .. } => Self::Guard,
            Reason::ToolLast { tool }
            | Reason::ToolArrivesWith { tool, .. }
            | Reason::ToolArrivesAfter { tool, .. }
            | Reason::ToolNotAboard { tool }
            | Reason::ToolOutside { tool }
            | Reason::ToolLost { tool }
            | Reason::ToolBroken { tool }
            | Reason::ToolNotCounted { tool } => Self::Tool { tool, excursion },
            Reason::RemedyDone { remedy, .. } | Reason::RemedyOpen { remedy, .. } => {
                Self::Remedy { remedy }
            }
            Reason::Rehearsed(figures) => Self::Rehearsed(figures),
            Reason::Trained { crew, figures } => Self::Trained { crew, figures },
            Reason::SeatsTooFew { takes, there } => Self::SeatsTooFew { takes, there },
            Reason::SeatsChosen { takes, chosen } => Self::SeatsChosen { takes, chosen },
            _ => return None,
        })
    }

    /// The reason as a check gives it of an approach by itself.
    pub(super) fn of_approach(
        self,
        snapshot: &Snapshot,
        by: &Approach,
        approach: ApproachAt,
    ) -> Reason {
        match self {
            Self::Guard => gates::guarded(by.guard, approach).1,
            Self::Tool { tool, excursion } => {
                let flight = snapshot.excursions.get(excursion).and_then(|there| there.flight);
                let known = snapshot.tools.get(tool);
                known.map_or(Reason::ToolNotCounted { tool }, |known| {
                    gates::tool(known, tool, flight, excursion).1
                })
            }
            Self::Remedy { remedy } => {
                let done = by.remedies.get(remedy).map(|remedy| remedy.state);
                if done == Some(RemedyState::Done) {
                    Reason::RemedyDone { approach, remedy }
                } else {
                    Reason::RemedyOpen { approach, remedy }
                }
            }
            Self::Rehearsed(figures) => Reason::Rehearsed(figures),
            Self::Trained { crew, figures } => Reason::Trained { crew, figures },
            Self::SeatsTooFew { takes, there } => Reason::SeatsTooFew { takes, there },
            Self::SeatsChosen { takes, chosen } => Reason::SeatsChosen { takes, chosen },
        }
    }
}

/// Work held against a window, in minutes of elapsed time.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct WindowFigures {
    pub start: i32,
    pub end: i32,
    /// 0 where no window is open any more.
    pub closes: i32,
    pub chance: f32,
}

/// How an approach was practised, on the ground or by one crew code.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PracticeFigures {
    Never { demanded: bool },
    OtherSide,
    OlderRevision,
    Undated,
    DaysBefore { days: i32 },
}

/// Whole minutes, except the chance.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct TimeFigures {
    /// Minutes that the task adds to its lane: travel, setup, work, cleanup.
    pub needs: i32,
    /// Minutes that lane has before the limit without the task.
    pub left: i32,
    /// From the mean end of the excursion to its limit, the task in it.
    pub margin: i32,
    /// Minutes that the mean end passes the plan; 0 where it does not or no plan is known.
    pub past_plan: i32,
    /// Chance to end inside the limit, 0 to 1.
    pub chance: f32,
    pub lanes: Lanes,
}

/// What the record would have to say before the gate can tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unknown {
    Limit {
        excursion: ExcursionAt,
    },
    Egress {
        excursion: ExcursionAt,
    },
    Ingress {
        excursion: ExcursionAt,
    },
    Airlock {
        excursion: ExcursionAt,
    },
    Seats {
        excursion: ExcursionAt,
    },
    Flight {
        excursion: ExcursionAt,
    },
    Day {
        excursion: ExcursionAt,
    },
    /// The seats of a slot are not chosen, or are not among the excursion's.
    SlotSeats {
        excursion: ExcursionAt,
        task: TaskAt,
    },
    /// A set slot stands before the slot of a task that it needs.
    SlotOrder {
        excursion: ExcursionAt,
        task: TaskAt,
        needs: TaskAt,
    },
    Site {
        task: TaskAt,
    },
    Work {
        task: TaskAt,
    },
    TaskSeats {
        task: TaskAt,
    },
    WorkRate {
        task: TaskAt,
    },
    ArmWindows {
        excursion: ExcursionAt,
    },
    Altitude {
        excursion: ExcursionAt,
    },
    Beta {
        excursion: ExcursionAt,
    },
    FirstSunrise {
        excursion: ExcursionAt,
    },
    Supply {
        excursion: ExcursionAt,
        supply: Supply,
    },
    /// Nobody is named for that seat yet.
    Crew {
        excursion: ExcursionAt,
        seat: u8,
    },
    /// Inhibits in words that no record stands for.
    Inhibits {
        task: TaskAt,
    },
    /// Nobody accepted the reserve of every suit supply.
    SupplyReserve {
        minutes: u16,
    },
    /// Nobody entered rates for the suit in that seat.
    SuitRates {
        seat: u8,
    },
    Bag {
        excursion: ExcursionAt,
        out: bool,
    },
    Setup {
        site: SiteAt,
    },
    Cleanup {
        site: SiteAt,
    },
    /// No way is recorded, not even over an aid.
    Way {
        from: SiteAt,
        to: SiteAt,
    },
    /// There is a way, but only over an aid that is not in place then.
    WayWithoutAid {
        from: SiteAt,
        to: SiteAt,
        aid: OutsideAt,
    },
}
