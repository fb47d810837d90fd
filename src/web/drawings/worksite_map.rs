//! The worksites and the ways between them. A worksite stands where the record places it; the
//! others stand on a ring around, told apart by a note, so that none is missing.

use std::collections::HashMap;
use std::f64::consts::TAU;

use super::columns::number;
use super::markup::{Drawing, linked, open, open_group, path, short, text};
use crate::addresses::encoded;

mod labels;
mod legend;

use labels::{Line, Sheet};
pub use legend::legend;

/// One worksite.
#[derive(Debug, Clone, PartialEq)]
pub struct MapSite {
    pub code: String,
    pub name: String,
    /// Per cent from the left and from the top, where known.
    pub place: Option<(f64, f64)>,
    /// The codes of what was left there on purpose.
    pub outside: Vec<String>,
    /// Open items aimed at it.
    pub open_items: usize,
    /// What the page is about is here.
    pub marked: bool,
}

/// One way between two worksites, in both directions.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MapWay {
    pub from: String,
    pub to: String,
    pub minutes: i64,
    /// Where it differs from the way there.
    pub minutes_back: Option<i64>,
    pub aid: Option<MapAid>,
    /// It needs what the page is about.
    pub marked: bool,
}

/// What a way needs to be in place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MapAid {
    pub code: String,
    pub in_place: bool,
}

const WIDE: f64 = 1120.0;
const HIGH: f64 = 600.0;
const EDGE_X: f64 = 90.0;
const EDGE_Y: f64 = 60.0;
/// The radius of a worksite.
const SPOT: f64 = 6.0;

/// The drawing, 1120 × 600. Routes to worksites that are not among `sites` are left to the table.
pub fn draw(sites: &[MapSite], ways: &[MapWay], id: &str) -> Drawing {
    drawn(sites, ways, id, false)
}

/// The same with each worksite as large as its open work, and as a link to it.
pub fn by_open_work(sites: &[MapSite], ways: &[MapWay], id: &str) -> Drawing {
    drawn(sites, ways, id, true)
}

fn drawn(sites: &[MapSite], ways: &[MapWay], id: &str, by_work: bool) -> Drawing {
    let places = places(sites);
    let opened = if by_work { open_group } else { open };
    let mut out = opened(
        "wide-drawing map",
        &format!("0 0 {} {}", short(WIDE), short(HIGH)),
        id,
        "Worksites and the routes between them",
        &words(sites, ways),
    );
    let mut sheet = Sheet::default();
    let drawn: Vec<_> = ways
        .iter()
        .filter_map(|way| {
            Some((way, *places.get(way.from.as_str())?, *places.get(way.to.as_str())?))
        })
        .collect();
    // What is marked lies under all lines, so that these stay as they are everywhere else.
    for (_, from, to) in drawn.iter().filter(|(way, ..)| way.marked) {
        path(&mut out, "way-mark", &straight(*from, *to));
    }
    for (way, from, to) in &drawn {
        path(&mut out, class(way), &straight(*from, *to));
        sheet.keep_line(*from, *to);
    }
    let radius = |site: &MapSite| if by_work { by_count(site.open_items) } else { SPOT };
    for site in sites {
        if let Some(place) = places.get(site.code.as_str()) {
            sheet.keep_spot(*place, radius(site));
        }
    }
    sheet.keep_foot(&not_drawn(drawn.len()));
    // Names and figures stand beside the lines, each where it covers least. Names have fewer places.
    let mut written = String::new();
    for site in sites {
        if let Some(place) = places.get(site.code.as_str()) {
            if by_work {
                let address = format!("/open?site={}", encoded(&site.code));
                linked(&mut out, &address, &said(site), |out| {
                    dot(out, site, *place, radius(site));
                });
            } else {
                dot(&mut out, site, *place, SPOT);
            }
            sheet.beside(*place, radius(site), &lines(site)).write(&mut written);
        }
    }
    let mut beyond = 0;
    for (way, from, to) in &drawn {
        match sheet.along(*from, *to, &figures(way)) {
            Some(label) => label.write(&mut written),
            None => beyond += 1,
        }
    }
    if beyond > 0 {
        text(&mut written, "t11 t2", 4.0, HIGH - 3.0, &not_drawn(beyond));
    }
    out.push_str(&written);
    out.push_str("</svg>");
    Drawing::new(out)
}

/// What the foot of the map says where figures have no room.
fn not_drawn(count: usize) -> String {
    let routes = if count == 1 { "1 route has" } else { &format!("{count} routes have") };
    format!("{routes} no room for minutes here; the list of routes has them.")
}

/// The area of a mark grows with the open tasks, up to what leaves the neighbours room.
fn by_count(open: usize) -> f64 {
    (SPOT + 3.0 * (number(open).sqrt() - 1.0).max(0.0)).min(26.0)
}

/// A worksite as its link is read aloud.
fn said(site: &MapSite) -> String {
    let tasks = if site.open_items == 1 { "open task" } else { "open tasks" };
    format!("{}, {}: {} {tasks}", site.code, site.name, site.open_items)
}

