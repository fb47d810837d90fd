//! The program itself, as a shell and a keeper of services meet it.

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};

pub fn holdover(arguments: &[&str], directory: &Path, input: &str) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_holdover"))
        .args(arguments)
        .env("HOLDOVER_DATA", directory)
        .current_dir(directory)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // A call that reads nothing may be gone before this.
    let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
    child.wait_with_output().unwrap()
}

pub fn said(output: &Output) -> (Option<i32>, String, String) {
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code(), text(&output.stdout), text(&output.stderr))
}

/// The service as a process, with its log.
pub struct Served {
    child: Child,
    log: BufReader<std::process::ChildStdout>,
    lines: Vec<serde_json::Value>,
}

impl Served {
    pub fn start(arguments: &[&str], directory: &Path) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_holdover"))
            .args(["serve", "--listen", "127.0.0.1:0"])
            .args(arguments)
            .current_dir(directory)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let log = BufReader::new(child.stdout.take().unwrap());
        Self { child, log, lines: Vec::new() }
    }

    /// Reads the log up to the line with this message.
    pub fn until(&mut self, message: &str) -> serde_json::Value {
        loop {
            let mut line = String::new();
            assert!(self.log.read_line(&mut line).unwrap() > 0, "the log ended: {:?}", self.lines);
            let line: serde_json::Value = serde_json::from_str(&line).unwrap();
            self.lines.push(line.clone());
            if line["message"].as_str().is_some_and(|words| words.starts_with(message)) {
                return line;
            }
        }
    }

    /// Told to stop, and its exit status.
    pub fn stop(mut self) -> Option<i32> {
        let pid = self.child.id().to_string();
        assert!(Command::new("kill").args(["-TERM", &pid]).status().unwrap().success());
        self.child.wait().unwrap().code()
    }
}

