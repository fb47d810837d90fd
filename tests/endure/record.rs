//! The record on which the writers write, and what of it is read back beside the service.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::path::Path;

use domain::attempts::Attempt;
use domain::endings::Parking;
use domain::slots::Slot;
use domain::tasks::Task;
use domain::words::SlotState;
use store::{Db, Kept};

use crate::service::{call, call_with};

/// Slots of one writer that wait for their results.
pub const RESULTS: usize = 6;
/// Tasks of one writer that are planned and taken off again.
pub const PLANNED: usize = 3;
pub const PASSWORD: &str = "wet gloves hang on a line";

/// The codes of a writer's own things, so that no two write the same.
pub fn task_with_result(writer: usize, number: usize) -> String {
    format!("T-{writer}1{number:02}")
}

pub fn slot_with_result(writer: usize, number: usize) -> String {
    format!("S-{writer}1{number:02}")
}

pub fn task_to_plan(writer: usize, number: usize) -> String {
    format!("T-{writer}2{number:02}")
}

pub fn excursion_of(writer: usize) -> String {
    format!("E-37.{}", writer + 1)
}

/// Lays the record out by the program's own commands.
pub fn lay(folder: &Path, data: &Path, writers: usize) {
    let mut excursions =
        "code,flight,number,day,state,planned,limit,egress,ingress,seats,airlock,oxygen,scrubber,\
        water,battery\n\
        E-36.1,G-36,1,2026-03-02,flown,6:30,7:00,30,28,\"EV1, EV2\",W-A,0.9,0.9,6,9:00\n"
            .to_owned();
    let mut families = "code,name\n".to_owned();
    let mut techniques =
        "code,name,family,state,sides,optimistic,likely,pessimistic,seats\n".to_owned();
    let mut tasks = "code,title,family,worksite,sides,class,optimistic,likely,pessimistic,seats,\
        work_rate,lighting\n"
        .to_owned();
    let mut slots = "code,task,excursion,technique,side,state\n".to_owned();
    for writer in 0..writers {
        let (family, technique) = (format!("F-{writer}"), format!("K-{writer}"));
        let day = writer + 1;
        writeln!(
            excursions,
            "{},G-37,{day},2036-03-{:02},planned,6:30,7:00,30,28,\"EV1, EV2\",W-A,0.9,0.9,6,9:00",
            excursion_of(writer),
            day + 10
        )
        .unwrap();
        writeln!(families, "{family},cassette {writer}").unwrap();
        writeln!(techniques, "{technique},pull,{family},cleared,\"nadir, zenith\",20,30,45,1")
            .unwrap();
        let mut task = |code: String| {
            writeln!(
                tasks,
                "{code},Swap {code},{family},W-B,\"nadir, zenith\",3,20,30,45,1,light,any"
            )
            .unwrap();
        };
        for number in 0..RESULTS {
            let (code, slot) = (task_with_result(writer, number), slot_with_result(writer, number));
            task(code.clone());
            writeln!(slots, "{slot},{code},E-36.1,{technique},nadir,set").unwrap();
        }
        (0..PLANNED).for_each(|number| task(task_to_plan(writer, number)));
    }
    let flights =
        "code,launch,landing,state\nG-36,2026-03-01,2026-03-12,flown\nG-37,2036-03-10,,coming\n";
    let rates = "light,moderate,heavy,overhead,quotient,leakage,external_work,electrics,environment,\
        water_heat,source\n170,235,345,225,0.85,8,0,69,0,2.45,logs\n";
    import(
        folder,
        data,
        &[
            ("settings", "code,supply_reserve,why\nTEAM,30,Accepted for the writers.\n"),
            ("suit-rates", rates),
            ("flights", flights),
            ("worksites", "code,name,setup,cleanup\nW-A,airlock,0,0\nW-B,bay,5,5\n"),
            ("routes", "from_site,to_site,minutes\nW-A,W-B,6\n"),
            ("families", &families),
            ("techniques", &techniques),
            ("excursions", &excursions),
            ("tasks", &tasks),
            ("slots", &slots),
        ],
    );
    let added = ["people", "add", "lead", "--role", "lead"];
    let (status, said) = call_with(&added, data, &format!("{PASSWORD}\n"));
    assert_eq!(status, Some(0), "{said}");
}

/// Imports tables, each of a kind.
pub fn import(folder: &Path, data: &Path, tables: &[(&str, &str)]) {
    for (kind, text) in tables {
        let file = folder.join(format!("{kind}.csv"));
        std::fs::write(&file, text).unwrap();
        let (status, said) = call(&["import", kind, file.to_str().unwrap()], data);
        assert_eq!(status, Some(0), "{kind}: {said}");
    }
}

/// What stands in the database.
pub struct Record {
    /// Notes by code.
    pub notes: BTreeMap<String, String>,
    /// Codes by title.
    pub titles: BTreeMap<String, Vec<String>>,
    /// The words of every result by slot.
    pub results: BTreeMap<String, Vec<String>>,
    /// The tasks that a parking with these words parks.
    pub parked: BTreeMap<String, BTreeSet<String>>,
    /// Live slots by task and excursion: code and state.
    pub slots: BTreeMap<(String, String), Vec<(String, SlotState)>>,
}

impl Record {
    pub fn read(data: &Path) -> Self {
        let machine = tokio::runtime::Builder::new_multi_thread().enable_all().build().unwrap();
        machine.block_on(async {
            let db = Db::open(&data.join("holdover.db")).await.unwrap();
            let record = Self::of(&db).await;
            db.close().await;
            record
        })
    }

    async fn of(db: &Db) -> Self {
        let mut record = Self {
            notes: BTreeMap::new(),
            titles: BTreeMap::new(),
            results: BTreeMap::new(),
            parked: BTreeMap::new(),
            slots: BTreeMap::new(),
        };
        let mut reader = db.reader().await.unwrap();
        for task in Task::after(&mut reader, "", i64::MAX).await.unwrap() {
            let code = task.code.0.as_str().to_owned();
            record.titles.entry(task.title.into_string()).or_default().push(code.clone());
            record.notes.insert(code, task.notes.into_string());
        }
        for tried in Attempt::after(&mut reader, "", i64::MAX).await.unwrap() {
            let slot = tried.slot.map_or_else(String::new, |slot| slot.as_str().to_owned());
            record.results.entry(slot).or_default().push(tried.words.into_string());
        }
        for parking in Parking::after(&mut reader, "", i64::MAX).await.unwrap() {
            let why = parking.why.into_string();
            record.parked.entry(why).or_default().insert(parking.task.as_str().to_owned());
        }
        for slot in Slot::after(&mut reader, "", i64::MAX).await.unwrap() {
            if matches!(slot.state, SlotState::Set | SlotState::Pencilled) {
                let at = (slot.task.as_str().to_owned(), slot.excursion.as_str().to_owned());
                let code = slot.code.0.as_str().to_owned();
                record.slots.entry(at).or_default().push((code, slot.state));
            }
        }
        record
    }
}
