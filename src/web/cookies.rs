//! The cookies of the service: what they are called, how they are set and taken away.

use axum_extra::extract::cookie::{Cookie, CookieJar, SameSite};

use app::config::Config;

/// A cookie of ours.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CookieName {
    /// The token of the session.
    Session,
    /// A secret of the browser before anybody signed in, to which the sign-in form is bound.
    Visit,
    /// Finds a held form again.
    Held,
    /// What was just done, shown once on the next page.
    Done,
}

impl CookieName {
    /// Over TLS the prefix ties the cookie to this very host.
    const fn name(self, secure: bool) -> &'static str {
        match (self, secure) {
            (Self::Session, true) => "__Host-holdover-session",
            (Self::Session, false) => "holdover-session",
            (Self::Visit, true) => "__Host-holdover-visit",
            (Self::Visit, false) => "holdover-visit",
            (Self::Held, true) => "__Host-holdover-held",
            (Self::Held, false) => "holdover-held",
            (Self::Done, true) => "__Host-holdover-done",
            (Self::Done, false) => "holdover-done",
        }
    }

    pub(crate) fn read(self, jar: &CookieJar, config: &Config) -> Option<String> {
        jar.get(self.name(config.secure_cookies)).map(|cookie| cookie.value().to_owned())
    }

    /// The cookie with this value; it goes when the browser does.
    pub fn holding(self, value: String, config: &Config) -> Cookie<'static> {
        Cookie::build((self.name(config.secure_cookies), value))
            .path("/")
            .http_only(true)
            .same_site(SameSite::Lax)
            .secure(config.secure_cookies)
            .build()
    }

    /// The cookie that takes this one away.
    pub(crate) fn gone(self, config: &Config) -> Cookie<'static> {
        let mut cookie = self.holding(String::new(), config);
        cookie.make_removal();
        cookie
    }
}