impl Drop for Served {
    /// A test that fails leaves no service behind.
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn get(address: &str, path: &str) -> String {
    let mut stream = TcpStream::connect(address).unwrap();
    write!(stream, "GET {path} HTTP/1.1\r\nhost: {address}\r\nconnection: close\r\n\r\n").unwrap();
    let mut text = String::new();
    stream.read_to_string(&mut text).unwrap();
    text
}

/// Sends a request line for line, as no browser would.
fn raw(address: &str, text: &str) {
    let mut stream = TcpStream::connect(address).unwrap();
    stream.write_all(text.as_bytes()).unwrap();
    let _ = stream.read_to_string(&mut String::new());
}

// Source: RFC 3339, Date and Time on the Internet, section 5.6, 2002 (the Z of UTC).
#[test]
fn the_log_is_in_utc_and_no_line_of_it_can_be_forged() {
    let folder = tempfile::tempdir().unwrap();
    let forged = "%0A%7B%22level%22%3A%22ERROR%22%7D%0D%0A2030-01-01T00:00:00Z%20ERROR%20forged";
    for form in ["json", "text"] {
        let mut child = Command::new(env!("CARGO_BIN_EXE_holdover"))
            .args(["serve", "--listen", "127.0.0.1:0", "--log-form", form, "--log", "debug"])
            .current_dir(folder.path())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut log = BufReader::new(child.stdout.take().unwrap());
        let mut lines = Vec::new();
        let address = loop {
            let mut line = String::new();
            assert!(log.read_line(&mut line).unwrap() > 0, "the log ended: {lines:?}");
            let at = line.find("127.0.0.1:").filter(|_| line.contains("listening"));
            lines.push(line.clone());
            if let Some(at) = at {
                let rest = &line[at..];
                let end = rest.find(|c: char| !c.is_ascii_digit() && c != '.' && c != ':');
                break rest[..end.unwrap_or(rest.len())].to_owned();
            }
        };
        raw(&address, &format!("GET /{forged} HTTP/1.1\r\nhost: x\r\nconnection: close\r\n\r\n"));
        let body = format!("name=eve{forged}&password=wet+gloves+on+a+line");
        raw(
            &address,
            &format!(
                "POST /sign-in?{forged} HTTP/1.1\r\nhost: x\r\nconnection: close\r\n\
             user-agent: {{\"level\":\"ERROR\"}}\r\nsec-fetch-site: same-origin\r\n\
             content-type: application/x-www-form-urlencoded\r\ncontent-length: {}\r\n\r\n{body}",
                body.len()
            ),
        );
        let pid = child.id().to_string();
        assert!(Command::new("kill").args(["-TERM", &pid]).status().unwrap().success());
        assert_eq!(child.wait().unwrap().code(), Some(0));
        let mut rest = String::new();
        log.read_to_string(&mut rest).unwrap();
        lines.extend(rest.lines().map(str::to_owned));
        assert!(lines.iter().any(|line| line.contains("/sign-in")), "{lines:?}");
        for line in &lines {
            assert!(!line.contains("wet gloves") && !line.contains("wet+gloves"), "{line}");
            if form == "json" {
                let line: serde_json::Value = serde_json::from_str(line).expect(line);
                assert!(line["timestamp"].as_str().unwrap().ends_with('Z'), "{line}");
                assert_ne!(line["level"], "ERROR", "{line}");
            } else {
                let time = line.trim_start_matches(|c: char| !c.is_ascii_digit());
                let time = time.split_whitespace().next().unwrap_or_default();
                assert!(time.starts_with("20") && time.contains('Z'), "{line}");
                assert!(!line.trim_start().starts_with("2030-01-01"), "{line}");
            }
        }
    }
}

#[test]
fn people_are_added_listed_and_given_passwords_from_the_shell() {
    let folder = tempfile::tempdir().unwrap();
    let call = |arguments: &[&str], input: &str| said(&holdover(arguments, folder.path(), input));
    let (code, out, _) =
        call(&["people", "add", "marit", "--role", "administrator"], "wet gloves on a line\n");
    assert_eq!((code, out.trim()), (Some(0), "marit is added as administrator."));
    let (code, _, err) = call(&["people", "add", "odd", "--role", "lead"], "short\n");
    assert_eq!(code, Some(1));
    assert!(err.contains("at least 15 characters") && err.trim().lines().count() == 1, "{err}");
    let (code, _, err) = call(&["people", "add", "odd", "--role", "king"], "");
    assert!(code == Some(2) && err.contains("viewer, engineer, lead, administrator"), "{err}");
    let (code, _, err) = call(&["people", "password", "nobody"], "wet gloves on a line\n");
    assert!(code == Some(1) && err.contains("nobody"), "{err}");
    let (code, _, err) = call(
        &["people", "add", "odd", "--role", "lead", "--as", "stranger"],
        "wet gloves on a line\n",
    );
    assert!(code == Some(1) && err.contains("stranger"), "{err}");
    assert_eq!(
        call(&["people", "password", "marit", "--as", "marit"], "seven gulls over the sea\n").0,
        Some(0)
    );
    let (code, out, _) = call(&["people", "list"], "");
    assert!(code == Some(0) && out.starts_with("marit") && out.contains("administrator"), "{out}");
    let (code, out, _) = call(&["check"], "");
    assert!(code == Some(0) && out.contains("nothing wrong"), "{out}");
    assert!(out.trim_end().ends_with(domain::caution::CAUTION), "{out}");
    let there = folder.path().join("out");
    let (code, out, err) = call(&["export", there.to_str().unwrap()], "");
    assert!(code == Some(0) && out.trim_end().ends_with(domain::caution::CAUTION), "{out}{err}");
    let about = std::fs::read_to_string(there.join("README.txt")).unwrap();
    assert!(about.contains(domain::caution::CAUTION), "{about}");
}

#[test]
fn a_wrong_call_ends_with_two_and_a_failed_one_with_one_line_and_one() {
    let folder = tempfile::tempdir().unwrap();
    let call = |arguments: &[&str]| said(&holdover(arguments, folder.path(), ""));
    assert_eq!(call(&["wat"]).0, Some(2));
    assert_eq!(call(&["--help"]).0, Some(0));
    let (code, _, err) = call(&["check"]);
    assert!(code == Some(1) && err.trim().lines().count() == 1 && err.contains("--data"), "{err}");
    let (code, _, err) = call(&["serve", "--listen", "somewhere"]);
    assert!(code == Some(2) && err.contains("127.0.0.1:8080"), "{err}");
    let (code, _, err) = call(&["serve", "--demo", "--listen", "0.0.0.0:0"]);
    assert!(code == Some(2) && err.contains("loopback"), "{err}");
    assert!(!folder.path().join("holdover.db").exists(), "nothing was made on the way");
}

#[test]
fn settings_come_in_layers_and_say_from_where() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(
        folder.path().join("holdover.toml"),
        "outpost = \"Holm\"\nlisten = \"[::1]:1\"\n",
    )
    .unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_holdover"))
        .args(["serve", "--print-settings", "--session-idle", "5"])
        .env("HOLDOVER_LISTEN", "127.0.0.1:2")
        .current_dir(folder.path())
        .output()
        .unwrap();
    let out = String::from_utf8(output.stdout).unwrap();
    let lines: Vec<Vec<&str>> = out.lines().map(|line| line.split_whitespace().collect()).collect();
    assert!(lines.contains(&vec!["listen", "127.0.0.1:2", "environment"]), "{out}");
    assert!(lines.contains(&vec!["outpost", "Holm", "holdover.toml"]), "{out}");
    assert!(lines.contains(&vec!["session_idle", "5", "flag"]), "{out}");
    assert!(lines.contains(&vec!["session_longest", "24", "default"]), "{out}");
}

