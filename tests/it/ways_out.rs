//! Every change that is offered to make a slot fit is carried out on the record itself, in a
//! transaction of its own, and the slot is judged again by the ordinary checks.

use std::collections::BTreeMap;

use app::fit::{Board, board};
use app::work::Work;
use app::{Actor, demo};
use compute::fit::{
    ApproachAt, Ask, Change, ExcursionAt, Opening, Part, TaskAt, ToolAt, change_sentence, one_cell,
    openings,
};
use domain::cells::{Cell as _, Cells, Line, Prose};
use domain::codes::{Own, TaskCode};
use domain::excursions::Excursion;
use domain::findings::Remedy;
use domain::inhibits::Arrangement;
use domain::records::Record as _;
use domain::slots::Slot;
use domain::techniques::{Qualification, Rehearsal, Technique};
use domain::time::Moment;
use domain::tools::Tool;
use domain::units::Minutes;
use domain::words::{
    ArrangementState, RehearsalKind, RemedyState, Role, SlotState, SlotVerdict, ToolState,
};
use sqlx::SqlitePool;
use store::open_items::{self, Filter, Sort};
use store::{Kept as _, excursions, inhibits};

use crate::support::{NOW, TestApp};

/// So many ways out are carried out, at most so many of each made-up record.
const CASES: usize = 100;
const OF_EACH: usize = 45;

/// What is made of the demo, so that every kind of change is asked for.
#[derive(Debug, Clone, Copy)]
enum MadeUp {
    AsItIs,
    /// Every coming excursion has two hours less.
    ShortDays,
    /// No tool is aboard, and every technique demands a rehearsal.
    EmptyLocker,
}

#[sqlx::test]
async fn each_way_out_carried_out_on_the_record_opens_the_slot(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let mut all = 0;
    for made_up in [MadeUp::AsItIs, MadeUp::ShortDays, MadeUp::EmptyLocker] {
        make_up(&app, made_up).await;
        all += carried_out(&app, made_up).await;
    }
    assert!(all >= CASES, "{all}");
}

async fn make_up(app: &TestApp, made_up: MadeUp) {
    let actor = Actor { name: "keeper".into(), role: Role::Lead };
    let mut work = Work::begin(&app.app, &actor, None).await.unwrap();
    let db = work.db();
    match made_up {
        MadeUp::AsItIs => {}
        MadeUp::ShortDays => {
            for day in excursions::coming(db).await.unwrap() {
                let less = |minutes: Option<Minutes>| minutes.map(|m| Minutes(m.0 - 120));
                let (planned, limit) = (less(day.planned), less(day.limit));
                Excursion { planned, limit, ..day }.save(db).await.unwrap();
            }
        }
        MadeUp::EmptyLocker => {
            for tool in Tool::after(db, "", i64::MAX).await.unwrap() {
                Tool { on_board: Some(0), arrives_with: None, ..tool }.save(db).await.unwrap();
            }
            for way in Technique::after(db, "", i64::MAX).await.unwrap() {
                Technique { rehearsal_demanded: true, ..way }.save(db).await.unwrap();
            }
            for run in Rehearsal::after(db, "", i64::MAX).await.unwrap() {
                Rehearsal { success: false, ..run }.save(db).await.unwrap();
            }
        }
    }
    work.finish("").await.unwrap();
}

/// Carries the ways out of one record out, each on its own, and counts them.
async fn carried_out(app: &TestApp, made_up: MadeUp) -> usize {
    let mut reader = app.app.db.reader().await.unwrap();
    let items =
        open_items::page(&mut reader, &Filter::default(), Sort::Rank, 0, 500).await.unwrap();
    let actor = Actor { name: "keeper".into(), role: Role::Lead };
    let mut kinds: BTreeMap<String, usize> = BTreeMap::new();
    let (mut carried_out, mut false_ways) = (0, Vec::new());
    for item in &items {
        let before = board(&mut reader, std::slice::from_ref(&item.task)).await.unwrap();
        let Some(task) = before.task_at(&item.task) else { continue };
        for excursion in before.snapshot.excursions.keys() {
            let (snapshot, constants) = (&before.snapshot, &before.constants);
            let ask = Ask::default();
            if carried_out >= OF_EACH {
                break;
            }
            for opening in openings(snapshot, constants, &before.values, task, excursion, &ask) {
                let mut work = Work::begin(&app.app, &actor, None).await.unwrap();
                let mut ask = Ask::default();
                for change in &opening.changes {
                    carry_out(&mut work, &before, (task, excursion), change, &mut ask).await;
                    let kind = format!("{change:?}");
                    let kind = kind.split(' ').next().unwrap().to_owned();
                    *kinds.entry(kind).or_default() += 1;
                }
                let verdict = judged(&mut work, &before, (task, excursion), &ask).await;
                carried_out += 1;
                if !matches!(verdict, SlotVerdict::Fits | SlotVerdict::Tight) {
                    false_ways.push(said(&before, (task, excursion), &opening, verdict));
                }
            }
        }
    }
    println!("{made_up:?}: {carried_out} ways out carried out: {kinds:?}");
    assert!(
        false_ways.is_empty(),
        "{made_up:?}, {} of {carried_out}: {false_ways:#?}",
        false_ways.len()
    );
    carried_out
}

