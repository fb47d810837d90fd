//! Settings: read once, checked, typed. Every constant of the reckoning has its default here or
//! in the module that it steers.

use std::time::Duration;

/// What the service was told at its start.
#[derive(Debug, Clone)]
pub struct Config {
    /// What the outpost is called in the foot of every page.
    pub outpost: String,
    /// A session without a request for so long asks for a new sign-in.
    pub session_idle: Duration,
    /// A session ends after so long, whatever happened in it.
    pub session_longest: Duration,
    /// The largest body of a form.
    pub form_limit: usize,
    /// The largest table that a person may send.
    pub table_limit: usize,
    /// The largest photograph or file.
    pub file_limit: usize,
    /// Whether cookies say `Secure`; not on loopback, where there is no TLS.
    pub secure_cookies: bool,
    /// Proxies whose word on the client's address is believed.
    pub trusted_proxies: Vec<std::net::IpAddr>,
    /// A request that takes longer is given up.
    pub request_limit: Duration,
    /// Under which address people reach the service, without a slash at its end; nothing where
    /// that is where it listens.
    pub public_url: Option<String>,
    /// The sign-ins shown on the sign-in page of the demo; empty elsewhere.
    pub demo_sign_ins: Vec<DemoSignIn>,
}

/// A sign-in that the demo shows.
#[derive(Debug, Clone)]
pub struct DemoSignIn {
    pub role: String,
    pub name: String,
    pub password: String,
}

impl Default for Config {
    fn default() -> Self {
        Self {
            outpost: "Skerry".to_owned(),
            session_idle: Duration::from_hours(1),
            session_longest: Duration::from_hours(24),
            form_limit: 2 * 1024 * 1024,
            table_limit: 64 * 1024 * 1024,
            file_limit: 25 * 1024 * 1024,
            secure_cookies: false,
            trusted_proxies: Vec::new(),
            request_limit: Duration::from_mins(1),
            public_url: None,
            demo_sign_ins: Vec::new(),
        }
    }
}