#[test]
fn the_service_starts_tells_its_first_link_answers_and_stops_in_peace() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("data");
    let mut served = Served::start(&[], folder.path());
    let listening = served.until("listening");
    let address = listening["address"].as_str().unwrap();
    let link = served.until("first administrator");
    let path = link["url"].as_str().unwrap().split_once(address).unwrap().1.to_owned();
    assert!(get(address, "/healthz").starts_with("HTTP/1.1 200"));
    assert!(get(address, "/readyz").starts_with("HTTP/1.1 200"));
    assert!(get(address, &path).contains("Add the first administrator"));
    // The link was asked for; the log names the route and not the secret.
    let secret = path.trim_start_matches("/welcome/");
    let asked = loop {
        let answered = served.until("finished processing request").to_string();
        if answered.contains("/welcome/") {
            break answered;
        }
    };
    assert!(asked.contains("/welcome/{link}") && !asked.contains(secret), "{asked}");
    assert_eq!(served.stop(), Some(0));
    assert!(data.join("holdover.db").exists() && !data.join("holdover.db-wal").exists());
}

#[test]
fn the_first_link_is_a_whole_address_that_a_browser_reaches() {
    let folder = tempfile::tempdir().unwrap();
    let url = |arguments: &[&str]| {
        let mut served = Served::start(arguments, folder.path());
        let link = served.until("first administrator");
        assert_eq!(served.stop(), Some(0));
        link["url"].as_str().unwrap().to_owned()
    };
    let behind_a_proxy = url(&["--public-url", "https://holdover.example/"]);
    assert!(behind_a_proxy.starts_with("https://holdover.example/welcome/"), "{behind_a_proxy}");
    let here = url(&[]);
    let (_, rest) = here.split_once("http://127.0.0.1:").unwrap();
    assert!(rest.split_once("/welcome/").unwrap().0.parse::<u16>().is_ok(), "{here}");
}

#[test]
fn the_demo_logs_four_sign_ins_and_leaves_other_data_alone() {
    let folder = tempfile::tempdir().unwrap();
    let mut served = Served::start(&["--demo", "--demo-day", "2030-11-21"], folder.path());
    served.until("listening");
    let mut roles: Vec<String> = served
        .lines
        .iter()
        .filter(|line| line["message"] == "demo sign-in")
        .map(|line| {
            assert!(line["password"].as_str().unwrap().len() >= 15 && line["name"].is_string());
            line["role"].as_str().unwrap().to_owned()
        })
        .collect();
    roles.sort();
    assert_eq!(roles, ["administrator", "engineer", "lead", "viewer"]);
    assert_eq!(served.stop(), Some(0));
    assert!(std::fs::read_dir(folder.path()).unwrap().next().is_none(), "nothing is left behind");

    let data = folder.path().join("data");
    std::fs::create_dir(&data).unwrap();
    holdover(&["people", "add", "marit", "--role", "lead"], &data, "wet gloves on a line\n");
    let refused = said(&holdover(&["serve", "--demo", "--listen", "127.0.0.1:0"], &data, ""));
    assert!(refused.0 == Some(1) && refused.2.contains("not the demo's"), "{refused:?}");
    let (_, people, _) = said(&holdover(&["people", "list"], &data, ""));
    assert_eq!(people.lines().count(), 1);
}

#[test]
fn a_made_up_record_obeys_the_rules_and_is_the_same_for_a_seed() {
    let folder = tempfile::tempdir().unwrap();
    let filled = |name: &str, seed: &str| {
        let data = folder.path().join(name);
        std::fs::create_dir(&data).unwrap();
        let fill = ["bench", "fill", "--tasks", "300", "--attempts", "2400", "--seed", seed];
        let (code, out, err) = said(&holdover(&fill, &data, ""));
        assert!(code == Some(0) && out.contains("300 tasks"), "{out}{err}");
        let (code, out, err) = said(&holdover(&["check"], &data, ""));
        assert!(code == Some(0) && out.contains("nothing wrong"), "{out}{err}");
        let (code, _, err) = said(&holdover(&fill, &data, ""));
        assert!(code == Some(1) && err.contains("empty data directory"), "{err}");
        let (code, out, err) = said(&holdover(
            &["bench", "pages", "--only", "/history", "--times", "1", "--json"],
            &data,
            "",
        ));
        // A page may be over its bounds on a busy machine, which is said and no fault of the bench.
        assert!(matches!(code, Some(0 | 1)), "{err}");
        let figures: serde_json::Value = serde_json::from_str(&out).unwrap();
        let bytes = |page: &serde_json::Value| (page["path"].to_string(), page["bytes"].as_u64());
        let pages = figures["pages"].as_array().unwrap().iter().map(bytes);
        // A workbook says when it was written.
        pages.filter(|(path, _)| !path.contains(".xlsx")).collect::<Vec<_>>()
    };
    let (one, same, other) = (filled("one", "7"), filled("same", "7"), filled("other", "8"));
    assert_eq!(one, same);
    assert_ne!(one, other);
}
