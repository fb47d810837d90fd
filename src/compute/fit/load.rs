//! A made-up snapshot of any size, for benchmarks and for tests of growth.

use crate::places::{ApproachAt, OutsideAt, RatesAt, SiteAt, TaskAt, ToolAt};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use typed_index_collections::ti_vec;

use super::{
    Approach, Arranged, Excursion, Flight, Inhibit, Orbit, OutsideItem, Practice, Qualification,
    Rehearsal, Route, Site, Slot, Snapshot, Supplies, Task, Tool,
};
use crate::supplies::Rates;
use crate::three_point::ThreePoint;
use domain::time::Day;
use domain::units::{Pet, Window};
use domain::words::{ArrangementState, LightNeed, RehearsalKind, WorkRate};

/// Crew codes, of which two sit in every excursion.
const CREWS: usize = 12;
/// Any day will do: days are only held against each other.
const FIRST_DAY: Day = Day(time::Date::MIN);

/// How large the snapshot is.
#[derive(Debug, Clone, Copy)]
pub struct Size {
    pub open_tasks: usize,
    pub excursions: usize,
    pub slots_each: usize,
    pub sites: usize,
}

/// Open tasks without a slot, and every excursion full of set tasks of its own: one in eight needs
/// two seats, one in eight the arm, one in eight daylight; every route is there in both
/// directions, and two of them need an aid.
pub fn snapshot(size: &Size, seed: u64) -> Snapshot {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let mut made = Snapshot {
        flights: (0..size.excursions.div_ceil(4)).map(flight).collect(),
        sites: (0..size.sites).map(|at| site(at, &mut random)).collect(),
        routes: routes(size.sites, &mut random),
        outside: (0..2).map(aid).collect(),
        tools: (0..40).map(|at| tool(at, &mut random)).collect(),
        rates: ti_vec![Rates::PUBLISHED; 2],
        inhibits: (0..8).map(inhibit).collect(),
        crews: (0..CREWS).map(|at| format!("C-{at}")).collect(),
        ..Snapshot::default()
    };
    made.tasks = (0..size.open_tasks).map(|at| task(at, size, &mut random).into()).collect();
    for at in 0..size.excursions {
        let mut here = excursion(at);
        for _ in 0..size.slots_each {
            let mut set = task(made.tasks.len(), size, &mut random);
            set.standing = super::Standing::Resting;
            set.work = ThreePoint::new(12.0, 18.0, 30.0);
            let seats =
                if set.seats == Some(2) { vec![1, 2] } else { vec![random.random_range(1..3)] };
            here.slots.push(Slot {
                task: made.tasks.next_key(),
                set: true,
                approach: Some(ApproachAt(0)),
                seats,
                ..Slot::default()
            });
            made.tasks.push(set.into());
        }
        made.excursions.push(here);
    }
    made
}

fn flight(at: usize) -> Flight {
    Flight { code: format!("G-{at}").into(), ..Flight::default() }
}

fn inhibit(at: usize) -> Inhibit {
    Inhibit { code: format!("I-{at}").into(), owner: None, lead: Some(60.0) }
}

/// Rehearsed by some, and every crew code in turn trained in it.
fn approach(at: usize, tools: &[ToolAt]) -> Approach {
    let day = |days: usize| Practice {
        day: Some(FIRST_DAY.plus(i64::try_from(days).unwrap_or_default())),
        ..Practice::default()
    };
    let run = |days| Rehearsal { kind: RehearsalKind::Tank, success: true, practice: day(days) };
    Approach {
        tools: tools.to_vec(),
        rehearsals: (0..at % 4).map(|which| run(which * 200)).collect(),
        training_demanded: at.is_multiple_of(10),
        qualifications: (0..CREWS)
            .filter(|crew| (crew + at).is_multiple_of(3))
            .map(|crew| Qualification { crew: crew.into(), practice: day(crew * 100) })
            .collect(),
        ..Approach::default()
    }
}

fn site(at: usize, random: &mut ChaCha8Rng) -> Site {
    let setup = Some(f64::from(random.random_range(0..8)));
    Site { code: format!("W-{at}").into(), setup, cleanup: setup, one_by_one: false }
}

