//! The fit on one small record that can be followed by hand.

mod carried_out;
mod chances;
mod changes;
mod fallbacks;
mod gates;
mod get_ahead;
mod laws;
mod order;
mod places;
mod practice;
mod reference;
mod reported;
mod room;
mod search;
mod waiting;
mod windows;

use super::{
    Approach, Ask, Cell, Constants, Excursion, Explained, Flight, Inhibit, OutsideItem, Part,
    Practice, Qualification, Rehearsal, Route, Site, Slot, Snapshot, Supplies, Task, Tool,
    one_cell, sentence,
};
use crate::places::{CrewAt, ExcursionAt, RatesAt, SiteAt, TaskAt};
use crate::supplies::Rates;
use crate::three_point::ThreePoint;
use domain::time::Day;
use domain::words::{GateName, GateVerdict, RehearsalKind, WorkRate};
use typed_index_collections::{TiVec, ti_vec};

pub(super) const LOCK: SiteAt = SiteAt(0);
pub(super) const KEEL: SiteAt = SiteAt(1);
pub(super) const MAST: SiteAt = SiteAt(2);

/// Three flights, three excursions of two seats, three worksites; T-1 is 60 min at the keel.
///
/// From the airlock: SiteAt(10) min to the keel and 12 back; 16 to the mast and 18 back; 6 from keel to
/// mast and 8 back. Keel: 5 setup, 3 cleanup; mast: 7 and 2. Egress 30, ingress 20, plan 6:00,
/// limit 7:00.
pub(super) fn record() -> Snapshot {
    let site = |code: &str, setup: f64, cleanup: f64| Site {
        code: code.into(),
        setup: Some(setup),
        cleanup: Some(cleanup),
        ..Site::default()
    };
    let route =
        |(from, to, minutes)| Route { from: SiteAt(from), to: SiteAt(to), minutes, aid: None };
    let flight = |(number, launch, landing): (u32, &str, &str)| Flight {
        code: format!("G-{number}").into(),
        launch: Some(day(launch)),
        landing: Some(day(landing)),
    };
    let legs = [(0, 1, 10), (1, 0, 12), (0, 2, 16), (2, 0, 18), (1, 2, 6), (2, 1, 8)];
    Snapshot {
        flights: [
            (1, "2031-03-01", "2031-03-20"),
            (2, "2031-07-01", "2031-07-20"),
            (3, "2031-11-01", "2031-11-20"),
        ]
        .map(flight)
        .into_iter()
        .collect(),
        sites: ti_vec![
            site("W-LOCK", 0.0, 0.0),
            site("W-KEEL", 5.0, 3.0),
            site("W-MAST", 7.0, 2.0)
        ],
        routes: legs.map(route).to_vec(),
        tools: ti_vec![Tool { code: "L-1".into(), aboard: Some(4), ..Tool::default() }],
        excursions: (0..3).map(excursion).collect(),
        tasks: ti_vec![task("T-1", KEEL, 60.0).into()],
        rates: ti_vec![Rates::PUBLISHED],
        outside: TiVec::new(),
        crews: ti_vec!["C-4".to_owned(), "C-7".to_owned()],
        inhibits: ti_vec![Inhibit {
            code: "I-1".into(),
            owner: Some("power".to_owned()),
            lead: Some(90.0),
        }],
    }
}

fn excursion(at: usize) -> Excursion {
    let days = ["2031-03-10", "2031-07-10", "2031-11-10"];
    Excursion {
        code: format!("E-{}.1", at + 1).into(),
        flight: Some(at.into()),
        day: Some(day(days[at])),
        planned: Some(360.0),
        limit: Some(420.0),
        egress: Some(30.0),
        ingress: Some(20.0),
        seats: vec![1, 2],
        airlock: Some(LOCK),
        supplies: Supplies {
            oxygen: Some(2.0),
            scrubber: Some(2.0),
            water: Some(9.0),
            battery: Some(900.0),
        },
        seat_rates: vec![Some(RatesAt(0)); 2],
        seat_crew: vec![Some(CrewAt(0)), Some(CrewAt(1))],
        ..Excursion::default()
    }
}

pub(super) fn day(text: &str) -> Day {
    <Day as domain::cells::Cell>::read(text).unwrap()
}

/// A one-seat task without spread, with one approach that nothing stands against.
pub(super) fn task(code: &str, site: SiteAt, minutes: f64) -> Task {
    Task {
        code: code.into(),
        site: Some(site),
        share_left: 1.0,
        work: ThreePoint::new(minutes, minutes, minutes),
        seats: Some(1),
        work_rate: Some(WorkRate::Moderate),
        approaches: ti_vec![practised(Approach {
            technique: Some("K-1".into()),
            ..Approach::default()
        })],
        ..Task::default()
    }
}

/// The approach, rehearsed and trained by both crew codes some weeks before each excursion.
pub(super) fn practised(mut approach: Approach) -> Approach {
    for on in ["2031-02-20", "2031-06-20", "2031-10-20"] {
        let practice = Practice { day: Some(day(on)), ..Practice::default() };
        approach.qualifications.extend(
            [0, 1].map(|crew| Qualification { crew: CrewAt(crew), practice: practice.clone() }),
        );
        approach.rehearsals.push(Rehearsal { kind: RehearsalKind::Tank, success: true, practice });
    }
    approach
}

/// Sets a task on an excursion, in a seat.
pub(super) fn set(
    record: &mut Snapshot,
    task: impl Into<TaskAt>,
    excursion: impl Into<ExcursionAt>,
    seats: &[u8],
) {
    let slot = Slot { task: task.into(), set: true, seats: seats.to_vec(), ..Slot::default() };
    record.excursions[excursion.into()].slots.push(slot);
}

pub(super) fn add(record: &mut Snapshot, task: Task) -> TaskAt {
    record.tasks.push_and_get_key(task.into())
}

pub(super) fn cell(
    record: &Snapshot,
    task: impl Into<TaskAt>,
    excursion: impl Into<ExcursionAt>,
) -> Explained {
    one_cell(record, &Constants::default(), task.into(), excursion.into(), &Ask::default())
}

/// Nothing varies but the work itself.
pub(super) fn even() -> Constants {
    Constants {
        crew_day_log_sd: 0.0,
        egress_log_sd: 0.0,
        ingress_log_sd: 0.0,
        travel_log_sd: 0.0,
        site_log_sd: 0.0,
        ..Constants::default()
    }
}

pub(super) fn gate(
    record: &Snapshot,
    excursion: impl Into<ExcursionAt>,
    name: GateName,
) -> GateVerdict {
    cell(record, 0, excursion).cell.gate(name)
}

/// The sentence of a gate of T-1.
pub(super) fn says(record: &Snapshot, excursion: impl Into<ExcursionAt>, name: GateName) -> String {
    let reason = cell(record, 0, excursion).reason(name);
    Part::plain(&sentence(record, TaskAt(0), &reason))
}

pub(super) fn margin(cell: &Cell) -> f64 {
    cell.place.unwrap().margin
}

pub(super) fn aid(code: &str, brought_back_by: Option<TaskAt>) -> OutsideItem {
    OutsideItem { code: code.into(), in_place: true, brought_back_by }
}
