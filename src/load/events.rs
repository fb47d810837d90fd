//! One task and all that happened to it.

use rand::{Rng, RngExt as _};

use super::library::{
    SIDES, cause, family_code, flight_code, technique_code, techniques, worksite_code,
};
use super::words::{one, prose, title};
use super::{COMING, EXCURSIONS, Load, Row, WORKSITES, excursion_code, row, task_code};
use domain::kinds::Kind;
use domain::words::Checked;

/// Where a task ends up, drawn before its events.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Ends {
    Done,
    Closed,
    Parked,
    Set,
    Pencilled,
    /// Set on the last excursion that was flown, its result still owing.
    Owing,
    Open,
}

pub(super) fn rows(load: &Load, number: usize, chance: &mut impl Rng) -> Vec<Row> {
    let mut rows = Vec::new();
    let task = task_code(number);
    let family = load.families[number];
    let worksite = worksite_code(number * 7 % WORKSITES);
    if let Some(family) = family {
        rows.push(row(
            Kind::Position,
            [("code", position_code(number)), ("worksite", worksite.clone())],
        ));
        rows.push(row(
            Kind::Unit,
            [
                ("code", unit_code(number)),
                ("family", family_code(family)),
                ("serial", format!("{:06}", number * 3)),
                ("position", position_code(number)),
            ],
        ));
    }
    let needed = chance.random_bool(0.12);
    let class = if chance.random_bool(0.05) { 0 } else { chance.random_range(1..=5) };
    let flight = load.flown + chance.random_range(0..COMING);
    rows.push(row(
        Kind::Task,
        [
            ("code", task.clone()),
            ("title", title(number, chance)),
            ("family", family.map_or_else(String::new, family_code)),
            ("position", family.map_or_else(String::new, |_| position_code(number))),
            ("worksite", worksite),
            ("sides", SIDES.join(", ")),
            ("class", if class == 0 { String::new() } else { class.to_string() }),
            ("needed_by_flight", if needed { flight_code(flight) } else { String::new() }),
            ("optimistic", "15".to_owned()),
            ("likely", "25".to_owned()),
            ("pessimistic", "50".to_owned()),
            ("seats", "1".to_owned()),
            ("lighting", "any".to_owned()),
            ("notes", prose(chance)),
            ("opened", load.launch(0).plus(-30).to_string()),
        ],
    ));
    let mut told = Telling { load, number, task, family, rows };
    told.tell(chance);
    told.rows
}

fn position_code(number: usize) -> String {
    format!("P-{number:06}")
}

fn unit_code(number: usize) -> String {
    format!("U-{number:06}")
}

struct Telling<'a> {
    load: &'a Load,
    number: usize,
    task: String,
    family: Option<usize>,
    rows: Vec<Row>,
}

