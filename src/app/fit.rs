//! Loads what the fit looks at, once, and gives back what it says in the record's own codes.

use std::collections::{BTreeSet, HashMap};

use sqlx::SqliteConnection;

use crate::app::Failure;
use crate::app::dossier::{Dossier, FamilyRecord};
use crate::compute::fit::{
    self, Ask, Constants, Explained, Guard as Verdict, Part, Place, Snapshot, TaskAt,
};
use crate::compute::three_point::ThreePoint;
use crate::domain::codes::{
    ExcursionCode, FamilyCode, FlightCode, OutsideCode, TaskCode, TechniqueCode, ToolCode,
    WorksiteCode,
};
use crate::domain::excursions::Excursion;
use crate::domain::outside::OutsideItem;
use crate::domain::repeat_guard::{
    self, Approach, Guard, Judgement, UnitKey, approaches_left, approaches_of,
};
use crate::domain::sides::Side;
use crate::domain::slots::Slot;
use crate::domain::tasks::Task;
use crate::domain::techniques::Technique;
use crate::domain::time::Moment;
use crate::domain::tools::Tool;
use crate::domain::units::Minutes;
use crate::domain::words::{
    GateName, GateVerdict, LinkKind, OutsideState, SlotState, SlotVerdict, TaskState,
    TechniqueState,
};
use crate::domain::worksites::{Route, Worksite};
use crate::store::slot_history::GateThen;
use crate::store::standing::StandingRow;
use crate::store::{Kept, excursions, slots, standing, tasks, techniques};

/// No library is larger than this; it asks for all of one.
const EVERY: i64 = i64::MAX;

/// The snapshot with the codes that lead into it.
#[derive(Debug, Clone)]
pub struct Board {
    pub snapshot: Snapshot,
    pub constants: Constants,
    rows: HashMap<TaskCode, TaskAt>,
    columns: HashMap<ExcursionCode, usize>,
    /// The coming excursions as records, in the snapshot's order.
    pub excursions: Vec<Excursion>,
    /// The live slots of each coming excursion, in the snapshot's order.
    pub slots: Vec<Vec<Slot>>,
}

/// One gate of a judged slot, with its reasons.
#[derive(Debug, Clone)]
pub struct JudgedGate {
    pub gate: GateName,
    pub verdict: GateVerdict,
    pub reasons: Vec<Vec<Part>>,
}

impl JudgedGate {
    /// The reasons without links.
    pub fn words(&self) -> String {
        let sentences: Vec<String> = self.reasons.iter().map(|parts| Part::plain(parts)).collect();
        sentences.join(" ")
    }
}

/// A candidate slot, judged.
#[derive(Debug, Clone)]
pub struct Judged {
    pub verdict: SlotVerdict,
    pub gates: Vec<JudgedGate>,
    pub place: Option<Place>,
    pub approach: Option<Approach>,
    /// The approaches that the repeat guard leaves, best first.
    pub left: Vec<Approach>,
}

impl Judged {
    /// The gates as they are kept beside a slot that is set.
    pub fn gate_rows(&self, at: Moment) -> Vec<GateThen> {
        let row = |gate: &JudgedGate| GateThen {
            gate: gate.gate,
            verdict: gate.verdict,
            reason: gate.words(),
            at,
        };
        self.gates.iter().map(row).collect()
    }

    /// Each gate with its verdict.
    pub fn verdicts(&self) -> Vec<(GateName, GateVerdict)> {
        self.gates.iter().map(|gate| (gate.gate, gate.verdict)).collect()
    }

    /// Why it cannot be set, gate by gate, and what is left to do.
    pub fn refusal(&self, against: &[GateName]) -> String {
        let mut sentences: Vec<String> = self
            .gates
            .iter()
            .filter(|gate| against.contains(&gate.gate))
            .map(|gate| format!("{}, {}: {}", gate.gate, gate.verdict, gate.words()))
            .collect();
        if against.contains(&GateName::Approach) {
            let offers: Vec<String> = self.left.iter().map(Approach::to_string).collect();
            sentences.push(if offers.is_empty() {
                "No other approach is left.".to_owned()
            } else {
                format!("Approaches left: {}.", offers.join("; "))
            });
        }
        sentences.push(
            "Pencil it, mend that, or let a lead write a waiver that names the gate.".to_owned(),
        );
        sentences.join(" ")
    }
}

impl Board {
    pub fn task_at(&self, task: &TaskCode) -> Option<TaskAt> {
        self.rows.get(task).copied()
    }

