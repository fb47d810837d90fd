//! As much of a browser as a form needs: cookies, the token of the session, one request a
//! connection.

use std::collections::BTreeMap;
use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::time::Duration;

const FORM: &str = "application/x-www-form-urlencoded";

pub struct Browser {
    address: String,
    cookies: BTreeMap<String, String>,
    token: String,
}

/// An answer whose head came whole.
#[derive(Debug)]
pub struct Answer {
    pub status: u16,
    pub location: String,
    pub body: String,
}

impl Browser {
    pub fn new() -> Self {
        Self { address: String::new(), cookies: BTreeMap::new(), token: String::new() }
    }

    pub fn goes_to(&mut self, address: &str) {
        address.clone_into(&mut self.address);
    }

    pub fn is_signed_in(&self) -> bool {
        !self.token.is_empty()
    }

    pub fn sign_in(&mut self, name: &str, password: &str) {
        let page = self.get("/sign-in").unwrap();
        let token = hidden(&page.body, "csrf").unwrap();
        let fields = [("csrf", &*token), ("name", name), ("password", password)];
        let answer = self.send("POST", "/sign-in", FORM, form(&fields).as_bytes()).unwrap();
        assert_eq!(answer.status, 303, "{}", answer.body);
        let page = self.get("/account").unwrap();
        self.token = hidden(&page.body, "csrf").unwrap();
    }

    pub fn get(&mut self, path: &str) -> Option<Answer> {
        self.send("GET", path, FORM, b"")
    }

    /// Sends a form of this session. `None`: the service was gone before the head of an answer
    /// had come, so nobody knows what became of the form.
    pub fn post(&mut self, path: &str, fields: &[(&str, &str)]) -> Option<Answer> {
        let token = self.token.clone();
        let all = [&[("csrf", &*token)], fields].concat();
        self.send("POST", path, FORM, form(&all).as_bytes())
    }

    /// Sends a table of one kind in, as the page of imports does.
    pub fn post_table(&mut self, kind: &str, table: &[u8]) -> Option<Answer> {
        const EDGE: &str = "edge-of-the-parts";
        let part = |name: &str, value: &str| {
            format!(
                "--{EDGE}\r\ncontent-disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n"
            )
        };
        let head = format!(
            "{}{}--{EDGE}\r\ncontent-disposition: form-data; name=\"file\"; filename=\"large.csv\"\r\n\
             content-type: text/csv\r\n\r\n",
            part("csrf", &self.token),
            part("kind", kind)
        );
        let body = [head.as_bytes(), table, format!("\r\n--{EDGE}--\r\n").as_bytes()].concat();
        self.send("POST", "/import", &format!("multipart/form-data; boundary={EDGE}"), &body)
    }

    fn send(&mut self, method: &str, path: &str, media: &str, body: &[u8]) -> Option<Answer> {
        let mut stream = TcpStream::connect(&self.address).ok()?;
        stream.set_read_timeout(Some(Duration::from_mins(1))).unwrap();
        let cookies: Vec<String> =
            self.cookies.iter().map(|(name, value)| format!("{name}={value}")).collect();
        let head = format!(
            "{method} {path} HTTP/1.1\r\nhost: {}\r\nconnection: close\r\ncookie: {}\r\n\
             sec-fetch-site: same-origin\r\nsec-fetch-mode: navigate\r\n\
             content-type: {media}\r\ncontent-length: {}\r\n\r\n",
            self.address,
            cookies.join("; "),
            body.len()
        );
        stream.write_all(head.as_bytes()).ok()?;
        stream.write_all(body).ok()?;
        let mut bytes = Vec::new();
        // A cut that comes after the head leaves an answer all the same.
        let _ = stream.read_to_end(&mut bytes);
        let text = String::from_utf8_lossy(&bytes);
        let (head, body) = text.split_once("\r\n\r\n")?;
        let mut lines = head.lines();
        let status = lines.next()?.split(' ').nth(1)?.parse().ok()?;
        let mut location = String::new();
        for line in lines {
            let Some((name, value)) = line.split_once(": ") else { continue };
            match name.to_ascii_lowercase().as_str() {
                "location" => value.clone_into(&mut location),
                "set-cookie" => self.keep(value),
                _ => {}
            }
        }
        Some(Answer { status, location, body: body.to_owned() })
    }

    fn keep(&mut self, cookie: &str) {
        let Some((name, rest)) = cookie.split_once('=') else { return };
        if cookie.contains("Max-Age=0") {
            self.cookies.remove(name);
        } else {
            let value = rest.split(';').next().unwrap_or_default();
            self.cookies.insert(name.to_owned(), value.to_owned());
        }
    }
}

fn form(fields: &[(&str, &str)]) -> String {
    form_urlencoded::Serializer::new(String::new()).extend_pairs(fields).finish()
}

/// The value of a hidden field, wherever it stands on a page.
pub fn hidden(page: &str, name: &str) -> Option<String> {
    let (_, rest) = page.split_once(&format!("name=\"{name}\" value=\""))?;
    rest.split('"').next().map(str::to_owned)
}