impl Telling<'_> {
    fn tell(&mut self, chance: &mut impl Rng) {
        let tries = self.load.tries[self.number];
        let ends = self.ends(tries, chance);
        let mut when: Vec<(usize, usize)> = (0..tries)
            .map(|_| {
                let flight = chance.random_range(0..self.load.flown);
                (flight, chance.random_range(0..self.load.excursions_of(flight)))
            })
            .collect();
        when.sort_unstable();
        let mut left = 100;
        for (nth, &(flight, number)) in when.iter().enumerate() {
            let last = nth + 1 == tries;
            let done = last && ends == Ends::Done;
            self.attempt(nth, (flight, number), done, &mut left, chance);
        }
        // Put off from flight to flight, some of them over years.
        if chance.random_bool(0.1) {
            let first = chance.random_range(0..self.load.flown);
            let times = chance.random_range(1..14);
            for flight in (first..self.load.flown).take(times) {
                self.deferral(flight, chance);
            }
        }
        self.end(ends, chance);
    }

    fn ends(&self, tries: usize, chance: &mut impl Rng) -> Ends {
        let drawn: f64 = chance.random();
        match drawn {
            ..0.45 if tries > 0 => Ends::Done,
            ..0.53 => Ends::Closed,
            ..0.56 => Ends::Parked,
            // As many as the coming excursions could take, whatever the size of the record.
            _ if self.number.is_multiple_of((self.load.tasks() / 60).max(1)) => Ends::Set,
            _ if self.number % (self.load.tasks() / 90).max(1) == 1 => Ends::Pencilled,
            _ if self.number % (self.load.tasks() / 16).max(1) == 2 => Ends::Owing,
            _ => Ends::Open,
        }
    }

    fn attempt(
        &mut self,
        nth: usize,
        (flight, number): (usize, usize),
        done: bool,
        left: &mut i64,
        chance: &mut impl Rng,
    ) {
        let code = format!("A-{:06}-{nth}", self.number + 1);
        let excursion = excursion_code(flight, number);
        let (technique, side) = self.approach(chance);
        let planned = chance.random_bool(0.2);
        let slot = if planned { format!("S-{:06}-{nth}", self.number + 1) } else { String::new() };
        if planned {
            let set_on = self.load.launch(flight).plus(-20);
            self.slot(&slot, &excursion, (&technique, side), "flown", Some(set_on));
        }
        let part = *left > 40 && chance.random_bool(0.08);
        let (outcome, left_after) = match (done, part) {
            (true, _) => ("done", String::new()),
            (false, true) => {
                *left -= chance.random_range(5..20);
                ("part done", left.to_string())
            }
            (false, false) if chance.random_bool(0.3) => ("not reached", String::new()),
            (false, false) => ("not completed", String::new()),
        };
        let fell_short = matches!(outcome, "part done" | "not completed");
        let start = chance.random_range(30..330);
        let spent = chance.random_range(5..70);
        self.rows.push(row(
            Kind::Attempt,
            [
                ("code", code.clone()),
                ("task", self.task.clone()),
                ("excursion", excursion),
                ("slot", slot),
                ("seats", "EV1".to_owned()),
                ("technique", technique),
                ("side", side.to_owned()),
                ("pet_start", start.to_string()),
                ("pet_end", (start + spent).to_string()),
                ("minutes", spent.to_string()),
                ("outcome", outcome.to_owned()),
                ("left_after", left_after),
                ("cause", if fell_short { cause(chance).to_owned() } else { String::new() }),
                ("words", prose(chance)),
                ("as_left", if fell_short { prose(chance) } else { String::new() }),
                ("unit", self.family.map_or_else(String::new, |_| unit_code(self.number))),
            ],
        ));
        if fell_short && chance.random_bool(0.02) {
            self.finding(nth, &code, flight, chance);
        }
        self.sister(nth, &code, outcome, flight);
    }

    /// What a person answers once in a while for the sister unit before this one: that a failure
    /// does not apply there, or that what worked does not suit it.
    fn sister(&mut self, nth: usize, attempt: &str, outcome: &str, flight: usize) {
        let sister = self.number.checked_sub(1).filter(|_| self.family.is_some());
        let Some(sister) = sister.filter(|sister| self.load.families[*sister] == self.family)
        else {
            return;
        };
        let day = self.load.launch(flight).plus(16).to_string();
        let number = self.number + 1;
        match outcome {
            "not completed" if (number + nth).is_multiple_of(60) => self.rows.push(row(
                Kind::Exemption,
                [
                    ("code", format!("X-{number:06}-{nth}")),
                    ("task", task_code(sister)),
                    ("attempts", attempt.to_owned()),
                    ("words", "This unit has the later latch.".to_owned()),
                    ("author", "engineer".to_owned()),
                    ("written_on", day.clone()),
                    ("reviewed_by", "another lead".to_owned()),
                    ("reviewed_on", day),
                    ("checked", Checked::Imported.word().to_owned()),
                ],
            )),
            "done" if number.is_multiple_of(30) => self.rows.push(row(
                Kind::Decline,
                [
                    ("code", format!("DO-{number:06}-{nth}")),
                    ("attempt", attempt.to_owned()),
                    ("task", task_code(sister)),
                    ("words", "The tray beside it is in the way.".to_owned()),
                    ("author", "engineer".to_owned()),
                    ("written_on", day),
                ],
            )),
            _ => {}
        }
    }

    /// Not recorded, once in a while.
    fn approach(&self, chance: &mut impl Rng) -> (String, &'static str) {
        match self.family {
            Some(family) if chance.random_bool(0.9) => {
                let number = chance.random_range(0..techniques(family));
                (technique_code(family, number), one(&SIDES, chance))
            }
            Some(_) | None => (String::new(), ""),
        }
    }

    fn slot(
        &mut self,
        code: &str,
        excursion: &str,
        (technique, side): (&str, &str),
        state: &str,
        set_on: Option<domain::time::Day>,
    ) {
        self.rows.push(row(
            Kind::Slot,
            [
                ("code", code.to_owned()),
                ("task", self.task.clone()),
                ("excursion", excursion.to_owned()),
                ("technique", technique.to_owned()),
                ("side", side.to_owned()),
                ("seats", "EV1".to_owned()),
                ("place", (self.number % 500 + 1).to_string()),
                ("state", state.to_owned()),
                ("set_on", set_on.map_or_else(String::new, |day| day.to_string())),
            ],
        ));
    }

    fn deferral(&mut self, flight: usize, chance: &mut impl Rng) {
        let reasons = ["time", "priority", "tool absent", "not trained", "grouped elsewhere"];
        self.rows.push(row(
            Kind::Deferral,
            [
                ("code", format!("D-{:06}-{flight}", self.number + 1)),
                ("task", self.task.clone()),
                ("excursion", excursion_code(flight, 0)),
                ("phase", "before launch".to_owned()),
                ("reason", one(&reasons, chance).to_owned()),
                ("words", prose(chance)),
                ("day", self.load.launch(flight).plus(-10).to_string()),
            ],
        ));
    }

    fn finding(&mut self, nth: usize, attempt: &str, flight: usize, chance: &mut impl Rng) {
        let code = format!("N-{:06}-{nth}", self.number + 1);
        let reviewed = chance.random_bool(0.6);
        let imported = Checked::Imported.word().to_owned();
        let day = self.load.launch(flight).plus(chance.random_range(14..20)).to_string();
        self.rows.push(row(
            Kind::Finding,
            [
                ("code", code.clone()),
                ("attempts", attempt.to_owned()),
                ("cause", cause(chance).to_owned()),
                ("words", prose(chance)),
                ("evidence", format!("Measured. {}", prose(chance))),
                ("author", "engineer".to_owned()),
                ("written_on", day.clone()),
                ("reviewed_by", if reviewed { "another lead".to_owned() } else { String::new() }),
                ("reviewed_on", if reviewed { day.clone() } else { String::new() }),
                ("checked", if reviewed { imported.clone() } else { String::new() }),
            ],
        ));
        if chance.random_bool(0.6) {
            let state = one(&["open", "done", "verified", "withdrawn"], chance);
            // What rests on a finding that is not reviewed is not verified.
            let state = if state == "verified" && !reviewed { "done" } else { state };
            let verified = state == "verified";
            self.rows.push(row(
                Kind::Remedy,
                [
                    ("code", format!("R-{:06}-{nth}", self.number + 1)),
                    ("what", "Another way of holding it".to_owned()),
                    ("finding", code),
                    ("attempts", attempt.to_owned()),
                    ("reach", one(&["this unit", "every unit"], chance).to_owned()),
                    ("owner", "engineer".to_owned()),
                    ("opened_on", day.clone()),
                    ("state", state.to_owned()),
                    (
                        "verified_by",
                        if verified { "another lead".to_owned() } else { String::new() },
                    ),
                    ("verified_on", if verified { day } else { String::new() }),
                    ("checked", if verified { imported } else { String::new() }),
                    ("evidence", format!("Measured. {}", prose(chance))),
                ],
            ));
        }
    }

    fn end(&mut self, ends: Ends, chance: &mut impl Rng) {
        let today = self.load.today;
        let ahead = self.load.flown + chance.random_range(0..COMING);
        let excursion = excursion_code(ahead, chance.random_range(0..EXCURSIONS));
        let code = format!("S-{:06}", self.number + 1);
        let (technique, side) = self.approach(chance);
        match ends {
            Ends::Done | Ends::Open => {}
            Ends::Closed => {
                let kinds = ["done by the arm", "moot", "accepted as left", "no longer wanted"];
                self.rows.push(row(
                    Kind::Closure,
                    [
                        ("code", format!("Z-{:06}", self.number + 1)),
                        ("task", self.task.clone()),
                        ("kind", one(&kinds, chance).to_owned()),
                        ("words", format!("Ended. {}", prose(chance))),
                        ("day", today.plus(-chance.random_range(1..400)).to_string()),
                    ],
                ));
                if self.number.is_multiple_of(20) {
                    self.rows.push(row(
                        Kind::Reopening,
                        [
                            ("code", format!("Y-{:06}", self.number + 1)),
                            ("task", self.task.clone()),
                            ("share_left", "60".to_owned()),
                            ("words", "It leaks again".to_owned()),
                            ("day", today.to_string()),
                        ],
                    ));
                }
            }
            Ends::Parked => self.rows.push(row(
                Kind::Parking,
                [
                    ("code", format!("B-{:06}", self.number + 1)),
                    ("task", self.task.clone()),
                    ("why", "waits for a decision".to_owned()),
                    ("day", today.plus(-chance.random_range(1..400)).to_string()),
                ],
            )),
            Ends::Set => {
                let set_on = today.plus(-5);
                self.slot(&code, &excursion, (&technique, side), "set", Some(set_on));
            }
            Ends::Owing => {
                let last = self.load.flown - 1;
                let set_on = self.load.launch(last).plus(-20);
                let excursion = excursion_code(last, self.load.excursions_of(last) - 1);
                self.slot(&code, &excursion, (&technique, side), "set", Some(set_on));
            }
            Ends::Pencilled => {
                self.slot(&code, &excursion, (&technique, side), "pencilled", None);
            }
        }
    }
}
