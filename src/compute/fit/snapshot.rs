//! What the fit looks at: plain lists that point at each other by their places, so that no text
//! is compared and nothing is looked up while cells are judged. `None` is unknown, never nought.

use super::shared::Shared;
use crate::places::{
    ApproachAt, CrewAt, ExcursionAt, FlightAt, InhibitAt, OutsideAt, RatesAt, RemedyAt, SiteAt,
    SlotAt, TaskAt, ToolAt,
};
use crate::supplies::Rates;
use crate::three_point::ThreePoint;
use domain::codes::{
    AttemptCode, ExcursionCode, FlightCode, InhibitCode, OutsideCode, RemedyCode, TaskCode,
    TechniqueCode, ToolCode, WorksiteCode,
};
use domain::constraints::Bound;
use domain::repeat_guard::{Against, Judgement};
use domain::sides::Side;
use domain::time::Day;
use domain::units::Window;
use domain::words::{
    ArrangementState, LightNeed, PriorityClass, RehearsalKind, RemedyState, ToolState, WorkRate,
};
use typed_index_collections::TiVec;

/// Everything that the fit knows, at one version of the record.
#[derive(Debug, Clone, Default)]
pub struct Snapshot {
    /// All flights that anything below names, in their order, flown ones too.
    pub flights: TiVec<FlightAt, Flight>,
    pub sites: TiVec<SiteAt, Site>,
    pub routes: Vec<Route>,
    pub outside: TiVec<OutsideAt, OutsideItem>,
    pub tools: TiVec<ToolAt, Tool>,
    /// The rates at which suits use up what they carry.
    pub rates: TiVec<RatesAt, Rates>,
    pub inhibits: TiVec<InhibitAt, Inhibit>,
    /// The crew codes of the coming excursions and of those who are trained.
    pub crews: TiVec<CrewAt, String>,
    /// The coming excursions, in the order in which they will be flown: the matrix's columns.
    pub excursions: TiVec<ExcursionAt, Excursion>,
    /// Every open item, and every other task that an open item or a slot leans on.
    pub tasks: TiVec<TaskAt, Shared<Task>>,
}

#[derive(Debug, Clone, Default)]
pub struct Flight {
    pub code: FlightCode,
    pub launch: Option<Day>,
    pub landing: Option<Day>,
}

#[derive(Debug, Clone, Default)]
pub struct Site {
    pub code: WorksiteCode,
    pub setup: Option<f64>,
    pub cleanup: Option<f64>,
    /// As an airlock it takes seats in one by one.
    pub one_by_one: bool,
}

/// One direction of a route: a route that is recorded for both stands here twice.
#[derive(Debug, Clone, Default)]
pub struct Route {
    pub from: SiteAt,
    pub to: SiteAt,
    pub minutes: u32,
    pub aid: Option<OutsideAt>,
}

#[derive(Debug, Clone, Default)]
pub struct OutsideItem {
    pub code: OutsideCode,
    pub in_place: bool,
    pub brought_back_by: Option<TaskAt>,
}

#[derive(Debug, Clone, Default)]
pub struct Tool {
    pub code: ToolCode,
    pub state: Option<ToolState>,
    /// How many are inside, those left outside not counted.
    pub aboard: Option<u32>,
    pub outside: u32,
    pub arrives_with: Option<FlightAt>,
}

#[derive(Debug, Clone, Default)]
pub struct Inhibit {
    pub code: InhibitCode,
    pub owner: Option<String>,
    /// Minutes from asking to being in place.
    pub lead: Option<f64>,
}

/// How far an inhibit is on an excursion, in place between two minutes of elapsed time; from
/// egress on, or until ingress, where one is left out.
#[derive(Debug, Clone)]
pub struct Arranged {
    pub inhibit: InhibitAt,
    pub state: ArrangementState,
    pub from: Option<f64>,
    pub until: Option<f64>,
}

#[derive(Debug, Clone, Default)]
pub struct Excursion {
    pub code: ExcursionCode,
    pub flight: Option<FlightAt>,
    pub day: Option<Day>,
    pub planned: Option<f64>,
    pub limit: Option<f64>,
    pub egress: Option<f64>,
    pub ingress: Option<f64>,
    /// The seat numbers, in order: 1 for EV1.
    pub seats: Vec<u8>,
    pub airlock: Option<SiteAt>,
    pub arm_windows: Vec<Window>,
    pub orbit: Orbit,
    pub supplies: Supplies,
    /// Whose rates hold for each of `seats`; none where nobody entered any.
    pub seat_rates: Vec<Option<RatesAt>>,
    /// Who sits in each of `seats`; none where that is not known yet.
    pub seat_crew: Vec<Option<CrewAt>>,
    pub arranged: Vec<Arranged>,
    pub bag_out: Option<f64>,
    pub bag_in: Option<f64>,
    /// The chance, 0 to 1, that the flight does not give it up.
    pub flown: Option<f64>,
    /// The slots in their order on the excursion, pencilled and set.
    pub slots: TiVec<SlotAt, Slot>,
}

/// Minutes, kilometres, degrees, and the elapsed minutes of the first sunrise.
#[derive(Debug, Clone, Copy, Default)]
pub struct Orbit {
    pub period: Option<f64>,
    pub altitude: Option<f64>,
    pub beta: Option<f64>,
    pub first_sunrise: Option<f64>,
}

/// What one suit carries: kilograms, kilograms of carbon dioxide taken up, minutes of battery.
#[derive(Debug, Clone, Copy, Default)]
pub struct Supplies {
    pub oxygen: Option<f64>,
    pub scrubber: Option<f64>,
    pub water: Option<f64>,
    pub battery: Option<f64>,
}