    pub fn excursion_at(&self, excursion: &ExcursionCode) -> Option<usize> {
        self.columns.get(excursion).copied()
    }

    /// One task held against one excursion; its slot there, where it has one, as it stands.
    pub fn judge(&self, task: &TaskCode, excursion: &ExcursionCode, ask: &Ask) -> Option<Judged> {
        let (task, excursion) = (self.task_at(task)?, self.excursion_at(excursion)?);
        let explained = fit::one_cell(&self.snapshot, &self.constants, task, excursion, ask);
        Some(self.judged(task, &explained))
    }

    fn judged(&self, task: TaskAt, explained: &Explained) -> Judged {
        let gates = GateName::ALL
            .iter()
            .map(|&gate| {
                let verdict = explained.cell.gate(gate);
                let mut reasons: Vec<Vec<Part>> = explained
                    .reasons
                    .iter()
                    .filter(|(name, of, _)| *name == gate && *of == verdict)
                    .map(|(_, _, reason)| fit::sentence(&self.snapshot, task, reason))
                    .collect();
                if reasons.is_empty() {
                    let reason = explained.reason(gate);
                    reasons.push(fit::sentence(&self.snapshot, task, &reason));
                }
                reasons.dedup();
                JudgedGate { gate, verdict, reasons }
            })
            .collect();
        let approaches = &self.snapshot.tasks[task].approaches;
        let named =
            |a: &fit::Approach| Approach { technique: a.technique.clone(), side: a.side.clone() };
        let free = |a: &&fit::Approach| !matches!(a.guard, Verdict::Shut | Verdict::Withdrawn);
        Judged {
            verdict: explained.cell.verdict,
            gates,
            place: explained.cell.place,
            approach: explained.cell.approach.map(|at| named(&approaches[at])),
            left: approaches.iter().filter(free).map(named).collect(),
        }
    }
}

/// Judges a slot as it stands, pencilled or set.
pub async fn judge_slot(db: &mut SqliteConnection, slot: &Slot) -> Result<Judged, Failure> {
    let board = board(db, std::slice::from_ref(&slot.task)).await?;
    board.judge(&slot.task, &slot.excursion, &Ask::default()).ok_or_else(|| {
        Failure::Refused(format!(
            "{} is not among the coming excursions; set the task on one that is planned.",
            slot.excursion
        ))
    })
}

