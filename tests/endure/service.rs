//! The program as a process: started, told to stop, killed.

use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Child, ChildStdout, Command, Stdio};

pub struct Service {
    child: Child,
    log: Option<BufReader<ChildStdout>>,
    pub address: String,
}

impl Service {
    /// Starts the service as anybody would, and waits until it listens.
    pub fn start(data: &Path) -> Self {
        let mut service = Self::begin(data, false);
        service.listens();
        service
    }

    /// Starts it, with the demo or without, and waits for nothing.
    pub fn begin(data: &Path, demo: bool) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_holdover"))
            .args(["serve", "--listen", "127.0.0.1:0"])
            .args(demo.then_some("--demo"))
            .arg("--data")
            .arg(data)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let log = child.stdout.take().map(BufReader::new);
        Self { child, log, address: String::new() }
    }

    /// Waits until it listens.
    pub fn listens(&mut self) {
        let mut log = self.log.take().unwrap();
        self.address = loop {
            let mut line = String::new();
            assert!(log.read_line(&mut line).unwrap() > 0, "the service did not start");
            let line: serde_json::Value = serde_json::from_str(&line).unwrap();
            if line["message"] == "listening" {
                break line["address"].as_str().unwrap().to_owned();
            }
        };
        // Somebody has to read the log, or the service waits for it.
        std::thread::spawn(move || std::io::copy(&mut log, &mut std::io::sink()));
    }

    /// The most memory that it has held so far, in MB.
    #[cfg(target_os = "linux")]
    pub fn memory_peak(&self) -> u64 {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).unwrap();
        let peak = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap();
        peak.trim().trim_end_matches(" kB").parse::<u64>().unwrap() / 1_000
    }

    /// Ends it as a loss of the process would: nothing is finished, nothing is told.
    pub fn kill(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    /// Tells it to stop, which it does in peace.
    pub fn stop(&mut self) {
        let pid = self.child.id().to_string();
        assert!(Command::new("kill").args(["-TERM", &pid]).status().unwrap().success());
        assert_eq!(self.child.wait().unwrap().code(), Some(0));
    }
}

impl Drop for Service {
    /// A test that fails leaves no service behind.
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// One call of the program: its exit status and all that it said.
pub fn call(arguments: &[&str], data: &Path) -> (Option<i32>, String) {
    call_with(arguments, data, "")
}

pub fn call_with(arguments: &[&str], data: &Path, input: &str) -> (Option<i32>, String) {
    use std::io::Write as _;
    let mut child = Command::new(env!("CARGO_BIN_EXE_holdover"))
        .args(arguments)
        .env("HOLDOVER_DATA", data)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // A call that reads nothing may be gone before this.
    let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
    let output = child.wait_with_output().unwrap();
    let said = [output.stdout, output.stderr].concat();
    (output.status.code(), String::from_utf8_lossy(&said).into_owned())
}
