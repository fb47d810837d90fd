//! By when a task is needed beside its own date: the earliest date of what it ends, a constraint or
//! the exposure limit of an outside item.

use async_recursion::async_recursion as boxed;
use std::collections::HashMap;

use sqlx::SqliteConnection;

use crate::Failure;
use crate::calendar::Calendar;
use domain::codes::{FlightCode, TaskCode};
use domain::constraints::{Bound, earlier, until};
use domain::kinds::Kind;
use domain::time::Day;
use domain::words::OutsideState;
use store::{constraints, outside};

/// The bound of each of these tasks that has one.
#[boxed]
pub(crate) async fn bounds(
    db: &mut SqliteConnection,
    calendar: &Calendar,
    tasks: &[TaskCode],
) -> Result<HashMap<TaskCode, Bound>, Failure> {
    let mut found: HashMap<TaskCode, Bound> = HashMap::new();
    let mut take = |task: Option<TaskCode>, day: Option<Day>, kind: Kind, code: &str| {
        let (Some(task), Some(day)) = (task, day) else { return };
        let bound = Bound { day, kind, code: code.to_owned() };
        if let Some(bound) = earlier(found.remove(&task), Some(bound)) {
            found.insert(task, bound);
        }
    };
    for constraint in constraints::ended_by(db, tasks).await? {
        if constraint.lifted_by.is_none() {
            let landing = constraint.safe_until_flight.as_ref().and_then(|f| landing(calendar, f));
            let day = until(constraint.safe_until, landing);
            take(constraint.task, day, Kind::Constraint, constraint.code.0.as_str());
        }
    }
    for item in outside::brought_back_by_these(db, tasks).await? {
        if item.state == OutsideState::InPlace {
            let day = item.runs_out();
            take(item.brought_back_by, day, Kind::OutsideItem, item.code.0.as_str());
        }
    }
    Ok(found)
}

/// The day on which a flight lands; its launch where that is not known.
pub(crate) fn landing(calendar: &Calendar, flight: &FlightCode) -> Option<Day> {
    let flight = &calendar.flights[calendar.rank(flight)?];
    flight.landing.or(flight.launch)
}
