//! A life of the small record in which everything that changes how a task stands happens at random,
//! and after each step what is stored is compared with what the events say.

use std::collections::BTreeMap;

use app::records::Base;
use app::slots::{self, Reason, Waiver};
use app::work::Work;
use app::{Actor, Failure, checks, debrief, findings, kinds};
use domain::cells::{Cells, Prose};
use domain::codes::ExcursionCode;
use domain::kinds::Kind;
use domain::slots::Slot;
use domain::words::{
    ClosureKind, DeferralPhase, DeferralReason, GateName, LinkKind, Outcome, Reach, RemedyState,
    Role,
};
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use sqlx::SqlitePool;
use store::{Kept as _, register};

use crate::small_record::{lay, made};
use crate::support::TestApp;

const TASKS: [&str; 7] = ["T-1", "T-2", "T-3", "T-4", "T-5", "T-6", "T-7"];
const FLOWN: [&str; 3] = ["E-35.1", "E-35.2", "E-36.1"];
const COMING: [&str; 2] = ["E-37.1", "E-37.2"];

/// What can be done to a record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Act {
    Make,
    /// To another task, attempt or excursion.
    Move,
    Change,
    TakeBack,
}

/// The kinds that change how a task stands, with what can be done to each.
pub const DEEDS: &[(Kind, &[Act])] = &[
    (Kind::Attempt, &[Act::Make, Act::Move, Act::Change, Act::TakeBack]),
    (Kind::Deferral, &[Act::Make, Act::Move, Act::Change, Act::TakeBack]),
    (Kind::Slot, &[Act::Make, Act::Move, Act::Change, Act::TakeBack]),
    (Kind::Closure, &[Act::Make, Act::Move, Act::Change]),
    (Kind::Parking, &[Act::Make, Act::Move, Act::Change]),
    (Kind::Reopening, &[Act::Make, Act::Move, Act::Change]),
    (Kind::Link, &[Act::Make, Act::Move, Act::Change]),
    (Kind::Finding, &[Act::Make, Act::Move, Act::Change]),
    (Kind::Remedy, &[Act::Make, Act::Move, Act::Change, Act::TakeBack]),
    (Kind::Exemption, &[Act::Make, Act::Move, Act::Change]),
    (Kind::Task, &[Act::Move, Act::Change]),
    (Kind::Unit, &[Act::Move]),
    (Kind::Technique, &[Act::Move, Act::Change]),
    (Kind::Tool, &[Act::Move, Act::Change]),
    (Kind::Excursion, &[Act::Move]),
    (Kind::Flight, &[Act::Change]),
];