/// Loads the coming excursions with everything that these tasks, and the slots there, lean on.
pub async fn board(db: &mut SqliteConnection, wanted: &[TaskCode]) -> Result<Board, Failure> {
    let coming = excursions::coming(db).await?;
    let live = slots::coming_slots(db).await?;
    let places = Worksite::after(db, "", EVERY).await?;
    let routes = Route::after(db, "", EVERY).await?;
    let aids = OutsideItem::after(db, "", EVERY).await?;
    let kit = Tool::after(db, "", EVERY).await?;
    let codes = with_what_they_lean_on(db, wanted, &live, &aids).await?;
    let records = tasks::these(db, &codes).await?;
    let stands = standing::these(db, &codes).await?;
    let links = tasks::links_among(db, &codes).await?;
    let dossier = Dossier::load(db, &codes).await?;
    let families: Vec<FamilyCode> = records.iter().filter_map(|task| task.family.clone()).collect();
    let ways = techniques::for_tasks(db, &codes, &families).await?;
    let named: Vec<TechniqueCode> = ways.iter().map(|way| way.code.0.clone()).collect();
    let rehearsals = techniques::rehearsals_of_these(db, &named).await?;

    let flights: HashMap<FlightCode, usize> =
        dossier.calendar.flights.iter().enumerate().map(|(at, f)| (f.code.clone(), at)).collect();
    let sites: HashMap<WorksiteCode, usize> =
        places.iter().enumerate().map(|(at, w)| (w.code.0.clone(), at)).collect();
    let items: HashMap<OutsideCode, usize> =
        aids.iter().enumerate().map(|(at, o)| (o.code.0.clone(), at)).collect();
    let tool_at: HashMap<ToolCode, usize> =
        kit.iter().enumerate().map(|(at, t)| (t.code.0.clone(), at)).collect();
    let rows: HashMap<TaskCode, TaskAt> =
        records.iter().enumerate().map(|(at, t)| (t.code.0.clone(), at)).collect();
    let stands: HashMap<TaskCode, StandingRow> =
        stands.into_iter().map(|row| (row.task.clone(), row)).collect();
    let flight = |code: &Option<FlightCode>| code.as_ref().and_then(|c| flights.get(c).copied());
    let minutes = |m: Option<Minutes>| m.map(|m| real(m.0));

    let mut approaches =
        Approaches { dossier: &dossier, ways: &ways, tools: &tool_at, rehearsals: &rehearsals };
    let guards = approaches.guards();
    let mut columns = HashMap::new();
    let mut snapshot = Snapshot {
        flights: dossier
            .calendar
            .flights
            .iter()
            .map(|f| fit::Flight { code: f.code.clone(), launch: f.launch, landing: f.landing })
            .collect(),
        sites: places
            .iter()
            .map(|w| fit::Site {
                code: w.code.0.clone(),
                setup: minutes(w.setup),
                cleanup: minutes(w.cleanup),
            })
            .collect(),
        outside: aids
            .iter()
            .map(|o| fit::OutsideItem {
                code: o.code.0.clone(),
                in_place: o.state == OutsideState::InPlace,
                brought_back_by: o.brought_back_by.as_ref().and_then(|t| rows.get(t).copied()),
            })
            .collect(),
        tools: kit
            .iter()
            .map(|t| fit::Tool {
                code: t.code.0.clone(),
                state: Some(t.state),
                aboard: t.on_board.and_then(|n| u32::try_from(n).ok()),
                outside: 0,
                arrives_with: flight(&t.arrives_with),
            })
            .collect(),
        ..Snapshot::default()
    };
    for route in &routes {
        let (Some(&from), Some(&to)) = (sites.get(&route.from_site), sites.get(&route.to_site))
        else {
            continue;
        };
        let aid = route.aid.as_ref().and_then(|aid| items.get(aid).copied());
        let there = u32::try_from(route.minutes.0).unwrap_or(u32::MAX);
        let back = route.minutes_back.map_or(there, |m| u32::try_from(m.0).unwrap_or(u32::MAX));
        snapshot.routes.push(fit::Route { from, to, minutes: there, aid });
        snapshot.routes.push(fit::Route { from: to, to: from, minutes: back, aid });
    }
    for record in &records {
        let code = &record.code.0;
        let stand = stands.get(code);
        let slotted: Vec<Approach> = live
            .iter()
            .filter(|slot| slot.task == *code)
            .map(|slot| Approach { technique: slot.technique.clone(), side: slot.side.clone() })
            .collect();
        let linked = |kind: LinkKind, both: bool| -> Vec<TaskAt> {
            links
                .iter()
                .filter(|link| link.kind == kind)
                .filter_map(|link| match (link.task == *code, link.other == *code) {
                    (true, _) => rows.get(&link.other).copied(),
                    (_, true) if both => rows.get(&link.task).copied(),
                    _ => None,
                })
                .collect()
        };
        let waits = links.iter().any(|l| l.kind == LinkKind::OnlyIf && l.task == *code);
        snapshot.tasks.push(fit::Task {
            code: code.clone(),
            standing: stands_as(stand),
            site: record.worksite.as_ref().and_then(|site| sites.get(site).copied()),
            share_left: stand.map_or(1.0, |stand| real(stand.share_left.0) / 100.0),
            work: three_point(record.optimistic, record.likely, record.pessimistic),
            seats: record.seats.and_then(|seats| usize::try_from(seats).ok()),
            approaches: approaches.of(record, &guards, &slotted),
            needs: linked(LinkKind::Needs, false),
            same_visit: linked(LinkKind::SameVisit, true),
            instead_of: linked(LinkKind::InsteadOf, true),
            waits_for_trigger: waits && !record.triggered,
            needed_by_flight: flight(&record.needed_by_flight),
            needed_by_day: record.needed_by_day,
            late_means: record.late_means.as_ref().map(|words| words.0.clone()),
            late_is_moot: record.late_is_moot,
            back_inside_by: flight(&record.back_inside_by),
            work_rate: record.work_rate,
            lighting: Some(record.lighting),
            arm: record.arm,
            takes_out: record.takes_out.map(|l| l.0),
            brings_in: record.brings_in.map(|l| l.0),
        });
    }
    let mut slots_there = Vec::new();
    for (at, excursion) in coming.iter().enumerate() {
        columns.insert(excursion.code.0.clone(), at);
        let here: Vec<Slot> = live
            .iter()
            .filter(|slot| slot.excursion == excursion.code.0 && rows.contains_key(&slot.task))
            .cloned()
            .collect();
        let on_it = here.iter().map(|slot| slot_of(slot, &rows, &snapshot)).collect();
        snapshot.excursions.push(fit::Excursion {
            code: excursion.code.0.clone(),
            flight: flight(&excursion.flight),
            day: excursion.day,
            planned: minutes(excursion.planned),
            limit: minutes(excursion.limit),
            egress: minutes(excursion.egress),
            ingress: minutes(excursion.ingress),
            seats: excursion.seats.numbers().collect(),
            airlock: excursion.airlock.as_ref().and_then(|site| sites.get(site).copied()),
            arm_windows: excursion.arm_windows.0.clone(),
            orbit: fit::Orbit {
                period: excursion.orbit_period.map(|p| p.0),
                altitude: excursion.orbit_altitude.map(|a| a.0),
                beta: excursion.beta.map(|b| b.0),
                first_sunrise: excursion.first_sunrise.map(|s| real(s.0)),
            },
            supplies: fit::Supplies {
                oxygen: excursion.oxygen.map(|k| k.0),
                scrubber: excursion.scrubber.map(|k| k.0),
                water: excursion.water.map(|k| k.0),
                battery: minutes(excursion.battery),
            },
            bag_out: excursion.bag_out.map(|l| l.0),
            bag_in: excursion.bag_in.map(|l| l.0),
            slots: on_it,
        });
        slots_there.push(here);
    }
    Ok(Board {
        snapshot,
        constants: Constants::default(),
        rows,
        columns,
        excursions: coming,
        slots: slots_there,
    })
}

