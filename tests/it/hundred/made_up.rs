//! The excursions: what is planned on each, what was tried before, and the words that say so.

use domain::kinds::Kind;
use domain::words::GateName;
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

use crate::evidence::{picture, png, send_with};
use crate::small_record::{lay, made};
use crate::support::TestApp;

/// Photographs of one excursion; so many stand on its brief.
const PICTURES: usize = 4;

/// One task of a made-up excursion.
pub struct Planned {
    pub number: u32,
    pub technique: String,
    pub seat: &'static str,
    pub must_do: bool,
    /// What its entry on the brief says.
    pub entry: Vec<String>,
    /// The last of its attempts before.
    pub tried: Option<String>,
    /// Waived, with these words.
    pub waiver: Option<String>,
}

pub struct MadeUp {
    pub excursion: String,
    pub flight: String,
    pub tasks: Vec<Planned>,
    pub photographs: Vec<String>,
}

impl Planned {
    pub fn task(&self) -> String {
        format!("T-{}", 3_000 + self.number)
    }
}

pub async fn library(app: &TestApp) {
    lay(&app.app).await;
    let flown = "state: flown | planned: 6:30 | limit: 7:00 | egress: 30 | ingress: 28 \
                 | seats: EV1 C-1, EV2 C-2 | airlock: W-A";
    for (kind, text) in [
        (
            Kind::Flight,
            "code: G-36 | launch: 2030-10-01 | landing: 2030-10-20 | state: flown".to_owned(),
        ),
        (
            Kind::Excursion,
            format!("code: E-36.1 | flight: G-36 | number: 1 | day: 2030-10-05 | {flown}"),
        ),
        (
            Kind::Excursion,
            format!("code: E-36.2 | flight: G-36 | number: 2 | day: 2030-10-09 | {flown}"),
        ),
    ] {
        made(&app.app, kind, &text).await;
    }
}

/// Seeded: every tenth excursion holds six tasks with all there can be, the others one to three with
/// some of it.
pub async fn made_up(app: &TestApp) -> Vec<MadeUp> {
    let mut random = ChaCha8Rng::seed_from_u64(36);
    let (mut all, mut count) = (Vec::new(), 0_u32);
    for place in 0..100_u32 {
        let (flight, number) = (format!("G-{}", 60 + place / 10), place % 10 + 1);
        let year = 2032 + place / 10;
        if number == 1 {
            let text = format!(
                "code: {flight} | launch: {year}-03-01 | landing: {year}-03-28 | state: coming"
            );
            made(&app.app, Kind::Flight, &text).await;
        }
        let code = format!("E-{}.{number}", &flight[2..]);
        let excursion = format!(
            "code: {code} | flight: {flight} | number: {number} | day: {year}-03-{:02} \
             | state: planned | planned: 6:30 | limit: 7:00 | egress: 30 | ingress: 28 \
             | seats: EV1 C-1, EV2 C-2 | airlock: W-A | oxygen: 0.9 | scrubber: 0.9 | water: 6 \
             | battery: 9:00",
            number + 9
        );
        made(&app.app, Kind::Excursion, &excursion).await;
        // A family of its own: what is saved of one derives the tasks of its family anew.
        let family = format!("code: F-{} | name: cassette", &code[2..]);
        made(&app.app, Kind::Family, &family).await;
        let is_full = number == 10;
        let tasks = if is_full { 6 } else { random.random_range(1..=3) };
        let mut here =
            MadeUp { excursion: code, flight, tasks: Vec::new(), photographs: Vec::new() };
        for _ in 0..tasks {
            count += 1;
            let share = |share: f64| if is_full { 1.0 } else { share };
            let has = [0.7, 0.6, 0.7, 0.3, 0.5, 0.4, 0.3, 0.2]
                .map(|part| random.random_bool(share(part)));
            let forbids = if is_full { here.tasks.is_empty() } else { random.random_bool(0.02) };
            let must_do = random.random_bool(0.4);
            let made = task(app, &here.excursion, count, has, forbids, must_do).await;
            let has_room = is_full && here.photographs.len() < PICTURES;
            if let Some(tried) = made.tried.as_ref().filter(|_| has_room) {
                let caption = format!("photo{count}x of its own");
                let content = png(&picture(320, 240, u8::try_from(count % 256).unwrap()));
                let sent = send_with(app, ("attempt", tried), "left.png", &content, &caption).await;
                assert_eq!(sent.status, 303, "{}", sent.body);
                here.photographs.push(format!("photo{count}x"));
            }
            here.tasks.push(made);
        }
        all.push(here);
    }
    all
}

