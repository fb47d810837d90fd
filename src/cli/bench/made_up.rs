//! The excursion on which a press is timed: 12 tasks in 3 seats, as `compute::day::load` makes them up,
//! as records beside those of the demo.

use crate::Failed;
use app::records::Base;
use app::work::Work;
use app::{Actor, App, kinds};
use domain::cells::Cells;
use domain::excursions::Excursion;
use domain::kinds::Kind;
use domain::records::Record as _;
use domain::roles::keeper;
use domain::words::GateName;

const CODE: &str = "E-BENCH";
const SITES: [&str; 6] = ["W-BAY5", "W-KEEL3", "W-MASTF", "W-RADP", "W-WELL", "W-KEEL4"];
const CLASSES: [&str; 5] = ["1", "2", "3", "4", "5"];

/// Lays it out beside an excursion of the demo, on the same flight with the same suits; gives its code
/// and the slots of each seat.
pub(super) async fn lay(
    app: &App,
    beside: &Excursion,
    (tasks, seats): (usize, usize),
) -> Result<(String, Vec<Vec<String>>), Failed> {
    let mut cells = beside.cells();
    let names: Vec<String> = (1..=seats).map(|seat| format!("EV{seat} C-{seat}")).collect();
    for (name, text) in [
        ("code", CODE),
        ("number", "9"),
        ("planned", "6:00"),
        ("limit", "6:30"),
        ("egress", "30"),
        ("ingress", "20"),
        ("seats", &names.join(", ")),
        ("notes", ""),
    ] {
        cells.set(name, text);
    }
    save(app, Kind::Excursion, &cells).await?;
    let mut of_seats = vec![Vec::new(); seats];
    for at in 0..tasks {
        let (task, slot) = (format!("T-BENCH{at}"), format!("S-BENCH{at}"));
        let own = at % seats;
        let both = seats > 1 && (at == tasks / 2 || at + 2 == tasks);
        let likely = 25 + at * 17 % 45;
        let taken = if both {
            format!("EV{}, EV{}", own + 1, (own + 1) % seats + 1)
        } else {
            format!("EV{}", own + 1)
        };
        let minutes = [likely * 7 / 10, likely, likely * 2].map(|minutes| minutes.to_string());
        save(app, Kind::Task, &task_cells((at, &task), &minutes, (at + 4 == tasks, both))).await?;
        // What is made up is too much for its day; that is what there is to calculate.
        let waived = GateName::WORDS.join(", ");
        let slot_cells = [
            ("code", slot.as_str()),
            ("task", &task),
            ("excursion", CODE),
            ("seats", &taken),
            ("state", "set"),
            ("waived_gate", &waived),
            ("waiver", "made up to be timed"),
            ("must_do", if at.is_multiple_of(5) { "yes" } else { "" }),
            ("stopping_point", if at.is_multiple_of(3) { "half of it is closed up" } else { "" }),
            ("stopping_share", if at.is_multiple_of(3) { "60" } else { "" }),
        ];
        save(app, Kind::Slot, &of(&slot_cells)).await?;
        of_seats[own].push(slot);
    }
    Ok((CODE.to_owned(), of_seats))
}

fn task_cells(
    (at, task): (usize, &str),
    [optimistic, likely, pessimistic]: &[String; 3],
    (in_daylight, both): (bool, bool),
) -> Cells {
    of(&[
        ("code", task),
        ("title", "Work that is made up"),
        ("worksite", SITES[at % SITES.len()]),
        ("class", CLASSES[at % CLASSES.len()]),
        ("optimistic", optimistic),
        ("likely", likely),
        ("pessimistic", pessimistic),
        ("seats", if both { "2" } else { "1" }),
        ("work_rate", "moderate"),
        ("lighting", if in_daylight { "daylight only" } else { "any" }),
        ("opened", "2028-01-01"),
    ])
}

fn of(cells: &[(&str, &str)]) -> Cells {
    cells.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect()
}

async fn save(app: &App, kind: Kind, cells: &Cells) -> Result<(), Failed> {
    let actor = Actor { name: "measure".to_owned(), role: keeper(kind) };
    let mut work = Work::begin(app, &actor, None).await?;
    kinds::save_whole(&mut work, kind, cells, Base::New).await?;
    work.finish("").await?;
    Ok(())
}
