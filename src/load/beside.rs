//! What a team keeps beside its tasks: inhibits, what is outside, what was rehearsed, trained and
//! revised, the tools of the last excursions, constraints.

use rand::{Rng, RngExt as _};

use super::library::{technique_code, tool_code, worksite_code};
use super::words::{one, prose};
use super::{COMING, EXCURSIONS, Load, Row, WORKSITES, excursion_code, row, stream, task_code};
use domain::kinds::Kind;
use domain::settings::Settings;
use domain::words::Checked;

const INHIBITS: usize = 40;
const CREW: [&str; 3] = ["C-4", "C-7", "C-9"];
/// Families whose first technique was rehearsed, trained and revised.
pub(super) const REVISED: usize = 60;
/// So many flown excursions have their tools counted.
const COUNTED: usize = 200;

/// What stands before the tasks.
pub(super) fn before(load: &Load) -> Vec<Row> {
    let mut chance = stream(load.size.seed, u64::MAX - 2);
    let mut rows = Vec::new();
    for number in 0..INHIBITS {
        rows.push(row(
            Kind::Inhibit,
            [
                ("code", inhibit_code(number)),
                ("what", format!("Circuit {number} off and locked")),
                ("owner", "power console".to_owned()),
                ("lead", "60".to_owned()),
            ],
        ));
    }
    outside(load, &mut rows, &mut chance);
    for family in 0..REVISED.min(load.family_count) {
        trained(load, family, &mut rows, &mut chance);
    }
    counted(load, &mut rows);
    for (number, crew) in CREW.iter().enumerate() {
        rows.push(suit_rate(number, crew));
    }
    rows.push(settings());
    rows
}

/// The figures that matter to safety, accepted by the team.
fn settings() -> Row {
    row(
        Kind::Settings,
        [
            ("code", Settings::CODE.to_owned()),
            ("tight_from", "50".to_owned()),
            ("met_from", "80".to_owned()),
            ("supply_reserve", "30".to_owned()),
            ("why", "made up".to_owned()),
        ],
    )
}

fn outside(load: &Load, rows: &mut Vec<Row>, chance: &mut impl Rng) {
    for number in 0..(load.tasks() / 40).clamp(3, 500) {
        let since = load.today.plus(-chance.random_range(30..700));
        rows.push(row(
            Kind::OutsideItem,
            [
                ("code", format!("O-{number:04}")),
                ("what", format!("Strap over bay {number}")),
                ("worksite", worksite_code(number % WORKSITES)),
                ("purpose", "holds the loose half of a tray".to_owned()),
                ("since", since.to_string()),
                ("limit_days", if chance.random_bool(0.5) { "900" } else { "" }.to_owned()),
                ("state", "in place".to_owned()),
            ],
        ));
    }
}

fn trained(load: &Load, family: usize, rows: &mut Vec<Row>, chance: &mut impl Rng) {
    let technique = technique_code(family, 0);
    for number in 1..=2 {
        rows.push(row(
            Kind::Revision,
            [
                ("code", format!("{technique}.{number}")),
                ("technique", technique.clone()),
                ("number", number.to_string()),
                ("changed", prose(chance)),
                ("author", "engineer".to_owned()),
                ("made_on", load.today.plus(-900 + 30 * number).to_string()),
                ("cleared_by", "another lead".to_owned()),
                ("cleared_on", load.today.plus(-890 + 30 * number).to_string()),
                ("evidence", "Dry run on the flight spare.".to_owned()),
                ("checked", Checked::Imported.word().to_owned()),
                ("likely", "25".to_owned()),
                ("steps", prose(chance)),
            ],
        ));
    }
    let on = load.today.plus(-chance.random_range(10..400)).to_string();
    let side = one(&super::library::SIDES, chance).to_owned();
    rows.push(row(
        Kind::Rehearsal,
        [
            ("code", format!("H-{family:03}")),
            ("technique", technique.clone()),
            ("revision", "2".to_owned()),
            ("side", side.clone()),
            ("kind", one(&["tank", "1-g", "analysis"], chance).to_owned()),
            ("day", on.clone()),
            ("success", "yes".to_owned()),
            ("minutes", "31".to_owned()),
        ],
    ));
    rows.push(row(
        Kind::Qualification,
        [
            ("code", format!("QU-{family:03}")),
            ("crew", one(&CREW, chance).to_owned()),
            ("technique", technique),
            ("revision", "2".to_owned()),
            ("side", side),
            ("day", on),
            ("place", "tank".to_owned()),
        ],
    ));
}

/// Two tools out and in again on each of the last flown excursions.
fn counted(load: &Load, rows: &mut Vec<Row>) {
    let flown = (0..load.flown).rev();
    let last = flown.flat_map(|flight| (0..load.excursions).map(move |number| (flight, number)));
    for (at, (flight, number)) in last.take(COUNTED).enumerate() {
        for tool in 0..2 {
            rows.push(row(
                Kind::ExcursionTool,
                [
                    ("code", format!("M-{:04}", at * 2 + tool)),
                    ("excursion", excursion_code(flight, number)),
                    ("tool", tool_code(tool)),
                    ("taken_out", "1".to_owned()),
                    ("brought_in", "1".to_owned()),
                ],
            ));
        }
    }
}

fn suit_rate(number: usize, crew: &str) -> Row {
    row(
        Kind::SuitRates,
        [
            ("code", format!("SU-{number:03}")),
            ("crew", crew.to_owned()),
            ("light", "170".to_owned()),
            ("moderate", "235".to_owned()),
            ("heavy", "345".to_owned()),
            ("overhead", "225".to_owned()),
            ("quotient", "0.85".to_owned()),
            ("leakage", "8".to_owned()),
            ("external_work", "0".to_owned()),
            ("electrics", "69".to_owned()),
            ("environment", "0".to_owned()),
            ("water_heat", "2.45".to_owned()),
            ("source", "made up".to_owned()),
        ],
    )
}

/// What names tasks and coming excursions.
pub(super) fn after(load: &Load) -> Vec<Row> {
    let mut chance = stream(load.size.seed, u64::MAX - 3);
    let mut rows = Vec::new();
    for number in 0..(load.tasks() / 100).clamp(3, 200) {
        let since = load.today.plus(-chance.random_range(30..700));
        let until = load.today.plus(chance.random_range(-20..600));
        rows.push(row(
            Kind::Constraint,
            [
                ("code", format!("CN-{number:03}")),
                ("forbidden", format!("Row {number} at 3 bar or less")),
                ("owner", "fluids console".to_owned()),
                ("since", since.to_string()),
                ("safe_until", until.to_string()),
                ("task", task_code(chance.random_range(0..load.tasks()))),
            ],
        ));
    }
    for at in 0..COMING * EXCURSIONS {
        rows.push(row(
            Kind::Arrangement,
            [
                ("code", format!("AR-{at:03}")),
                ("inhibit", inhibit_code(at % INHIBITS)),
                ("excursion", excursion_code(load.flown + at / EXCURSIONS, at % EXCURSIONS)),
                ("state", one(&["asked", "arranged"], &mut chance).to_owned()),
            ],
        ));
    }
    rows
}

fn inhibit_code(number: usize) -> String {
    format!("I-{number:03}")
}
