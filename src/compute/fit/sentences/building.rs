//! Sentences, built piece by piece out of words, codes and fields.

use crate::fit::snapshot::{Approach, Snapshot};
use crate::places::{ExcursionAt, FlightAt, InhibitAt, OutsideAt, SiteAt, TaskAt, ToolAt};
use domain::codes::AttemptCode;
use domain::kinds::Kind;

/// A piece of a sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Part {
    Text(String),
    /// A record, by its code.
    Code(Kind, String),
    /// A field of a record that has to be filled in, and the words to show for it.
    Field {
        kind: Kind,
        code: String,
        column: &'static str,
        words: &'static str,
    },
}

impl Part {
    /// The same without links.
    pub fn plain(parts: &[Self]) -> String {
        parts
            .iter()
            .map(|part| match part {
                Self::Text(text) | Self::Code(_, text) => text.as_str(),
                Self::Field { words, .. } => words,
            })
            .collect()
    }
}

/// Builds a sentence piece by piece, looking codes up in the snapshot.
pub(super) struct Sentence<'s> {
    pub snapshot: &'s Snapshot,
    pub parts: Vec<Part>,
}

impl<'s> Sentence<'s> {
    pub fn new(snapshot: &'s Snapshot) -> Self {
        Self { snapshot, parts: Vec::new() }
    }

    pub fn text(mut self, text: impl Into<String>) -> Self {
        self.parts.push(Part::Text(text.into()));
        self
    }

    pub fn code(mut self, kind: Kind, code: Option<&str>) -> Self {
        self.parts.push(Part::Code(kind, code.unwrap_or("?").to_owned()));
        self
    }

    pub fn task(self, at: TaskAt) -> Self {
        let code = self.snapshot.tasks.get(at).map(|task| task.code.as_str());
        self.code(Kind::Task, code)
    }

    pub fn excursion(self, at: ExcursionAt) -> Self {
        let code = self.snapshot.excursions.get(at).map(|there| there.code.as_str());
        self.code(Kind::Excursion, code)
    }

    pub fn flight(self, at: FlightAt) -> Self {
        let code = self.snapshot.flights.get(at).map(|flight| flight.code.as_str());
        self.code(Kind::Flight, code)
    }

    pub fn site(self, at: SiteAt) -> Self {
        let code = self.snapshot.sites.get(at).map(|site| site.code.as_str());
        self.code(Kind::Worksite, code)
    }

    pub fn tool(self, at: ToolAt) -> Self {
        let code = self.snapshot.tools.get(at).map(|tool| tool.code.as_str());
        self.code(Kind::Tool, code)
    }

    pub fn item(self, at: OutsideAt) -> Self {
        let code = self.snapshot.outside.get(at).map(|item| item.code.as_str());
        self.code(Kind::OutsideItem, code)
    }

    pub fn inhibit(self, at: InhibitAt) -> Self {
        let code = self.snapshot.inhibits.get(at).map(|inhibit| inhibit.code.as_str());
        self.code(Kind::Inhibit, code)
    }

    /// “; power console, 90 min ahead.”, as far as they are known.
    pub fn owner_and_lead(self, at: InhibitAt) -> Self {
        let inhibit = self.snapshot.inhibits.get(at);
        let owner = inhibit.and_then(|inhibit| inhibit.owner.clone());
        let lead =
            inhibit.and_then(|inhibit| inhibit.lead).map(|lead| format!("{lead:.0} min ahead"));
        let known: Vec<String> = owner.into_iter().chain(lead).collect();
        if known.is_empty() {
            self.text(".")
        } else {
            self.text(format!("; {}.", known.join(", ")))
        }
    }

    pub fn field(
        mut self,
        kind: Kind,
        code: &str,
        column: &'static str,
        words: &'static str,
    ) -> Self {
        self.parts.push(Part::Field { kind, code: code.to_owned(), column, words });
        self
    }

    /// “… of E-31.2 is not known; enter it.”, the field as a link.
    pub fn lacks(
        self,
        kind: Kind,
        code: Option<&str>,
        column: &'static str,
        words: &'static str,
    ) -> Self {
        let code = code.unwrap_or("?").to_owned();
        let said = self.text("Not known: ").field(kind, &code, column, words).text(" of ");
        said.code(kind, Some(&code)).text("; enter it.")
    }

    /// The approach's name: technique and side, as far as they are chosen.
    pub fn approach(self, approach: &Approach) -> Self {
        let with = match &approach.technique {
            Some(technique) => self.code(Kind::Technique, Some(technique.as_str())),
            None => self.text("no technique named"),
        };
        match &approach.side {
            Some(side) => with.text(format!(" from {side}")),
            None => with,
        }
    }

    pub fn attempts(mut self, attempts: &[AttemptCode]) -> Self {
        for (at, attempt) in attempts.iter().enumerate() {
            let joint = match at {
                0 => " ",
                _ if at + 1 == attempts.len() => " and ",
                _ => ", ",
            };
            self = self.text(joint).code(Kind::Attempt, Some(attempt.as_str()));
        }
        self
    }
}