pub struct World {
    app: TestApp,
    chance: ChaCha8Rng,
    pub done: BTreeMap<(&'static str, Act), usize>,
}

/// The small record with two families, flights that were flown, units, and a task without a family.
pub async fn world(pool: SqlitePool, seed: u64) -> World {
    let app = TestApp::new(pool).await;
    lay(&app.app).await;
    let task = "worksite: W-B | sides: nadir, zenith | class: 3 | optimistic: 20 | likely: 30 \
                | pessimistic: 45 | seats: 1 | opened: 2029-10-01";
    let technique = "state: cleared | sides: nadir, zenith | optimistic: 20 | likely: 30 \
                     | pessimistic: 45 | seats: 1";
    let excursion = "state: flown | planned: 6:30 | limit: 7:00 | actual: 6:40 | egress: 30 \
                     | ingress: 28 | seats: EV1 C-1, EV2 C-2 | airlock: W-A";
    for (kind, text) in [
        (
            Kind::Flight,
            "code: G-35 | launch: 2030-01-10 | landing: 2030-01-25 | state: flown".into(),
        ),
        (
            Kind::Flight,
            "code: G-36 | launch: 2030-06-01 | landing: 2030-06-20 | state: flown".into(),
        ),
        (Kind::Excursion, format!("code: E-35.1 | flight: G-35 | day: 2030-01-14 | {excursion}")),
        (Kind::Excursion, format!("code: E-35.2 | flight: G-35 | day: 2030-01-18 | {excursion}")),
        (Kind::Excursion, format!("code: E-36.1 | flight: G-36 | day: 2030-06-05 | {excursion}")),
        (Kind::Family, "code: F-2 | name: lamp".into()),
        (
            Kind::Tool,
            "code: L-2 | name: lamp key | arrives_with: G-37 | arriving: 1 | state: usable".into(),
        ),
        (
            Kind::Technique,
            format!("code: K-2 | name: half turn | family: F-2 | tools: L-2 | {technique}"),
        ),
        (Kind::Position, "code: P-1 | worksite: W-B".into()),
        (Kind::Position, "code: P-2 | worksite: W-B".into()),
        (
            Kind::Task,
            format!("code: T-4 | title: Swap lamp 1 | family: F-2 | position: P-1 | {task}"),
        ),
        (
            Kind::Task,
            format!("code: T-5 | title: Swap lamp 2 | family: F-2 | position: P-2 | {task}"),
        ),
        (Kind::Task, format!("code: T-6 | title: Turn the cover | position: P-1 | {task}")),
        (Kind::Task, format!("code: T-7 | title: Lace the cover | {task}")),
        (Kind::Technique, format!("code: K-3 | name: by hand | task: T-6 | {technique}")),
        (Kind::Unit, "code: U-1 | family: F-2 | position: P-1 | from_day: 2029-01-01".into()),
        (Kind::Unit, "code: U-2 | family: F-2 | position: P-2 | from_day: 2029-01-01".into()),
    ] {
        made(&app.app, kind, &text).await;
    }
    for code in ["T-1", "T-2", "T-3"] {
        // There before the first flight.
        let mut work = Work::begin(&app.app, &actor("lead"), None).await.unwrap();
        let mut cells = kinds::find(work.db(), Kind::Task, code).await.unwrap().unwrap();
        cells.set("opened", "2029-10-01");
        kinds::save_whole(&mut work, Kind::Task, &cells, Base::Current).await.unwrap();
        work.finish("").await.unwrap();
    }
    World { app, chance: ChaCha8Rng::seed_from_u64(seed), done: BTreeMap::new() }
}

fn actor(name: &str) -> Actor {
    Actor { name: name.into(), role: Role::Lead }
}

impl World {
    fn one<'a>(&mut self, all: &[&'a str]) -> &'a str {
        all[self.chance.random_range(0..all.len())]
    }

    fn maybe(&mut self, text: String) -> String {
        if self.chance.random_bool(0.5) { text } else { String::new() }
    }

    async fn all(&self, kind: Kind) -> Vec<Cells> {
        let mut db = self.app.app.db.reader().await.unwrap();
        kinds::after(&mut db, kind, "", 10_000).await.unwrap()
    }

    async fn codes(&self, kind: Kind) -> Vec<String> {
        self.all(kind).await.iter().map(|cells| cells.get("code").to_owned()).collect()
    }

    /// One or two attempts; empty where there is none yet.
    async fn some_attempts(&mut self) -> String {
        let all = self.codes(Kind::Attempt).await;
        let all: Vec<&str> = all.iter().map(String::as_str).collect();
        if all.is_empty() {
            return String::new();
        }
        let (one, two) = (self.one(&all), self.one(&all));
        if one == two { one.to_owned() } else { format!("{one}, {two}") }
    }

    fn per_cent(&mut self, from: i64) -> String {
        self.chance.random_range(from..=100).to_string()
    }

    fn day(&mut self) -> String {
        let (month, day) = (self.chance.random_range(1..=12), self.chance.random_range(1..=28));
        self.maybe(format!("2030-{month:02}-{day:02}"))
    }

    /// What a new record of the kind says, or a changed one from now on.
    async fn said(&mut self, kind: Kind) -> Vec<(&'static str, String)> {
        let task = self.one(&TASKS).to_owned();
        match kind {
            Kind::Attempt => {
                let outcome = self.one(Outcome::WORDS);
                let begun = outcome != "not reached";
                let start = self.chance.random_range(40..300);
                let (left, added) = match self.chance.random_range(0..4) {
                    0 => (String::new(), self.per_cent(0)),
                    1 => (String::new(), String::new()),
                    _ => (self.per_cent(0), String::new()),
                };
                vec![
                    ("task", task),
                    ("excursion", self.one(&FLOWN).to_owned()),
                    ("slot", String::new()),
                    ("technique", self.one(&["", "K-1", "K-2", "K-3"]).to_owned()),
                    ("side", self.one(&["", "nadir", "zenith"]).to_owned()),
                    (
                        "pet_start",
                        if begun { self.maybe(start.to_string()) } else { String::new() },
                    ),
                    ("outcome", outcome.to_owned()),
                    ("left_after", left),
                    ("share", added),
                    (
                        "planned_share",
                        if self.chance.random_bool(0.3) { self.per_cent(1) } else { String::new() },
                    ),
                    (
                        "minutes",
                        if begun {
                            self.chance.random_range(1..60).to_string()
                        } else {
                            String::new()
                        },
                    ),
                    ("cut_off", String::new()),
                    ("cause", self.one(&["", "3", "17"]).to_owned()),
                    ("function_after", self.one(&["", "restored", "not restored"]).to_owned()),
                ]
            }
            Kind::Deferral => vec![
                ("task", task),
                ("excursion", self.one(&[FLOWN[0], FLOWN[2], COMING[0], COMING[1]]).to_owned()),
                ("slot", String::new()),
                ("phase", self.one(DeferralPhase::WORDS).to_owned()),
                ("reason", self.one(DeferralReason::WORDS).to_owned()),
                ("day", self.day()),
            ],
            Kind::Closure => {
                let how = self.one(ClosureKind::WORDS);
                let other = if how == "duplicate of" { self.one(&TASKS) } else { "" };
                vec![
                    ("task", task),
                    ("kind", how.to_owned()),
                    ("duplicate_of", other.to_owned()),
                    ("words", "it ends here".to_owned()),
                    ("day", self.day()),
                ]
            }
            Kind::Parking => vec![("task", task), ("why", "later".to_owned()), ("day", self.day())],
            Kind::Reopening => vec![
                ("task", task),
                ("share_left", self.per_cent(1)),
                ("words", "it came back".to_owned()),
                ("day", self.day()),
            ],
            Kind::Slot => vec![
                ("task", task),
                ("excursion", self.one(&[COMING[0], COMING[1], FLOWN[0], FLOWN[2]]).to_owned()),
                ("technique", self.one(&["K-1", "K-2", ""]).to_owned()),
                ("side", "nadir".to_owned()),
                ("seats", "EV1".to_owned()),
                (
                    "share",
                    if self.chance.random_bool(0.3) { self.per_cent(1) } else { String::new() },
                ),
                ("state", self.one(&["pencilled", "set", "flown"]).to_owned()),
                ("waived_gate", GateName::WORDS.join(", ")),
                ("waiver", "tried out on purpose".to_owned()),
            ],
            Kind::Link => vec![
                ("task", task),
                ("kind", self.one(LinkKind::WORDS).to_owned()),
                ("other", self.one(&TASKS).to_owned()),
            ],
            Kind::Finding => vec![
                ("attempts", self.some_attempts().await),
                ("cause", self.one(&["", "3", "17"]).to_owned()),
                ("words", "the pin was bent".to_owned()),
                ("author", "engineer".to_owned()),
            ],
            Kind::Remedy => vec![
                ("attempts", self.some_attempts().await),
                ("what", "a longer key".to_owned()),
                ("reach", self.one(Reach::WORDS).to_owned()),
                ("evidence", "it turned on the ground".to_owned()),
                ("owner", "engineer".to_owned()),
            ],
            Kind::Exemption => vec![
                ("task", task),
                ("attempts", self.some_attempts().await),
                ("words", "another thread".to_owned()),
                ("author", "engineer".to_owned()),
            ],
            Kind::Task => vec![
                ("family", self.one(&["", "F-1", "F-2"]).to_owned()),
                ("position", self.one(&["", "P-1", "P-2"]).to_owned()),
                ("class", self.one(&["1", "3", "5"]).to_owned()),
                ("needed_by_flight", self.one(&["", "G-37"]).to_owned()),
            ],
            Kind::Unit => vec![
                ("family", self.one(&["F-1", "F-2"]).to_owned()),
                ("position", self.one(&["", "P-1", "P-2"]).to_owned()),
                ("from_day", "2030-07-01".to_owned()),
            ],
            Kind::Technique => vec![
                ("family", self.one(&["", "F-1", "F-2"]).to_owned()),
                ("task", self.one(&["", "T-6", "T-7"]).to_owned()),
                ("tools", self.one(&["", "L-1", "L-2"]).to_owned()),
            ],
            Kind::Tool => vec![
                ("on_board", self.one(&["", "0", "2"]).to_owned()),
                ("arrives_with", self.one(&["", "G-36", "G-37"]).to_owned()),
            ],
            Kind::Excursion => vec![
                ("flight", self.one(&["G-35", "G-36"]).to_owned()),
                ("day", self.one(&["2030-01-12", "2030-01-20", "2030-06-10"]).to_owned()),
            ],
            Kind::Flight => vec![("state", self.one(&["flown", "under way", "coming"]).to_owned())],
            other => unreachable!("{other} changes no task"),
        }
    }

    /// The columns that move a record of the kind to another task.
    fn moving(kind: Kind) -> &'static [&'static str] {
        match kind {
            Kind::Finding | Kind::Remedy => &["attempts"],
            Kind::Exemption => &["task", "attempts"],
            Kind::Link => &["task", "other"],
            Kind::Attempt | Kind::Deferral => &["task", "excursion", "slot"],
            Kind::Task => &["family"],
            Kind::Unit => &["family", "position", "from_day"],
            Kind::Technique => &["family", "task"],
            Kind::Tool => &["arrives_with"],
            Kind::Excursion => &["flight", "day"],
            _ => &["task"],
        }
    }

    async fn act(&mut self, kind: Kind, act: Act) -> Result<String, Failure> {
        let said = self.said(kind).await;
        let there = self.all(kind).await;
        // A file brings what a form refuses.
        let from_file = self.chance.random_bool(0.5);
        let mut work = Work::begin(&self.app.app, &actor("lead"), None).await?;
        work.creates_missing = from_file;
        if act == Act::Make {
            let cells: Cells = said.iter().map(|(n, t)| ((*n).to_owned(), t.clone())).collect();
            let made = kinds::save_whole(&mut work, kind, &cells, Base::New).await?;
            work.finish("").await?;
            return Ok(format!("{} {cells:?}", made.code));
        }
        let there: Vec<Cells> = there
            .into_iter()
            .filter(|c| kind != Kind::Excursion || FLOWN.contains(&c.get("code")))
            .collect();
        if there.is_empty() {
            return Err(Failure::Refused("there is none yet".to_owned()));
        }
        let before = there[self.chance.random_range(0..there.len())].clone();
        let code = before.get("code").to_owned();
        if kind == Kind::Slot {
            self.act_on_slot(&mut work, act, &code, &before).await?;
        } else if act == Act::TakeBack {
            self.take_back(&mut work, kind, &code, before.get("excursion")).await?;
        } else if kind == Kind::Finding && act == Act::Change && self.chance.random_bool(0.5) {
            findings::review(&mut work, &code).await?;
        } else if kind == Kind::Exemption && act == Act::Change && self.chance.random_bool(0.5) {
            findings::review_exemption(&mut work, &code).await?;
        } else if kind == Kind::Remedy && act == Act::Change && self.chance.random_bool(0.7) {
            let to = [RemedyState::Open, RemedyState::Done, RemedyState::Verified];
            let to = to[self.chance.random_range(0..to.len())];
            findings::move_remedy(&mut work, &code, to, None).await?;
        } else {
            let mut cells = before.clone();
            let moving = Self::moving(kind);
            for (name, text) in said {
                if moving.contains(&name) == (act == Act::Move) {
                    cells.set(name, text);
                }
            }
            if cells == before {
                return Err(Failure::Refused("nothing changes".to_owned()));
            }
            kinds::save_whole(&mut work, kind, &cells, Base::Current).await?;
        }
        work.finish("").await?;
        Ok(code)
    }

    async fn act_on_slot(
        &mut self,
        work: &mut Work,
        act: Act,
        code: &str,
        before: &Cells,
    ) -> Result<(), Failure> {
        let reason = Reason { kind: Some(DeferralReason::Priority), words: Prose::default() };
        let waiver = Waiver { gates: GateName::ALL.to_vec(), reason: "on purpose".to_owned() };
        match act {
            Act::Move => {
                let to = if before.get("excursion") == COMING[0] { COMING[1] } else { COMING[0] };
                slots::move_to(work, code, &to.into(), None, Some(reason), &waiver).await?;
            }
            Act::TakeBack => slots::withdraw(work, code, Some(reason), None).await?,
            Act::Change if before.get("state") == "pencilled" => {
                slots::set(work, code, &waiver).await?;
            }
            Act::Change | Act::Make => {
                let mut slot = Slot::find(work.db(), code).await?.unwrap();
                slot.share = None;
                slot.must_do = !slot.must_do;
                let row = register::find(work.db(), Kind::Slot, code).await?.unwrap();
                slots::change(work, slot, row.version, &waiver).await?;
            }
        }
        Ok(())
    }

    async fn take_back(
        &mut self,
        work: &mut Work,
        kind: Kind,
        code: &str,
        excursion: &str,
    ) -> Result<(), Failure> {
        if kind == Kind::Remedy {
            findings::move_remedy(work, code, RemedyState::Withdrawn, None).await?;
            return Ok(());
        }
        let excursion = ExcursionCode::from(excursion);
        let rows = debrief::read(work.db(), excursion.as_str()).await?.rows;
        let own = |row: &&debrief::DebriefRow| match kind {
            Kind::Attempt => row.attempt.as_ref().is_some_and(|a| a.code.0.as_str() == code),
            _ => row.deferral.as_ref().is_some_and(|d| d.code.0.as_str() == code),
        };
        let row = rows.iter().find(own).ok_or(Failure::Refused("it has no row".to_owned()))?;
        debrief::take_back(work, &excursion, &row.key).await
    }

    /// What the check of the whole record says, but for results that ask for their answer or that
    /// a change of something else made impossible.
    pub async fn faults(&self) -> Vec<String> {
        let report = checks::run(&self.app.app.db, |_, _| {}).await.unwrap();
        let asked = ["what is left", "attempts"];
        let faults = report.faults.into_iter().filter(|fault| !asked.contains(&fault.check));
        faults.map(|fault| format!("{}: {}", fault.check, fault.words)).collect()
    }

    /// Does so many things, rare ones as often as others, and looks at the record after each.
    pub async fn live(&mut self, steps: usize) {
        let deeds: Vec<(Kind, Act)> =
            DEEDS.iter().flat_map(|(kind, acts)| acts.iter().map(|act| (*kind, *act))).collect();
        for step in 0..steps {
            let times = |(kind, act): &(Kind, Act)| {
                self.done.get(&(kind.word(), *act)).copied().unwrap_or_default()
            };
            let least = deeds.iter().map(times).min().unwrap_or_default();
            let rare: Vec<_> = deeds.iter().copied().filter(|deed| times(deed) == least).collect();
            let among = if step % 3 == 0 { &rare } else { &deeds };
            let (kind, act) = among[self.chance.random_range(0..among.len())];
            for _ in 0..TRIES {
                match self.act(kind, act).await {
                    Ok(what) => {
                        *self.done.entry((kind.word(), act)).or_default() += 1;
                        let faults = self.faults().await;
                        assert!(faults.is_empty(), "{step}, {act:?} {kind} {what}: {faults:#?}");
                        break;
                    }
                    Err(Failure::Internal(cause)) => panic!("{step}, {act:?} {kind}: {cause:?}"),
                    Err(_) => {}
                }
            }
        }
    }
}

/// What is refused is tried again, with other words, so many times.
const TRIES: usize = 12;
