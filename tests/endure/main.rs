//! The service is killed at any moment, under load, again and again: what it acknowledged is
//! there, nothing is half there, and the next start needs no hand.
//!
//! A first start and the laying out of the demo are killed as well.
//!
//! `HOLDOVER_ENDURE_ROUNDS`, `HOLDOVER_ENDURE_DAY_ROUNDS`, `HOLDOVER_ENDURE_STARTS`,
//! `HOLDOVER_ENDURE_DEMOS` and `HOLDOVER_ENDURE_SEED` change how often and when.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on stops where it stands")]

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

mod browser;
mod day;
mod record;
mod service;
#[cfg(target_os = "linux")]
mod tables;
mod writer;

use record::Record;
use service::{Service, call};
use writer::Writer;

const WRITERS: usize = 5;
/// The service lives so long after its first answer, in milliseconds.
const LIVES: std::ops::Range<u64> = 20..900;

#[test]
fn killed_at_any_moment_it_keeps_what_it_acknowledged_and_nothing_by_halves() {
    let rounds = asked("HOLDOVER_ENDURE_ROUNDS", 50);
    let seed = asked("HOLDOVER_ENDURE_SEED", 1);
    println!("HOLDOVER_ENDURE_ROUNDS={rounds} HOLDOVER_ENDURE_SEED={seed}");
    let mut chance = ChaCha8Rng::seed_from_u64(seed);
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("data");
    record::lay(folder.path(), &data, WRITERS);
    let mut writers: Vec<Writer> = (0..WRITERS).map(|number| Writer::new(number, seed)).collect();
    let begun = Instant::now();
    for round in 0..rounds {
        let mut service = Service::start(&data);
        for writer in &mut writers {
            writer.come_back(&service.address);
        }
        let last = round + 1 == rounds;
        let lives = Duration::from_millis(chance.random_range(LIVES));
        let killed = Arc::new(AtomicBool::new(false));
        std::thread::scope(|scope| {
            for writer in &mut writers {
                let killed = Arc::clone(&killed);
                scope.spawn(move || writer.write_until_cut_off(&killed));
            }
            std::thread::sleep(lives);
            killed.store(true, Ordering::SeqCst);
            if last { service.stop() } else { service.kill() }
        });
        holds(&data, &writers, round);
    }
    let acknowledged: usize = writers.iter().map(Writer::acknowledged).sum();
    println!("{rounds} rounds, {acknowledged} acknowledged writes, {:?}", begun.elapsed());
    assert!(acknowledged as u64 > rounds * 2, "there was hardly any load");
}

/// Looks at what a kill left, as the next start would find it.
fn holds(data: &Path, writers: &[Writer], round: u64) {
    let record = Record::read(data);
    for writer in writers {
        let faults = writer.held_against(&record);
        assert_eq!(faults, [] as [String; 0], "after round {round}");
    }
    let (status, said) = call(&["check"], data);
    assert!(status == Some(0) && said.contains("nothing wrong"), "after round {round}: {said}");
}

/// Every start is killed after a while that grows from nothing to longer than it takes.
fn starts_again(demo: bool, rounds: u64, longest: u64) {
    let seed = asked("HOLDOVER_ENDURE_SEED", 1);
    let mut chance = ChaCha8Rng::seed_from_u64(seed);
    let mut whole = 0;
    for round in 0..rounds {
        let folder = tempfile::tempdir().unwrap();
        let data = folder.path().join("data");
        let lives = Duration::from_millis(chance.random_range(0..longest));
        let mut first = Service::begin(&data, demo);
        std::thread::sleep(lives);
        first.kill();
        whole += u64::from(data.join("holdover.db").exists());
        let mut second = Service::begin(&data, demo);
        second.listens();
        second.stop();
        let (status, said) = call(&["check"], &data);
        assert!(
            status == Some(0) && said.contains("nothing wrong"),
            "round {round}, killed after {lives:?}: {said}"
        );
        let left: Vec<_> = std::fs::read_dir(&data)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter(|name| [".new", ".making"].iter().any(|end| name.ends_with(end)))
            .collect();
        assert_eq!(left, [] as [String; 0], "round {round}");
    }
    println!("{rounds} first starts killed, {whole} of them once the database was whole");
    assert!(whole < rounds, "none was killed before it was through");
}

#[test]
fn a_first_start_killed_at_any_moment_starts_again() {
    starts_again(false, asked("HOLDOVER_ENDURE_STARTS", 12), 600);
}

#[test]
fn a_demo_killed_at_any_moment_while_it_is_laid_out_starts_again() {
    starts_again(true, asked("HOLDOVER_ENDURE_DEMOS", 8), 8_000);
}

pub fn asked(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(otherwise)
}
