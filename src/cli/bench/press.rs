//! How long it takes from a press until the board that follows from it is there: the press saved, and the
//! page asked for over the router, with nothing of it kept from before.

use std::time::{Duration, Instant};

use super::figures::Times;
use super::made_up;
use super::pages::{Asking, signed_in};
use crate::{Failed, data};
use app::clock::Clock;
use app::config::Config;
use app::day::{self, NewPress};
use app::work::Work;
use app::{Actor, App, Failure};
use domain::codes::SlotCode;
use domain::day::Act;
use domain::units::Pet;
use domain::words::Role;
use store::excursions;

/// The elapsed time at which the presses are timed.
const NOW: i64 = 150;

/// Presses so often on a made-up excursion of so many tasks and seats, some time into its day.
pub(super) async fn run(size: (usize, usize), presses: u16) -> Result<Times, Failed> {
    let folder = tempfile::tempdir().map_err(|cause| Failed::Asked(cause.to_string()))?;
    let clock = Clock::fixed(Clock::System.now());
    let app = data::open(folder.path(), clock.clone(), Config::default()).await?;
    app::demo::fill(&app, clock.now().day()).await?;
    let next = {
        let mut db = app.db.reader().await?;
        excursions::coming(&mut db).await.map_err(Failure::from)?.into_iter().next()
    };
    let next = next.ok_or_else(|| Failed::Asked("the demo has no coming excursion".to_owned()))?;
    let (code, slots) = made_up::lay(&app, &next, size).await?;
    let mut work = Work::begin(&app, &presser(), None).await?;
    let run = day::begin_practice(&mut work, &code, 1, None).await?.code;
    work.finish("").await?;
    clock.advance_minutes(NOW);
    let pressing = Pressing { app: &app, code: &code, run: &run };
    for own in &slots {
        for (number, act, pet) in
            [(0, Act::Started, 50), (0, Act::Done, 95), (1, Act::Started, 110)]
        {
            let Some(slot) = own.get(number) else { continue };
            pressing.press(&format!("{slot} {act}"), act, slot, pet).await?;
        }
    }
    let (lead, _) = signed_in(&app, Role::Lead).await?;
    let asking = Asking { router: web::router(app.clone()), who: [lead.clone(), lead] };
    let path = format!("/excursions/{code}/practice/{run}");
    asking.answer(&path).await?;
    let mut times: Vec<Duration> = Vec::with_capacity(usize::from(presses));
    for number in 0..presses {
        // A task under way began earlier or later than was pressed: everything follows anew.
        let own = &slots[usize::from(number) % slots.len()];
        let Some(slot) = own.get(1) else { continue };
        let pet = 105 + i64::from(number / 3 % 20);
        let begun = Instant::now();
        pressing.press(&format!("again {number}"), Act::Started, slot, pet).await?;
        asking.answer(&path).await?;
        times.push(begun.elapsed());
    }
    app.db.close().await;
    Ok(Times::of(times))
}

fn presser() -> Actor {
    Actor { name: "measure".to_owned(), role: Role::Engineer }
}

struct Pressing<'a> {
    app: &'a App,
    code: &'a str,
    run: &'a str,
}

impl Pressing<'_> {
    async fn press(&self, key: &str, act: Act, slot: &str, pet: i64) -> Result<(), Failed> {
        let new = NewPress {
            key: key.to_owned(),
            act,
            slot: Some(SlotCode::from(slot)),
            step: None,
            pet: Some(Pet(pet)),
            egress_at: None,
            undoes: None,
            adds: None,
            pressed_at: None,
        };
        let mut work = Work::begin(self.app, &presser(), None).await?;
        day::press(&mut work, self.code, Some(self.run), new).await?;
        work.finish("").await?;
        Ok(())
    }
}
