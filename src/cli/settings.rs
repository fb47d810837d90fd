//! Settings in layers: flags over `HOLDOVER_*` over `holdover.toml` over what the program comes
//! with; and where each came from.

use std::collections::BTreeMap;
use std::net::{IpAddr, SocketAddr};
use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::parser::ValueSource;
use clap::{ArgMatches, Args};

use crate::Failed;
use app::config::Config;

/// The flags that every command takes.
#[derive(Debug, Args)]
pub struct Everywhere {
    /// The data directory [default: ./data]
    #[arg(long, value_name = "DIR", env = "HOLDOVER_DATA", hide_env_values = true)]
    pub data: Option<String>,
    /// The file of settings [default: ./holdover.toml, where there is one]
    #[arg(long, value_name = "FILE", env = "HOLDOVER_CONFIG", hide_env_values = true)]
    pub config: Option<String>,
}

/// The flags of `serve`. None has a default here, or the file would never count.
#[derive(Debug, Args)]
pub struct OfServing {
    /// Address and port to listen on [default: 127.0.0.1:8080]
    #[arg(long, value_name = "ADDRESS:PORT", env = "HOLDOVER_LISTEN", hide_env_values = true)]
    pub listen: Option<String>,
    /// Address under which people reach the service where a proxy is in front of it, with its
    /// scheme [default: where it listens, without TLS]
    #[arg(long, value_name = "URL", env = "HOLDOVER_PUBLIC_URL", hide_env_values = true)]
    pub public_url: Option<String>,
    /// What the outpost is called [default: Skerry]
    #[arg(long, value_name = "NAME", env = "HOLDOVER_OUTPOST", hide_env_values = true)]
    pub outpost: Option<String>,
    /// Cookies over TLS only: yes, no, or auto (not on loopback) [default: auto]
    #[arg(long, value_name = "WHEN", env = "HOLDOVER_SECURE_COOKIES", hide_env_values = true)]
    pub secure_cookies: Option<String>,
    /// Proxies, separated by commas, whose word on a client's address is believed [default: none]
    #[arg(
        long,
        value_name = "ADDRESSES",
        env = "HOLDOVER_TRUSTED_PROXIES",
        hide_env_values = true
    )]
    pub trusted_proxies: Option<String>,
    /// Minutes without a request after which a session ends [default: 60]
    #[arg(long, value_name = "MINUTES", env = "HOLDOVER_SESSION_IDLE", hide_env_values = true)]
    pub session_idle: Option<String>,
    /// Hours after which a session ends in any case [default: 24]
    #[arg(long, value_name = "HOURS", env = "HOLDOVER_SESSION_LONGEST", hide_env_values = true)]
    pub session_longest: Option<String>,
    /// What the log tells: error, warn, info, debug, or a filter [default: info]
    #[arg(long, value_name = "FILTER", env = "HOLDOVER_LOG", hide_env_values = true)]
    pub log: Option<String>,
    /// How the log is written: text, json, or auto (text on a terminal) [default: auto]
    #[arg(long, value_name = "FORM", env = "HOLDOVER_LOG_FORM", hide_env_values = true)]
    pub log_form: Option<String>,
}

/// Every setting: its name in the file, the id of its flag, its default.
const KNOWN: [(&str, &str); 10] = [
    ("data", "./data"),
    ("listen", "127.0.0.1:8080"),
    ("public_url", ""),
    ("outpost", "Skerry"),
    ("secure_cookies", "auto"),
    ("trusted_proxies", ""),
    ("session_idle", "60"),
    ("session_longest", "24"),
    ("log", "info"),
    ("log_form", "auto"),
];
const FILE: &str = "holdover.toml";

/// Where a setting came from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Origin {
    Flag,
    Environment,
    File(PathBuf),
    Default,
}

impl std::fmt::Display for Origin {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Flag => f.write_str("flag"),
            Self::Environment => f.write_str("environment"),
            Self::File(file) => write!(f, "{}", file.display()),
            Self::Default => f.write_str("default"),
        }
    }
}