/// The slot judged as a person would find it: with the approach that the changes name, else the
/// one that the page chooses.
async fn judged(
    work: &mut Work,
    before: &Board,
    (task, excursion): (TaskAt, ExcursionAt),
    ask: &Ask,
) -> SlotVerdict {
    let code: &TaskCode = &before.snapshot.tasks[task].code;
    let after = board(work.db(), std::slice::from_ref(code)).await.unwrap();
    let way = ask.approach.map(|at| &before.snapshot.tasks[task].approaches[at]);
    let there = after.task_at(code).unwrap();
    let approaches = &after.snapshot.tasks[there].approaches;
    let approach = way.and_then(|way| {
        approaches.position(|one| one.technique == way.technique && one.side == way.side)
    });
    let ask = Ask { approach, ..ask.clone() };
    let on = after.excursion_at(&before.snapshot.excursions[excursion].code).unwrap();
    one_cell(&after.snapshot, &after.constants, there, on, &ask).cell.verdict
}

fn said(
    board: &Board,
    (task, excursion): (TaskAt, ExcursionAt),
    opening: &Opening,
    verdict: SlotVerdict,
) -> String {
    let words: Vec<String> = opening
        .changes
        .iter()
        .map(|change| Part::plain(&change_sentence(&board.snapshot, task, excursion, change)))
        .collect();
    let (task, excursion) =
        (&board.snapshot.tasks[task].code, &board.snapshot.excursions[excursion].code);
    format!("{task} on {excursion}: {}: {verdict}", words.join(" and "))
}

async fn find<R: store::Kept>(work: &mut Work, code: &str) -> R {
    R::find(work.db(), code).await.unwrap().unwrap()
}

async fn carry_out(
    work: &mut Work,
    before: &Board,
    (task, excursion): (TaskAt, ExcursionAt),
    change: &Change,
    ask: &mut Ask,
) {
    let snapshot = &before.snapshot;
    let here = &snapshot.excursions[excursion];
    let flight_day = || snapshot.flights[here.flight.unwrap()].launch;
    let day = here.day.or_else(flight_day);
    let way = |approach: ApproachAt| &snapshot.tasks[task].approaches[approach];
    match *change {
        Change::Drop { excursion, slot } => {
            let slot = &before.slots[excursion][slot];
            let off = Slot { state: SlotState::Withdrawn, ..slot.clone() };
            off.save(work.db()).await.unwrap();
        }
        Change::Move { excursion, slot, to } => {
            let slot = &before.slots[excursion][slot];
            let to = snapshot.excursions[to].code.clone();
            let moved = Slot { excursion: to, place: Some(10_000), ..slot.clone() };
            moved.save(work.db()).await.unwrap();
        }
        Change::Place { lanes, before, .. } => {
            ask.seats = lanes.each().map(|lane| here.seats[lane]).collect();
            (ask.before_slot, ask.afresh) = (Some(before), true);
        }
        Change::By { approach } => ask.approach = Some(approach),
        Change::Bring { tool, more } => bring(work, before, tool, more).await,
        Change::Rehearse { approach } => {
            let way = way(approach);
            let run = Rehearsal {
                code: Own("RE-1".into()),
                technique: way.technique.clone().unwrap(),
                revision: way.revision,
                side: way.side.clone(),
                kind: RehearsalKind::Tank,
                day,
                success: true,
                minutes: None,
                notes: Prose::default(),
            };
            run.save(work.db()).await.unwrap();
        }
        Change::Train { approach } => {
            let way = way(approach);
            let crews = here.seat_crew.iter().flatten();
            for (number, crew) in crews.enumerate() {
                let trained = Qualification {
                    code: Own(format!("QU-{number}").as_str().into()),
                    crew: Line::known(snapshot.crews[*crew].clone()),
                    technique: way.technique.clone().unwrap(),
                    revision: way.revision,
                    side: way.side.clone(),
                    day,
                    place: None,
                    notes: Prose::default(),
                };
                trained.save(work.db()).await.unwrap();
            }
        }
        Change::Arrange { inhibit } => {
            let inhibit = &snapshot.inhibits[inhibit].code;
            let all =
                inhibits::arranged_on(work.db(), std::slice::from_ref(&here.code)).await.unwrap();
            let known = all.into_iter().find(|one| one.inhibit == *inhibit);
            let code = known.map_or_else(|| Own("AR-W".into()), |one| one.code);
            let arranged = Arrangement {
                code,
                inhibit: inhibit.clone(),
                excursion: here.code.clone(),
                state: ArrangementState::Arranged,
                from_pet: None,
                until_pet: None,
                notes: Prose::default(),
            };
            arranged.save(work.db()).await.unwrap();
        }
        Change::Verify { approach } => {
            for remedy in &way(approach).remedies {
                let record: Remedy = find(work, remedy.code.as_str()).await;
                let verified = Remedy {
                    state: RemedyState::Verified,
                    verified_by: Some(Line::known("someone else")),
                    verified_on: Some(work.today),
                    ..record
                };
                verified.save(work.db()).await.unwrap();
            }
        }
        Change::First { task, on } => first(work, before, task, on).await,
        Change::Minutes { excursion, minutes } => {
            let code = snapshot.excursions[excursion].code.as_str().to_owned();
            let record: Excursion = find(work, &code).await;
            let limit = record.limit.unwrap().0 + i64::from(minutes);
            let longer = Excursion { limit: Some(Minutes(limit)), ..record };
            longer.save(work.db()).await.unwrap();
        }
    }
}