/// The wanted tasks, those in slots, those they are linked to, those that bring aids in.
async fn with_what_they_lean_on(
    db: &mut SqliteConnection,
    wanted: &[TaskCode],
    live: &[Slot],
    aids: &[OutsideItem],
) -> Result<Vec<TaskCode>, Failure> {
    let mut codes: BTreeSet<TaskCode> = wanted.iter().cloned().collect();
    codes.extend(live.iter().map(|slot| slot.task.clone()));
    codes.extend(aids.iter().filter_map(|item| item.brought_back_by.clone()));
    let first: Vec<TaskCode> = codes.iter().cloned().collect();
    for link in tasks::links_among(db, &first).await? {
        codes.insert(link.task);
        codes.insert(link.other);
    }
    Ok(codes.into_iter().collect())
}

fn stands_as(stand: Option<&StandingRow>) -> fit::Standing {
    match stand {
        Some(row) if row.state == TaskState::Done => fit::Standing::Done,
        Some(row) if row.state == TaskState::Dropped => fit::Standing::Dropped,
        Some(row) if row.state == TaskState::Parked || !row.is_open => fit::Standing::Resting,
        Some(_) | None => fit::Standing::Open,
    }
}

fn slot_of(slot: &Slot, rows: &HashMap<TaskCode, TaskAt>, snapshot: &Snapshot) -> fit::Slot {
    let task = rows.get(&slot.task).copied().unwrap_or(0);
    let approach = snapshot.tasks[task]
        .approaches
        .iter()
        .position(|a| a.technique == slot.technique && a.side == slot.side);
    fit::Slot {
        task,
        set: slot.state == SlotState::Set,
        approach,
        seats: slot.seats.numbers().collect(),
        share: slot.share.map(|share| real(share.0) / 100.0),
    }
}

fn three_point(
    optimistic: Option<Minutes>,
    likely: Option<Minutes>,
    pessimistic: Option<Minutes>,
) -> Option<ThreePoint> {
    ThreePoint::new(real(optimistic?.0), real(likely?.0), real(pessimistic?.0))
}

/// Minutes and shares stay far below the 2⁵³ that a float holds exactly.
#[expect(clippy::cast_precision_loss, reason = "minutes and shares are small")]
fn real(whole: i64) -> f64 {
    whole as f64
}

/// Builds the approaches of a task, with what the repeat guard says of each.
struct Approaches<'a> {
    dossier: &'a Dossier,
    ways: &'a [Technique],
    tools: &'a HashMap<ToolCode, usize>,
    rehearsals: &'a [crate::domain::techniques::Rehearsal],
}

type Guards<'a> = HashMap<Option<FamilyCode>, (Guard<'a>, &'a FamilyRecord)>;

