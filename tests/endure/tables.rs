//! Large tables that come in over HTTP: read beside everything else, and in little memory.

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use crate::browser::Browser;
use crate::record::PASSWORD;
use crate::service::{Service, call_with};

/// The longest that somebody waited for an answer meanwhile.
fn longest_wait(address: &str, path: &str, is_over: &AtomicBool) -> Duration {
    let mut other = Browser::new();
    other.goes_to(address);
    let mut longest = Duration::ZERO;
    while !is_over.load(Ordering::SeqCst) {
        let begun = Instant::now();
        let answer = other.get(path).expect("the service is there");
        assert_eq!(answer.status, 200, "{}", answer.body);
        longest = longest.max(begun.elapsed());
        std::thread::sleep(Duration::from_millis(20));
    }
    longest
}

// The bounds are the project's own: 200 MB for a table, and nobody waits while it is read.
#[test]
fn a_large_table_is_read_beside_everything_else_and_in_little_memory() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("data");
    std::fs::create_dir(&data).unwrap();
    let add = ["people", "add", "engineer", "--role", "engineer"];
    let (status, said) = call_with(&add, &data, &format!("{PASSWORD}\n"));
    assert_eq!(status, Some(0), "{said}");
    let mut service = Service::start(&data);
    let address = service.address.clone();
    let mut browser = Browser::new();
    browser.goes_to(&address);
    browser.sign_in("engineer", PASSWORD);
    let text = "x".repeat(51_000);
    let rows = (0..1_150).map(|number| format!("L-{number},tool,{text}\n"));
    let table = format!("code,name,remarks of theirs\n{}", rows.collect::<String>());
    assert!(table.len() > 58_000_000);

    let is_over = AtomicBool::new(false);
    let waits = std::thread::scope(|scope| {
        let others = ["/healthz", "/sign-in"]
            .map(|path| scope.spawn(|| longest_wait(&address, path, &is_over)));
        let sent = browser.post_table("tools", table.as_bytes()).expect("it is taken");
        assert_eq!(sent.status, 303, "{}", sent.body);
        let mut at = sent.location;
        let page = loop {
            let page = browser.get(&at).expect("the service is there");
            if page.body.contains("nothing imported yet") {
                break page.body;
            }
            if page.status == 303 {
                at = page.location;
            }
            std::thread::sleep(Duration::from_millis(200));
        };
        is_over.store(true, Ordering::SeqCst);
        assert!(page.contains("<dt>New</dt><dd>1150</dd>"), "{page}");
        others.map(|other| other.join().unwrap())
    });
    let peak = service.memory_peak();
    println!("most memory {peak} MB, longest waits {waits:?}");
    assert!(peak < 200, "{peak} MB");
    assert!(waits.iter().all(|wait| *wait < Duration::from_secs(3)), "{waits:?}");
    service.stop();
}

/// Saves tools one after another until it is over: how many, and the longest that one took.
fn saved_meanwhile(address: &str, is_over: &AtomicBool) -> (u32, Duration) {
    let mut other = Browser::new();
    other.goes_to(address);
    other.sign_in("another", PASSWORD);
    let (mut count, mut longest) = (0, Duration::ZERO);
    while !is_over.load(Ordering::SeqCst) {
        let code = format!("L-X{count}");
        let key = format!("meanwhile-{count}");
        let begun = Instant::now();
        let answer = other
            .post("/tools/new", &[("form_key", &key), ("code", &code), ("name", "tether hook")])
            .expect("the service is there");
        assert_eq!(answer.status, 303, "{}", answer.body);
        longest = longest.max(begun.elapsed());
        count += 1;
        std::thread::sleep(Duration::from_millis(20));
    }
    (count, longest)
}

#[test]
fn others_save_on_while_a_large_table_is_imported() {
    const ROWS: usize = 4_000;
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("data");
    std::fs::create_dir(&data).unwrap();
    for person in ["engineer", "another"] {
        let add = ["people", "add", person, "--role", "engineer"];
        let (status, said) = call_with(&add, &data, &format!("{PASSWORD}\n"));
        assert_eq!(status, Some(0), "{said}");
    }
    let mut service = Service::start(&data);
    let address = service.address.clone();
    let mut browser = Browser::new();
    browser.goes_to(&address);
    browser.sign_in("engineer", PASSWORD);
    let rows = (0..ROWS).map(|number| format!("L-{number},pry bar {number}"));
    let rows = rows.collect::<Vec<String>>().join("\n");
    let sent = browser.post_table("tools", format!("code,name\n{rows}").as_bytes()).unwrap();
    assert_eq!(sent.status, 303, "{}", sent.body);
    let table = sent.location;

    let is_over = AtomicBool::new(false);
    let (took, (count, longest)) = std::thread::scope(|scope| {
        let other = scope.spawn(|| saved_meanwhile(&address, &is_over));
        let begun = Instant::now();
        let mut answer = browser.post(&table, &[("form_key", "import")]).unwrap();
        while answer.location.is_empty() || answer.location.ends_with("under-way") {
            std::thread::sleep(Duration::from_millis(50));
            answer = browser.get(&format!("{table}/under-way")).unwrap();
        }
        let took = begun.elapsed();
        is_over.store(true, Ordering::SeqCst);
        assert_eq!(answer.location, "/tools", "{}", answer.body);
        (took, other.join().unwrap())
    });
    println!("{ROWS} rows in {took:?}; meanwhile {count} saves, the longest {longest:?}");
    assert!(count > 10, "{count} saves in {took:?}");
    assert!(longest < took / 2, "one save waited {longest:?} of {took:?}");
    for code in ["L-0", "L-3999", "L-X0"] {
        assert_eq!(browser.get(&format!("/tools/{code}")).unwrap().status, 200, "{code}");
    }
    service.stop();
}
