//! What tasks stand on.

use rand::{Rng, RngExt as _};

use super::words::{one, prose};
use super::{COMING, Load, Row, TOOLS, WORKSITES, excursion_code, row, stream};
use domain::kinds::Kind;

/// Kinds of cause of those with which every record begins.
const CAUSES: [&str; 10] = ["1", "3", "4", "6", "8", "12", "17", "19", "25", "26"];

pub(super) const SIDES: [&str; 4] = ["nadir", "zenith", "port", "starboard"];

pub(super) fn cause(chance: &mut impl Rng) -> &'static str {
    CAUSES[chance.random_range(0..CAUSES.len())]
}

/// Techniques of one family.
pub(super) const fn techniques(family: usize) -> usize {
    1 + family % 4
}

pub(super) fn technique_code(family: usize, number: usize) -> String {
    format!("K-{family:05}-{number}")
}

pub(super) fn rows(load: &Load) -> Vec<Row> {
    let mut chance = stream(load.size.seed, u64::MAX - 1);
    let mut rows = Vec::new();
    places(&mut rows);
    flights(load, &mut rows, &mut chance);
    for tool in 0..TOOLS {
        let comes = chance.random_bool(0.05);
        let flight = load.flown + chance.random_range(0..COMING);
        rows.push(row(
            Kind::Tool,
            [
                ("code", tool_code(tool)),
                ("name", format!("wrench {tool}")),
                ("on_board", if comes { String::new() } else { "3".to_owned() }),
                ("arrives_with", if comes { flight_code(flight) } else { String::new() }),
                ("state", "usable".to_owned()),
            ],
        ));
    }
    for family in 0..load.family_count {
        rows.push(row(
            Kind::Family,
            [("code", family_code(family)), ("name", format!("kind {family}"))],
        ));
        for number in 0..techniques(family) {
            rows.push(technique(family, number, &mut chance));
        }
    }
    rows
}

fn technique(family: usize, number: usize, chance: &mut impl Rng) -> Row {
    let tools: Vec<String> =
        (0..chance.random_range(0..3)).map(|nth| tool_code((family * 3 + nth) % TOOLS)).collect();
    let is_revised = number == 0 && family < super::beside::REVISED;
    row(
        Kind::Technique,
        [
            ("code", technique_code(family, number)),
            ("name", one(&["straight pull", "twist", "pry", "lift and turn"], chance).to_owned()),
            ("family", family_code(family)),
            ("revision", if is_revised { "2" } else { "1" }.to_owned()),
            ("state", "cleared".to_owned()),
            ("sides", SIDES.join(", ")),
            ("tools", tools.join(", ")),
            ("seats", "1".to_owned()),
            ("optimistic", "15".to_owned()),
            ("likely", "25".to_owned()),
            ("pessimistic", "50".to_owned()),
            ("steps", prose(chance)),
        ],
    )
}

/// Worksites in a ring, each with a way to the next.
fn places(rows: &mut Vec<Row>) {
    for site in 0..WORKSITES {
        rows.push(row(
            Kind::Worksite,
            [
                ("code", worksite_code(site)),
                ("setup", "5".to_owned()),
                ("cleanup", "5".to_owned()),
                ("map_x", (site * 97 % 100).to_string()),
                ("map_y", (site * 61 % 100).to_string()),
            ],
        ));
    }
    for site in 0..WORKSITES {
        rows.push(row(
            Kind::Route,
            [
                ("code", format!("Q-{site:03}")),
                ("from_site", worksite_code(site)),
                ("to_site", worksite_code((site + 1) % WORKSITES)),
                ("minutes", (2 + site % 5).to_string()),
            ],
        ));
    }
}

fn flights(load: &Load, rows: &mut Vec<Row>, chance: &mut impl Rng) {
    for flight in 0..load.flights() {
        let launch = load.launch(flight);
        let state = if load.is_flown(flight) { "flown" } else { "coming" };
        rows.push(row(
            Kind::Flight,
            [
                ("code", flight_code(flight)),
                ("launch", launch.to_string()),
                ("landing", launch.plus(load.stay()).to_string()),
                ("state", state.to_owned()),
            ],
        ));
    }
    for flight in 0..load.flights() {
        let excursions = load.excursions_of(flight);
        for number in 0..excursions {
            let day = load.day(flight, number);
            let state = if load.is_flown(flight) { "flown" } else { "planned" };
            rows.push(row(
                Kind::Excursion,
                [
                    ("code", excursion_code(flight, number)),
                    ("flight", flight_code(flight)),
                    ("number", (number + 1).to_string()),
                    ("day", day.to_string()),
                    ("state", state.to_owned()),
                    ("planned", "390".to_owned()),
                    ("limit", "420".to_owned()),
                    ("egress", "30".to_owned()),
                    ("ingress", "25".to_owned()),
                    ("seats", "EV1 C-4, EV2 C-7".to_owned()),
                    ("airlock", worksite_code(0)),
                    ("deferrable", if number + 1 == excursions { "yes" } else { "no" }.to_owned()),
                    ("notes", prose(chance)),
                ],
            ));
        }
    }
}

pub(super) fn flight_code(flight: usize) -> String {
    format!("G-{}", flight + 1)
}

pub(super) fn worksite_code(site: usize) -> String {
    format!("W-{site:02}")
}

pub(super) fn family_code(family: usize) -> String {
    format!("F-{family:05}")
}

pub(super) fn tool_code(tool: usize) -> String {
    format!("L-{tool:03}")
}
