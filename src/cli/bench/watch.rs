//! What people who watch the board of a day cost while nobody presses: each page asks for the number of
//! the last press every two seconds and loads the board again once a minute, and one of them has it
//! calculated.

use std::time::Instant;

use crate::bench::figures::{Times, timed};
use crate::bench::pages::{Asking, signed_in};
use crate::{Failed, data};
use app::clock::Clock;
use app::config::Config;
use app::day::{self, NewPress};
use app::work::Work;
use app::{Actor, Failure};
use domain::day::Act;
use domain::excursions::Excursion;
use domain::time::Moment;
use domain::words::Role;
use store::excursions;

/// Seconds between two questions of a page, and between two loads of the board.
const ASKS: f64 = 2.0;
const LOADS: f64 = 60.0;
/// So many presses are timed up to the board after them.
const PRESSES: usize = 60;

/// What was measured.
pub struct Watched {
    pub people: u16,
    pub state: Times,
    pub board: Times,
    /// The board right after a press: nothing of it is kept.
    pub fresh: Times,
}

impl Watched {
    /// The share of one core, 0 to 1, that they take.
    pub fn share(&self) -> f64 {
        let each =
            self.state.within(0.5) / (ASKS * 1000.0) + self.board.within(0.5) / (LOADS * 1000.0);
        f64::from(self.people) * each + self.fresh.within(0.5) / (LOADS * 1000.0)
    }
}

/// Watches the next excursion of the demo, laid out in a folder of its own, on its day.
pub async fn run(people: u16) -> Result<Watched, Failed> {
    let folder = tempfile::tempdir().map_err(|cause| Failed::Asked(cause.to_string()))?;
    let clock = Clock::System;
    let app = data::open(folder.path(), clock.clone(), Config::default()).await?;
    let today = clock.now().day();
    app::demo::fill(&app, today).await?;
    let next = {
        let mut db = app.db.reader().await?;
        excursions::coming(&mut db).await.map_err(Failure::from)?.into_iter().next()
    };
    let Some(next) = next else {
        return Err(Failed::Asked("the demo has no coming excursion".to_owned()));
    };
    let (path, run) = begun(&app, &next, clock.now()).await?;
    let (lead, _) = signed_in(&app, Role::Lead).await?;
    let asking = Asking { router: web::router(app.clone()), who: [lead.clone(), lead] };
    let (mut state, mut board) = (Vec::new(), Vec::new());
    asking.answer(&path).await?;
    let until = Instant::now() + std::time::Duration::from_secs(5);
    while state.len() < 20 || state.len() < 400 && Instant::now() < until {
        timed(&mut state, asking.answer(&format!("{path}/state"))).await?;
        if state.len().is_multiple_of(20) {
            timed(&mut board, asking.answer(&path)).await?;
        }
    }
    let mut fresh = Vec::new();
    for number in 0..PRESSES {
        let mut work = Work::begin(&app, &presser(), None).await?;
        let press = egress(&format!("again {number}"), clock.now());
        day::press(&mut work, next.code.0.as_str(), Some(&run), press).await?;
        work.finish("").await?;
        timed(&mut fresh, asking.answer(&path)).await?;
    }
    app.db.close().await;
    let [state, board, fresh] = [state, board, fresh].map(Times::of);
    Ok(Watched { people, state, board, fresh })
}

fn presser() -> Actor {
    Actor { name: "measure".to_owned(), role: Role::Engineer }
}

/// A rehearsal of it with one press: where its board is, and its code.
async fn begun(app: &app::App, next: &Excursion, now: Moment) -> Result<(String, String), Failed> {
    let code = next.code.0.as_str();
    let mut work = Work::begin(app, &presser(), None).await?;
    let run = day::begin_practice(&mut work, code, 1, None).await?;
    day::press(&mut work, code, Some(&run.code), egress("measure", now)).await?;
    work.finish("").await?;
    Ok((format!("/excursions/{code}/practice/{}", run.code), run.code))
}

fn egress(key: &str, now: Moment) -> NewPress {
    NewPress {
        key: key.to_owned(),
        act: Act::Egress,
        slot: None,
        step: None,
        pet: None,
        egress_at: Some(now),
        undoes: None,
        adds: None,
        pressed_at: None,
    }
}