/// Counts so many more of a tool, whatever the record says of those that were aboard.
async fn bring(work: &mut Work, before: &Board, tool: ToolAt, more: u32) {
    let known = &before.snapshot.tools[tool];
    let is_usable = !matches!(known.state, Some(ToolState::Lost | ToolState::Broken));
    let wanted = i64::from(more) + i64::from(known.aboard.filter(|_| is_usable).unwrap_or(0));
    let record: Tool = find(work, known.code.as_str()).await;
    let counted = record.on_board.unwrap_or(0);
    // Counted today, so that nothing lost before is taken off.
    let counted_on = Some(work.today);
    let usable = Tool { state: ToolState::Usable, on_board: Some(counted), counted_on, ..record };
    usable.save(work.db()).await.unwrap();
    let now = board(work.db(), &[]).await.unwrap();
    let tools = &now.snapshot.tools;
    let aboard = tools.iter().find(|one| one.code == known.code).unwrap().aboard.unwrap_or(0);
    let enough = Tool { on_board: Some(counted + wanted - i64::from(aboard)), ..usable };
    enough.save(work.db()).await.unwrap();
}

/// Sets a task in its best place on an excursion.
async fn first(work: &mut Work, before: &Board, task: TaskAt, on: ExcursionAt) {
    let snapshot = &before.snapshot;
    let cell = one_cell(snapshot, &before.constants, task, on, &Ask::default()).cell;
    let place = cell.place.unwrap();
    for (number, slot) in (1_i64..).zip(&before.slots[on]) {
        Slot { place: Some(number * 10), ..slot.clone() }.save(work.db()).await.unwrap();
    }
    let way = cell.approach.map(|at| &snapshot.tasks[task].approaches[at]);
    let seats: Vec<String> = place
        .lanes
        .each()
        .map(|lane| format!("EV{}", snapshot.excursions[on].seats[lane]))
        .collect();
    let mut cells = Cells::default();
    for (name, text) in [
        ("code", "S-WAY".to_owned()),
        ("task", snapshot.tasks[task].code.to_string()),
        ("excursion", snapshot.excursions[on].code.to_string()),
        (
            "technique",
            way.and_then(|w| w.technique.clone()).map_or(String::new(), |t| t.to_string()),
        ),
        ("side", way.and_then(|w| w.side.clone()).map_or(String::new(), |s| s.show())),
        ("seats", seats.join(", ")),
        ("place", (i64::try_from(usize::from(place.before_slot)).unwrap() * 10 + 5).to_string()),
        ("state", "set".to_owned()),
    ] {
        cells.set(name, text);
    }
    Slot::parse(&cells).unwrap().save(work.db()).await.unwrap();
}