/// A chain of worksites with some ways across.
fn routes(sites: usize, random: &mut ChaCha8Rng) -> Vec<Route> {
    let mut routes = Vec::new();
    let mut both = |a: usize, b: usize, aid: Option<OutsideAt>, random: &mut ChaCha8Rng| {
        let minutes = random.random_range(2..8);
        let (a, b) = (SiteAt::from(a), SiteAt::from(b));
        routes.push(Route { from: a, to: b, minutes, aid });
        routes.push(Route { from: b, to: a, minutes: minutes + 1, aid });
    };
    for at in 1..sites {
        let near = at.saturating_sub(random.random_range(1..6));
        both(near, at, None, random);
        if at % 3 == 0 {
            let other = random.random_range(0..at);
            both(other, at, (at < 7).then(|| (at / 3 - 1).into()), random);
        }
    }
    routes
}

fn aid(at: usize) -> OutsideItem {
    OutsideItem { code: format!("O-{at}").into(), in_place: true, brought_back_by: Some(at.into()) }
}

fn tool(at: usize, random: &mut ChaCha8Rng) -> Tool {
    let aboard = Some(random.random_range(0..4));
    Tool {
        code: format!("L-{at}").into(),
        aboard,
        arrives_with: Some((at % 7).into()),
        ..Tool::default()
    }
}

fn task(at: usize, size: &Size, random: &mut ChaCha8Rng) -> Task {
    let likely = f64::from(random.random_range(10..80));
    let tools: Vec<ToolAt> = (0..random.random_range(0..4))
        .map(|_| ToolAt::from(random.random_range(0..40_usize)))
        .collect();
    let by =
        (random.random_range(0..3) == 0).then(|| random.random_range(0..size.excursions / 4 + 1));
    let earlier = (at > 0 && random.random_range(0..6) == 0).then(|| random.random_range(0..at));
    Task {
        code: format!("T-{at}").into(),
        site: Some(random.random_range(0..size.sites).into()),
        share_left: 1.0,
        work: ThreePoint::new(likely * 0.7, likely, likely * 1.8),
        seats: Some(if random.random_range(0..8) == 0 { 2 } else { 1 }),
        approaches: ti_vec![approach(at, &tools); 2],
        inhibits: if at.is_multiple_of(6) { vec![(at % 8).into()] } else { Vec::new() },
        needs: earlier.into_iter().map(TaskAt::from).collect(),
        needed_by_flight: by.map(|by| by.min(size.excursions.div_ceil(4).saturating_sub(1)).into()),
        work_rate: Some(WorkRate::Moderate),
        lighting: (random.random_range(0..8) == 0).then_some(LightNeed::DaylightOnly),
        arm: random.random_range(0..8) == 0,
        ..Task::default()
    }
}

fn arranged(inhibit: usize) -> Arranged {
    let from = (inhibit == 3).then_some(60.0);
    Arranged { inhibit: inhibit.into(), state: ArrangementState::Arranged, from, until: None }
}

fn excursion(at: usize) -> Excursion {
    let window = |from: i64, until: i64| Window { from: Pet(from), until: Pet(until) };
    Excursion {
        code: format!("E-{at}").into(),
        flight: Some((at / 4).into()),
        day: Some(FIRST_DAY.plus(i64::try_from(at * 30).unwrap_or_default())),
        planned: Some(390.0),
        limit: Some(420.0),
        egress: Some(35.0),
        ingress: Some(28.0),
        seats: vec![1, 2],
        airlock: Some(SiteAt(0)),
        arm_windows: vec![window(60, 200), window(230, 380)],
        supplies: Supplies {
            oxygen: Some(0.75),
            scrubber: Some(0.68),
            water: Some(4.5),
            battery: Some(480.0),
        },
        seat_rates: vec![Some(RatesAt(0)), Some(RatesAt(1))],
        seat_crew: [2 * at, 2 * at + 1].map(|crew| Some((crew % CREWS).into())).to_vec(),
        arranged: (0..8).filter(|inhibit| (inhibit + at).is_multiple_of(2)).map(arranged).collect(),
        orbit: Orbit {
            period: None,
            altitude: Some(400.0),
            beta: Some(18.0),
            first_sunrise: Some(22.0),
        },
        ..Excursion::default()
    }
}