/// Every worksite's place on the drawing.
fn places(sites: &[MapSite]) -> HashMap<&str, (f64, f64)> {
    let known = |site: &MapSite| site.place.filter(|(x, y)| x.is_finite() && y.is_finite());
    let unknown = sites.iter().filter(|site| known(site).is_none()).count();
    let alone = unknown == sites.len();
    // The ring runs outside the placed worksites, or takes the whole sheet where there are none.
    let inset = if unknown > 0 && !alone { 0.22 } else { 0.0 };
    let mut next = 0;
    sites
        .iter()
        .map(|site| {
            let (x, y) = if let Some((left, top)) = known(site) {
                let within =
                    |share: f64| inset + share.clamp(0.0, 100.0) / 100.0 * (1.0 - 2.0 * inset);
                (within(left), within(top))
            } else {
                let turn = TAU * number(next) / number(unknown) - TAU / 4.0;
                next += 1;
                (0.5 + turn.cos() / 2.0, 0.5 + turn.sin() / 2.0)
            };
            let spot = (EDGE_X + x * (WIDE - 2.0 * EDGE_X), EDGE_Y + y * (HIGH - 2.0 * EDGE_Y));
            (site.code.as_str(), spot)
        })
        .collect()
}

const fn class(way: &MapWay) -> &'static str {
    match &way.aid {
        None => "way",
        Some(aid) if aid.in_place => "way aided",
        Some(_) => "way cut",
    }
}

fn straight(from: (f64, f64), to: (f64, f64)) -> String {
    format!("M{} {}L{} {}", short(from.0), short(from.1), short(to.0), short(to.1))
}

/// What stands on a way: its minutes, and the aid it needs.
fn figures(way: &MapWay) -> Vec<Line> {
    let mut lines = vec![Line { class: "t11", words: minutes(way) }];
    lines.extend(way.aid.as_ref().map(|aid| {
        if aid.in_place {
            Line { class: "tc t11 t2", words: aid.code.clone() }
        } else {
            Line { class: "tc t11 tno", words: format!("{} not in place", aid.code) }
        }
    }));
    lines
}

fn minutes(way: &MapWay) -> String {
    match way.minutes_back {
        Some(back) if back != way.minutes => format!("{} / {back} min", way.minutes),
        Some(_) | None => format!("{} min", way.minutes),
    }
}

fn dot(out: &mut String, site: &MapSite, (x, y): (f64, f64), radius: f64) {
    let (x, y) = (short(x), short(y));
    let circle = |r: f64| {
        let (r, across) = (short(r), short(2.0 * r));
        format!("M{x} {y}m-{r} 0a{r} {r} 0 1 0 {across} 0a{r} {r} 0 1 0 -{across} 0z")
    };
    if site.marked {
        path(out, "site-mark", &circle(radius + 6.0));
    }
    let class = if site.place.is_some() { "site" } else { "site unplaced" };
    path(out, class, &circle(radius));
    if !site.outside.is_empty() {
        // A tag hung on the worksite: something was left there.
        let (right, up) = (short(radius + 2.0), short(radius + 2.0));
        path(out, "tag", &format!("M{x} {y}m{right} -{up}h8v8h-8z"));
    }
}

/// What stands beside a worksite.
fn lines(site: &MapSite) -> Vec<Line> {
    let mut lines = vec![Line { class: "tc t13 tb", words: site.code.clone() }];
    if !site.name.is_empty() {
        lines.push(Line { class: "t11 t2", words: site.name.clone() });
    }
    let open = (site.open_items > 0).then(|| format!("{} open", site.open_items));
    let left = (!site.outside.is_empty()).then(|| format!("outside: {}", site.outside.join(", ")));
    lines.extend(open.into_iter().chain(left).map(|words| Line { class: "t11", words }));
    lines
}

fn words(sites: &[MapSite], ways: &[MapWay]) -> String {
    let gone: Vec<String> = ways
        .iter()
        .filter_map(|way| way.aid.as_ref().filter(|aid| !aid.in_place).map(|aid| (way, aid)))
        .map(|(way, aid)| {
            format!("{} to {} is cut: {} is not in place.", way.from, way.to, aid.code)
        })
        .collect();
    let left: usize = sites.iter().map(|site| site.outside.len()).sum();
    let mut told =
        format!("{} worksites, {} routes, {left} things left outside.", sites.len(), ways.len());
    let ways = ways.iter().filter(|way| way.marked);
    let marked_ways = ways
        .map(|way| format!("Marked: the route from {} to {}, {}.", way.from, way.to, minutes(way)));
    let sites = sites.iter().filter(|site| site.marked);
    let marked_sites = sites.map(|site| format!("Marked: the worksite {}.", site.code));
    for sentence in gone.into_iter().chain(marked_ways).chain(marked_sites) {
        told.push(' ');
        told.push_str(&sentence);
    }
    told.push_str(" The same stands in the tables.");
    told
}

#[cfg(test)]
mod tests;