#[derive(Debug, Clone, Default)]
pub struct Slot {
    pub task: TaskAt,
    /// A set slot counts for all others; a pencilled one only for itself.
    pub set: bool,
    /// `None` where the slot names none of the task's approaches.
    pub approach: Option<ApproachAt>,
    /// What follows where the approach does not work, in order.
    pub fallbacks: Vec<Fallback>,
    /// Seat numbers; empty where none is chosen yet.
    pub seats: Vec<u8>,
    /// The share planned, 0 to 1; `None`: all that is left.
    pub share: Option<f64>,
    /// It begins no earlier than that minute of elapsed time, on purpose.
    pub begin: Option<f64>,
    /// It may not be given up for another task.
    pub must_do: bool,
}

/// What follows where the approach before it does not work.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Fallback {
    /// `None`: the work is left as it is.
    pub approach: Option<ApproachAt>,
    /// Minutes of the approach before it; `None` where something else than minutes is its trigger.
    pub after: Option<f64>,
    /// The chance, 0 to 1, that it is needed once the approach before it is under way.
    pub chance: Option<f64>,
}

/// Where a task stands, as far as others lean on it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Standing {
    /// An open item: a row of the matrix.
    #[default]
    Open,
    /// Open, but parked or waiting to be triggered: no row, and not done either.
    Resting,
    Done,
    Dropped,
}

#[expect(clippy::struct_excessive_bools, reason = "each is a fact of its own in the record")]
#[derive(Debug, Clone, Default)]
pub struct Task {
    pub code: TaskCode,
    pub standing: Standing,
    pub class: Option<PriorityClass>,
    pub site: Option<SiteAt>,
    /// What is left of the work, 0 to 1.
    pub share_left: f64,
    pub work: Option<ThreePoint>,
    pub seats: Option<usize>,
    /// In the order in which they are to be considered, best first.
    pub approaches: TiVec<ApproachAt, Approach>,
    pub needs: Vec<TaskAt>,
    pub same_visit: Vec<TaskAt>,
    pub instead_of: Vec<TaskAt>,
    /// An `only if` task that nobody has triggered.
    pub waits_for_trigger: bool,
    pub needed_by_flight: Option<FlightAt>,
    pub needed_by_day: Option<Day>,
    /// The consequence of being late, in the record's own words.
    pub late_means: Option<String>,
    pub late_is_moot: bool,
    /// The date of what it ends, where that comes before its own: a constraint or an outside item.
    pub bound: Option<Bound>,
    pub back_inside_by: Option<FlightAt>,
    pub work_rate: Option<WorkRate>,
    pub lighting: Option<LightNeed>,
    pub arm: bool,
    pub takes_out: Option<f64>,
    pub brings_in: Option<f64>,
    pub inhibits: Vec<InhibitAt>,
    /// Its inhibits are named in words alone, which no program can hold against anything.
    pub inhibits_in_words: bool,
}

/// What the repeat guard says about one approach on this task's unit.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Guard {
    #[default]
    Free,
    Questioned,
    Blocked,
    /// A failure without a recorded technique or side could have been by this approach.
    NotRecorded,
    /// The technique is drafted: nobody has cleared it yet.
    Drafted,
    /// The technique is withdrawn.
    Withdrawn,
}

impl Guard {
    /// What the repeat guard's judgement makes of an approach whose technique is not withdrawn.
    pub fn of(judgement: &Judgement, drafted: bool) -> Self {
        match judgement {
            Judgement::Blocked { .. } => Self::Blocked,
            _ if drafted => Self::Drafted,
            Judgement::Clear => Self::Free,
            Judgement::Questioned { .. } => Self::Questioned,
            Judgement::CannotTell { .. } => Self::NotRecorded,
        }
    }
}

/// One way of doing the task: a technique and a side, each perhaps not chosen yet.
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a fact of the technique by itself; together they make up no state"
)]
#[derive(Debug, Clone, Default)]
pub struct Approach {
    pub technique: Option<TechniqueCode>,
    pub side: Option<Side>,
    pub guard: Guard,
    /// All failures that count against it here, sisters' too.
    pub against: Against,
    /// Nobody has cleared its technique yet.
    pub drafted: bool,
    /// The technique's own estimate; `None`: the task's holds.
    pub work: Option<ThreePoint>,
    /// The technique's own count of seats; `None`: the task's holds.
    pub seats: Option<usize>,
    pub tools: Vec<ToolAt>,
    /// The remedies that this try of it rests on.
    pub remedies: TiVec<RemedyAt, Remedy>,
    pub rehearsal_demanded: bool,
    pub revision: Option<i64>,
    pub rehearsals: Vec<Rehearsal>,
    pub training_demanded: bool,
    /// Work in daylight may stop at sunset and continue at sunrise.
    pub may_pause: bool,
    pub qualifications: Vec<Qualification>,
}

#[derive(Debug, Clone)]
pub struct Remedy {
    pub code: RemedyCode,
    pub state: RemedyState,
    /// The failures that it answers here once it is verified.
    pub answers: Vec<AttemptCode>,
}

/// What was practised, and when.
#[derive(Debug, Clone, Default)]
pub struct Practice {
    pub revision: Option<i64>,
    pub side: Option<Side>,
    pub day: Option<Day>,
}

#[derive(Debug, Clone)]
pub struct Rehearsal {
    pub kind: RehearsalKind,
    pub success: bool,
    pub practice: Practice,
}

#[derive(Debug, Clone)]
pub struct Qualification {
    pub crew: CrewAt,
    pub practice: Practice,
}