/// The settings as they were found, each with where it came from.
#[derive(Debug, Clone)]
pub struct Settings(BTreeMap<&'static str, (String, Origin)>);

impl Settings {
    /// Reads all layers. A command without a flag for a setting has it from the layers below.
    pub fn read(given: &ArgMatches) -> Result<Self, Failed> {
        let (file, table) = file(flag(given, "config"))?;
        let mut found = BTreeMap::new();
        for (name, default) in KNOWN {
            let value = flag(given, name)
                .or_else(|| {
                    // A command that lacks the flag still heeds the environment.
                    let variable = std::env::var(format!("HOLDOVER_{}", name.to_uppercase()));
                    variable.ok().map(|value| (value, Origin::Environment))
                })
                .or_else(|| {
                    table.get(name).map(|value| (value.clone(), Origin::File(file.clone())))
                })
                .unwrap_or_else(|| (default.to_owned(), Origin::Default));
            found.insert(name, value);
        }
        Ok(Self(found))
    }

    /// One line a setting, in the order of the list.
    pub fn lines(&self) -> Vec<String> {
        KNOWN
            .iter()
            .filter_map(|(name, _)| {
                self.0.get(name).map(|(value, from)| format!("{name:<16} {value:<24} {from}"))
            })
            .collect()
    }

    pub fn data(&self) -> PathBuf {
        PathBuf::from(self.get("data"))
    }

    /// Whether somebody named the data directory.
    pub fn names_data(&self) -> bool {
        self.0.get("data").is_some_and(|(_, from)| *from != Origin::Default)
    }

    pub fn listen(&self) -> Result<SocketAddr, Failed> {
        let text = self.get("listen");
        let named = text.replacen("localhost:", "127.0.0.1:", 1);
        named.parse().map_err(|_| self.wrong("listen", "write it as 127.0.0.1:8080"))
    }

    pub fn log(&self) -> &str {
        self.get("log")
    }

    /// Whether the log is text; `terminal` says whether somebody reads it as it comes.
    pub fn log_is_text(&self, terminal: bool) -> Result<bool, Failed> {
        match self.get("log_form") {
            "auto" => Ok(terminal),
            "text" => Ok(true),
            "json" => Ok(false),
            _ => Err(self.wrong("log_form", "write text, json or auto")),
        }
    }

    /// The typed settings of the service.
    pub fn config(&self) -> Result<Config, Failed> {
        let secure_cookies = match self.get("secure_cookies") {
            "auto" => !self.listen()?.ip().is_loopback(),
            "yes" => true,
            "no" => false,
            _ => return Err(self.wrong("secure_cookies", "write yes, no or auto")),
        };
        let trusted_proxies = self
            .get("trusted_proxies")
            .split(',')
            .map(str::trim)
            .filter(|address| !address.is_empty())
            .map(str::parse)
            .collect::<Result<Vec<IpAddr>, _>>()
            .map_err(|_| self.wrong("trusted_proxies", "write addresses with commas between"))?;
        Ok(Config {
            outpost: self.get("outpost").to_owned(),
            session_idle: self.duration("session_idle", 60, 24 * 60)?,
            session_longest: self.duration("session_longest", 3_600, 31 * 24)?,
            secure_cookies,
            trusted_proxies,
            public_url: self.public_url()?,
            ..Config::default()
        })
    }

    /// The address that people type, without a slash at its end.
    fn public_url(&self) -> Result<Option<String>, Failed> {
        let text = self.get("public_url").trim_end_matches('/');
        if text.is_empty() {
            return Ok(None);
        }
        let host = text.strip_prefix("https://").or_else(|| text.strip_prefix("http://"));
        let is_whole = host.is_some_and(|host| {
            !host.is_empty() && !host.contains(|c: char| c.is_whitespace() || "/?#@".contains(c))
        });
        if is_whole {
            return Ok(Some(text.to_owned()));
        }
        Err(self.wrong("public_url", "write scheme and host, as https://holdover.example"))
    }

    fn duration(&self, name: &str, unit: u64, most: u64) -> Result<Duration, Failed> {
        match self.get(name).parse::<u64>() {
            Ok(count) if (1..=most).contains(&count) => Ok(Duration::from_secs(count * unit)),
            _ => Err(self.wrong(name, &format!("write a whole number from 1 to {most}"))),
        }
    }

    fn get(&self, name: &str) -> &str {
        self.0.get(name).map_or("", |(value, _)| value)
    }

    fn wrong(&self, name: &str, what_to_do: &str) -> Failed {
        let from = self.0.get(name).map_or(&Origin::Default, |(_, from)| from);
        Failed::Usage(format!("{name} ({from}) cannot be “{}”; {what_to_do}.", self.get(name)))
    }
}

fn flag(given: &ArgMatches, name: &str) -> Option<(String, Origin)> {
    let value = given.try_get_one::<String>(name).ok().flatten()?;
    let origin = match given.value_source(name)? {
        ValueSource::CommandLine => Origin::Flag,
        ValueSource::EnvVariable => Origin::Environment,
        _ => return None,
    };
    Some((value.clone(), origin))
}

/// The file of settings as texts. The one in the working directory may be missing; one that was
/// named may not.
fn file(named: Option<(String, Origin)>) -> Result<(PathBuf, BTreeMap<String, String>), Failed> {
    let must = named.is_some();
    let path = named.map_or_else(|| PathBuf::from(FILE), |(path, _)| PathBuf::from(path));
    match std::fs::read_to_string(&path) {
        Ok(text) => table(&path, &text).map(|table| (path, table)),
        Err(cause) if !must && cause.kind() == std::io::ErrorKind::NotFound => {
            Ok((path, BTreeMap::new()))
        }
        Err(cause) => Err(Failed::Usage(format!(
            "the settings in {} cannot be read ({cause}); name another file with --config.",
            path.display()
        ))),
    }
}

fn table(path: &Path, text: &str) -> Result<BTreeMap<String, String>, Failed> {
    let shown = path.display();
    let parsed: toml::Table =
        text.parse().map_err(|cause| Failed::Usage(format!("{shown} is not TOML: {cause}")))?;
    let mut table = BTreeMap::new();
    for (name, value) in parsed {
        if !KNOWN.iter().any(|(known, _)| *known == name) {
            let names: Vec<&str> = KNOWN.iter().map(|(known, _)| *known).collect();
            return Err(Failed::Usage(format!(
                "{shown} has a setting {name} that there is not; there are {}.",
                names.join(", ")
            )));
        }
        let value = match value {
            toml::Value::String(text) => text,
            toml::Value::Integer(number) => number.to_string(),
            toml::Value::Boolean(yes) => if yes { "yes" } else { "no" }.to_owned(),
            toml::Value::Array(list) => {
                let items = list.iter().filter_map(toml::Value::as_str).collect::<Vec<_>>();
                items.join(",")
            }
            toml::Value::Float(_) | toml::Value::Datetime(_) | toml::Value::Table(_) => {
                return Err(Failed::Usage(format!("{shown}: {name} is a text or a whole number.")));
            }
        };
        table.insert(name, value);
    }
    Ok(table)
}

#[cfg(test)]
mod tests {
    use clap::{Command, FromArgMatches as _};

    use super::*;

    /// The settings of a call with these flags and this file; the environment has none of ours.
    fn read(flags: &[&str], file: &str) -> Result<Settings, Failed> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("holdover.toml");
        std::fs::write(&path, file).unwrap();
        let grammar = OfServing::augment_args(Everywhere::augment_args(Command::new("serve")));
        let config = path.to_str().unwrap();
        let matches = grammar
            .try_get_matches_from(["serve", "--config", config].iter().chain(flags.iter()))
            .unwrap();
        assert!(OfServing::from_arg_matches(&matches).is_ok());
        Settings::read(&matches)
    }

    fn usage<T: std::fmt::Debug>(outcome: Result<T, Failed>) -> String {
        match outcome {
            Err(Failed::Usage(words)) => words,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_flag_goes_over_the_file_and_the_file_over_the_default() {
        let file = "listen = \"127.0.0.1:9000\"\nsession_idle = 30\n";
        let settings = read(&["--listen", "127.0.0.1:9001"], file).unwrap();
        assert_eq!(settings.listen().unwrap(), "127.0.0.1:9001".parse().unwrap());
        let config = settings.config().unwrap();
        assert_eq!(config.session_idle, Duration::from_mins(30));
        assert_eq!(config.session_longest, Duration::from_hours(24));
        let lines = settings.lines().join("\n");
        assert!(lines.contains("127.0.0.1:9001") && lines.contains("flag"), "{lines}");
        assert!(lines.contains("holdover.toml") && lines.contains("default"), "{lines}");
        assert!(!settings.names_data());
    }

    #[test]
    fn a_setting_that_is_misspelt_or_makes_no_sense_is_named_with_what_to_do() {
        assert!(usage(read(&[], "lisen = \"x\"")).contains("lisen"));
        assert!(usage(read(&[], "listen = 1.5")).contains("listen"));
        assert!(usage(read(&[], "listen = [")).contains("not TOML"));
        let settings = read(&["--listen", "here"], "session_idle = 0").unwrap();
        assert!(usage(settings.listen()).contains("“here”"));
        let settings = read(&[], "session_idle = 0").unwrap();
        assert!(usage(settings.config()).contains("from 1 to 1440"));
    }

    #[test]
    fn the_address_that_people_type_is_whole() {
        let url = |typed: &str| read(&["--public-url", typed], "").unwrap().config();
        let known = |typed: &str| url(typed).unwrap().public_url;
        assert_eq!(known("https://h.example:8443/").as_deref(), Some("https://h.example:8443"));
        assert_eq!(known(""), None);
        for typed in ["h.example", "https://", "https://h.example/at", "ftp://h.example"] {
            assert!(usage(url(typed)).contains("public_url"), "{typed}");
        }
    }

    #[test]
    fn cookies_are_for_tls_alone_unless_the_service_stays_on_this_machine() {
        let secure = |flags: &[&str]| read(flags, "").unwrap().config().unwrap().secure_cookies;
        assert!(!secure(&[]));
        assert!(!secure(&["--listen", "[::1]:80"]));
        assert!(secure(&["--listen", "0.0.0.0:80"]));
        assert!(!secure(&["--listen", "0.0.0.0:80", "--secure-cookies", "no"]));
    }
}