/// Makes one task with its technique, what was tried before, and its slot.
async fn task(
    app: &TestApp,
    excursion: &str,
    number: u32,
    [hazards, stops, fails, waived, tried, by_steps, inhibits, then]: [bool; 8],
    forbids: bool,
    must_do: bool,
) -> Planned {
    let (technique, family) = (format!("K-{}", 3_000 + number), format!("F-{}", &excursion[2..]));
    let seat = if number.is_multiple_of(2) { "EV1" } else { "EV2" };
    let mut entry = Vec::new();
    let mut say = |is_said: bool, of: &str, column: &str| {
        if !is_said {
            return String::new();
        }
        entry.push(format!("{of}{number}x"));
        format!(" | {column}: {of}{number}x of its own")
    };
    // Inhibits in words alone are waived where the task is set.
    let (of_task, of_slot) = (
        say(hazards, "hazard", "hazards") + &say(inhibits && waived, "inhibit", "inhibits"),
        say(stops, "stopping", "stopping_point")
            + &say(fails, "fails", "if_it_fails")
            + &say(waived, "waiver", "waiver"),
    );
    let forbidden = say(forbids, "forbidden", "forbidden");
    let mut of_technique = String::new();
    if by_steps {
        of_technique = format!(" | steps: step{number}ax of its own\nstep{number}bx of its own");
        entry.extend([format!("step{number}ax"), format!("step{number}bx")]);
    }
    // A waiver is kept where a check is not met: nobody is trained in the technique then.
    let training = if waived { "yes" } else { "no" };
    let text = format!(
        "code: {technique} | name: pull {number} | family: {family} | state: cleared \
         | sides: nadir, zenith | optimistic: 8 | likely: 10 | pessimistic: 14 | seats: 1 \
         | tools: L-1 | training_demanded: {training}{of_technique}"
    );
    made(&app.app, Kind::Technique, &text).await;
    let mut planned = Planned {
        number,
        technique,
        seat,
        must_do,
        entry,
        tried: None,
        waiver: waived.then(|| format!("waiver{number}x")),
    };
    let (code, technique) = (planned.task(), planned.technique.clone());
    let text = format!(
        "code: {code} | title: Swap cassette {number} | family: {family} | worksite: W-B \
         | sides: nadir, zenith | class: 3 | optimistic: 8 | likely: 10 | pessimistic: 14 \
         | seats: 1 | work_rate: moderate | lighting: any{of_task}"
    );
    made(&app.app, Kind::Task, &text).await;
    if tried {
        planned.tried = Some(tried_before(app, &mut planned.entry, number, &technique).await);
    }
    if !forbidden.is_empty() {
        let text = format!("task: {code} | safe_until: 2044-05-01{forbidden}");
        made(&app.app, Kind::Constraint, &text).await;
    }
    let all_checks = if waived {
        format!(" | waived_gate: {}", GateName::WORDS.join(", "))
    } else {
        String::new()
    };
    let must = if must_do { " | must_do: yes" } else { "" };
    let after = if then {
        planned.entry.push(format!("trigger{number}x"));
        format!(" | fallbacks: leave as is, after 60 min, when trigger{number}x of its own")
    } else {
        String::new()
    };
    let text = format!(
        "code: S-{} | task: {code} | excursion: {excursion} | technique: {technique} | side: nadir \
         | seats: {seat} | state: set{of_slot}{all_checks}{must}{after}",
        3_000 + number
    );
    made(&app.app, Kind::Slot, &text).await;
    planned
}

/// Two failed attempts from another side, and a remedy since; gives the last attempt.
async fn tried_before(
    app: &TestApp,
    entry: &mut Vec<String>,
    number: u32,
    technique: &str,
) -> String {
    let mut last = String::new();
    for (excursion, which) in [("E-36.1", 'a'), ("E-36.2", 'b')] {
        last = format!("A-{number}{which}");
        let text = format!(
            "code: {last} | task: T-{} | excursion: {excursion} | seats: EV1 C-1 \
             | technique: {technique} | side: zenith | minutes: 12 | outcome: not completed \
             | left_after: 100 | cause: 3 | words: tried{number}{which}x of its own \
             | as_left: left{number}{which}x of its own | recorded_by: keeper",
            3_000 + number
        );
        made(&app.app, Kind::Attempt, &text).await;
        entry.push(format!("tried{number}{which}x"));
    }
    entry.push(format!("left{number}bx"));
    let text = format!(
        "code: R-{number} | what: remedy{number}x of its own | attempts: {last} | reach: this unit \
         | opened_on: 2030-10-10 | state: verified | verified_by: second | verified_on: 2030-10-20"
    );
    made(&app.app, Kind::Remedy, &text).await;
    entry.push(format!("remedy{number}x"));
    last
}