impl<'a> Approaches<'a> {
    /// One guard per family, laid out once.
    fn guards(&self) -> Guards<'a> {
        let mut guards = HashMap::new();
        for opening in &self.dossier.events.openings {
            if opening.family.is_some()
                && let Some(record) = self.dossier.family_of(opening)
            {
                guards
                    .entry(opening.family.clone())
                    .or_insert_with(|| (Guard::new(record.record()), record));
            }
        }
        guards
    }

    fn of(&mut self, task: &Task, guards: &Guards<'a>, slotted: &[Approach]) -> Vec<fit::Approach> {
        let code = &task.code.0;
        let meant = |way: &&Technique| {
            way.task.as_ref() == Some(code) || (way.family.is_some() && way.family == task.family)
        };
        let techniques: Vec<&Technique> = self.ways.iter().filter(meant).collect();
        let listed: Vec<(TechniqueCode, Vec<Side>, TechniqueState)> =
            techniques.iter().map(|t| (t.code.0.clone(), t.sides.0.clone(), t.state)).collect();
        let candidates = approaches_of(&task.sides.0, &listed);
        let unit = self.dossier.unit_of(code);
        let opening = self.dossier.events.openings.iter().find(|o| o.task == *code);
        let empty = FamilyRecord::default();
        let own = opening.and_then(|opening| self.dossier.family_of(opening)).unwrap_or(&empty);
        let ranked = approaches_left(&unit, &candidates, own.record());
        let mut order: Vec<Approach> = ranked.into_iter().map(|left| left.approach).collect();
        for approach in candidates.iter().chain(slotted) {
            if !order.contains(approach) {
                order.push(approach.clone());
            }
        }
        order
            .iter()
            .map(|approach| {
                let judgement = match guards.get(&task.family) {
                    Some((guard, _)) => guard.judge(&unit, approach),
                    None => repeat_guard::judge(&unit, approach, own.record()),
                };
                let technique =
                    techniques.iter().find(|t| Some(&t.code.0) == approach.technique.as_ref());
                self.described(approach, technique.copied(), &judgement, own, &unit)
            })
            .collect()
    }

    fn described(
        &self,
        approach: &Approach,
        technique: Option<&Technique>,
        judgement: &Judgement,
        family: &FamilyRecord,
        unit: &UnitKey,
    ) -> fit::Approach {
        let withdrawn = technique.is_some_and(|t| t.state == TechniqueState::Withdrawn);
        let guard = match judgement {
            _ if withdrawn => Verdict::Withdrawn,
            Judgement::Clear => Verdict::Free,
            Judgement::InQuestion { .. } => Verdict::InQuestion,
            Judgement::Shut { .. } => Verdict::Shut,
            Judgement::CannotTell { .. } => Verdict::NotRecorded,
        };
        fit::Approach {
            technique: approach.technique.clone(),
            side: approach.side.clone(),
            guard,
            against: judgement.attempts().to_vec(),
            work: technique.and_then(|t| three_point(t.optimistic, t.likely, t.pessimistic)),
            seats: technique.and_then(|t| t.seats).and_then(|seats| usize::try_from(seats).ok()),
            tools: technique
                .map(|t| t.tools.iter().filter_map(|tool| self.tools.get(tool).copied()).collect())
                .unwrap_or_default(),
            remedies: remedies(approach, family, unit),
            rehearsal_demanded: technique.is_some_and(|t| t.rehearsal_demanded),
            revision: technique.and_then(|t| t.revision),
            rehearsals: self
                .rehearsals
                .iter()
                .filter(|r| Some(&r.technique) == approach.technique.as_ref())
                .map(|r| fit::Rehearsal {
                    kind: r.kind,
                    revision: r.revision,
                    side: r.side.clone(),
                    day: r.day,
                    success: r.success,
                })
                .collect(),
        }
    }
}

/// The remedies on which another try of this approach rests: those that name a failure by it here,
/// or one on a sister while they reach every unit.
fn remedies(approach: &Approach, family: &FamilyRecord, unit: &UnitKey) -> Vec<fit::Remedy> {
    use crate::domain::words::{Reach, RemedyState};
    family
        .answers
        .iter()
        .filter(|answer| answer.state != RemedyState::Withdrawn)
        .filter(|answer| {
            family.tries.iter().any(|tried| {
                answer.attempts.contains(&tried.attempt)
                    && tried.approach.is(approach)
                    && (answer.reach == Reach::EveryUnit
                        || unit.is_the_unit_of(&tried.unit, tried.account.scope))
            })
        })
        .map(|answer| fit::Remedy { code: answer.remedy.clone(), state: answer.state })
        .collect()
}
