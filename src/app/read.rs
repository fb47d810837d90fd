//! What pages read of the record beside the readers of the other modules: everything that a page may
//! ask the database for by itself stands here by name, and none of it writes. Pages have no other door
//! to the data.

use domain::records::Record;
use store::Kept;

/// What a page reads through: of a [`crate::Reader`], or of an operation under way.
pub use sqlx::SqliteConnection as Connection;
pub use store::{Contents, StoreError};

/// A record that is found by its code.
pub trait Found: Record + Sized {
    fn find(
        db: &mut Connection,
        code: &str,
    ) -> impl Future<Output = Result<Option<Self>, StoreError>> + Send;

    /// Up to `most` records whose codes come after `after`, in the order of their codes.
    fn after(
        db: &mut Connection,
        after: &str,
        most: i64,
    ) -> impl Future<Output = Result<Vec<Self>, StoreError>> + Send;
}

impl<R: Kept> Found for R {
    fn find(
        db: &mut Connection,
        code: &str,
    ) -> impl Future<Output = Result<Option<Self>, StoreError>> + Send {
        <R as Kept>::find(db, code)
    }

    fn after(
        db: &mut Connection,
        after: &str,
        most: i64,
    ) -> impl Future<Output = Result<Vec<Self>, StoreError>> + Send {
        <R as Kept>::after(db, after, most)
    }
}

pub mod affected {
    pub use store::affected::{Affected, count, page};
}

pub mod attempts {
    pub use store::attempts::{TriedBy, done_by, of_excursion, of_task, of_tasks};
}

pub mod campaign {
    pub use store::campaign::{OfClass, by_class, by_worksite};
}

pub mod causes {
    pub use store::causes::Counted;
}

pub mod changes {
    pub use store::changes::{Change, edits, last, last_of, newest, since};
}

pub mod day {
    pub use store::day::runs_of;
}

pub mod endings {
    pub use store::endings::{deferrals_of_excursion, deferrals_of_task};
}

pub mod events {
    pub use store::events::{
        EndedSlot, EventRow, Filter, attempts, causes, count_attempts, deferrals, slots_of,
    };
}

pub mod excursion_list {
    pub use store::excursion_list::{ExcursionRow, Filter, count, page};
}

pub mod excursions {
    pub use store::excursions::{
        Tally, closed_at, coming, of_flight, quoting, tallies_of, these, to_debrief, tools_of,
    };
}

pub mod families {
    pub use store::families::{matching, of_family};
}

pub mod feeds {
    pub use store::feeds::{Feed, of_person};
}

pub mod files {
    pub use store::files::{of_attempts_of, of_excursion, of_record, of_task};
}

pub mod findings {
    pub use store::findings::{
        ExemptionNamed, Shown, exemptions_named, explaining, of_excursion, page, reopened_among,
        time_ran_out,
    };
}

pub mod flights {
    pub use store::flights::{FlightRow, in_order};
}

pub mod forms {
    pub use store::forms::answer;
}

pub mod history {
    pub use store::history::OpeningRow;
}

pub mod inhibits {
    pub use store::inhibits::{arranged_on, matching};
}

pub mod library {
    pub use store::library::{FamilySize, PAGE};
}

pub mod open_items {
    pub use store::open_items::{Filter, OpenItem, PAGE, Sort, count, page};
}

pub mod outside {
    pub use store::outside::{brought_back_by, going_down, in_place, left_by_excursion};
}

pub mod people {
    pub use store::people::list;
}

pub mod reach {
    pub use store::reach::tasks_needed_by;
}

pub mod register {
    pub use store::register::{find, versions};
}

pub mod remedies {
    pub use store::remedies::{Due, NotHeldSeen, due, not_held, not_verified, of_task};
}

pub mod search {
    pub use store::search::{FoundIn, FoundRecord, RANKED};
}

pub mod sessions {
    pub use store::sessions::Session;
}

pub mod slot_history {
    pub use store::slot_history::gates_of_coming;
}

pub mod slots {
    pub use store::slots::{coming_slots, live_of_task, live_of_tasks, of_excursion, of_task};
}

pub mod standing {
    pub use store::standing::{LeftUnknown, find, these};
}

pub mod statistics {
    pub use store::statistics::{Period, second_persons, story, waivers};
}

pub mod tasks {
    pub use store::tasks::{Sister, of_families, these};
}

pub mod techniques {
    pub use store::techniques::{for_tasks, matching, qualifications_for_these};
}

pub mod tools {
    pub use store::tools::{arriving_with, matching, returning_with};
}

pub mod views {
    pub use store::views::of_person;
}

pub mod waits {
    pub use store::waits::FailureRow;
}

pub mod words {
    pub use store::words::asked;
}

pub mod worksites {
    pub use store::worksites::matching;
}
