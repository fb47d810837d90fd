//! The worksites and the ways between them. A worksite stands where the record places it; the
//! others stand on a ring around, told apart by a note, so that none is missing.

use std::collections::HashMap;
use std::f64::consts::TAU;

use super::columns::number;
use super::markup::{Drawing, open, path, short, text};

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

/// The drawing, 1120 × 600. Ways to worksites that are not among `sites` are left to the table.
pub fn draw(sites: &[MapSite], ways: &[MapWay], id: &str) -> Drawing {
    let places = places(sites);
    let mut out = open(
        "wide-drawing map",
        &format!("0 0 {} {}", short(WIDE), short(HIGH)),
        id,
        "Worksites and the ways between them",
        &words(sites, ways),
    );
    let mut figures = String::new();
    for way in ways {
        if let (Some(from), Some(to)) = (places.get(way.from.as_str()), places.get(way.to.as_str()))
        {
            one_way(&mut out, &mut figures, way, *from, *to);
        }
    }
    for site in sites {
        if let Some(place) = places.get(site.code.as_str()) {
            one_site(&mut figures, site, *place, below(site, *place, ways, &places));
        }
    }
    // Figures and names lie over all lines.
    out.push_str(&figures);
    out.push_str("</svg>");
    Drawing::new(out)
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

fn one_way(out: &mut String, figures: &mut String, way: &MapWay, from: (f64, f64), to: (f64, f64)) {
    let class = match &way.aid {
        None => "way",
        Some(aid) if aid.in_place => "way aided",
        Some(_) => "way cut",
    };
    let d = format!("M{} {}L{} {}", short(from.0), short(from.1), short(to.0), short(to.1));
    path(out, class, &d);
    let (x, y) = (f64::midpoint(from.0, to.0), f64::midpoint(from.1, to.1));
    text(figures, "t11 mid halo", x, y + 4.0, &minutes(way));
    if let Some(aid) = &way.aid {
        let (class, said) = if aid.in_place {
            ("tc t11 mid t2 halo", aid.code.clone())
        } else {
            ("tc t11 mid tno halo", format!("{} not in place", aid.code))
        };
        text(figures, class, x, y + 17.0, &said);
    }
}

fn minutes(way: &MapWay) -> String {
    match way.minutes_back {
        Some(back) if back != way.minutes => format!("{} / {back} min", way.minutes),
        Some(_) | None => format!("{} min", way.minutes),
    }
}

fn one_site(out: &mut String, site: &MapSite, (x, y): (f64, f64), below: bool) {
    let (sx, sy) = (short(x), short(y));
    let class = if site.place.is_some() { "site" } else { "site unplaced" };
    path(out, class, &format!("M{sx} {sy}m-6 0a6 6 0 1 0 12 0a6 6 0 1 0 -12 0z"));
    let mut lines = vec![("tc t13 tb mid halo", site.code.clone())];
    if !site.name.is_empty() {
        lines.push(("t11 t2 mid halo", site.name.clone()));
    }
    let mut counts = Vec::new();
    if site.open_items > 0 {
        counts.push(format!("{} open", site.open_items));
    }
    if !site.outside.is_empty() {
        counts.push(format!("outside: {}", site.outside.join(", ")));
    }
    if !counts.is_empty() {
        lines.push(("t11 mid halo", counts.join(" · ")));
    }
    let first = if below { y + 21.0 } else { y - 12.0 - 13.0 * number(lines.len() - 1) };
    for (index, (class, words)) in lines.iter().enumerate() {
        text(out, class, x, first + 13.0 * number(index), words);
    }
    if !site.outside.is_empty() {
        // A tag hung on the worksite: something was left there.
        path(out, "tag", &format!("M{sx} {sy}m8 -8h8v8h-8z"));
    }
}

/// The side with fewer ways is free for the name.
fn below(
    site: &MapSite,
    place: (f64, f64),
    ways: &[MapWay],
    places: &HashMap<&str, (f64, f64)>,
) -> bool {
    let downwards: f64 = ways
        .iter()
        .filter_map(|way| {
            let other = match site.code.as_str() {
                code if code == way.from => &way.to,
                code if code == way.to => &way.from,
                _ => return None,
            };
            places.get(other.as_str()).map(|(_, y)| y - place.1)
        })
        .sum();
    downwards <= 0.0
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
        format!("{} worksites, {} ways, {left} things left outside.", sites.len(), ways.len());
    for sentence in gone {
        told.push(' ');
        told.push_str(&sentence);
    }
    told.push_str(" The same stands in the tables.");
    told
}

#[cfg(test)]
mod tests {
    use super::*;

    fn site(code: &str, place: Option<(f64, f64)>) -> MapSite {
        let outside = Vec::new();
        MapSite { code: code.into(), name: String::new(), place, outside, open_items: 0 }
    }

    fn way(from: &str, to: &str, aid: Option<MapAid>) -> MapWay {
        MapWay { from: from.into(), to: to.into(), minutes: 9, minutes_back: None, aid }
    }

    #[test]
    fn worksites_stand_where_the_record_places_them() {
        let sites = [site("W-A", Some((0.0, 0.0))), site("W-B", Some((100.0, 50.0)))];
        let drawing = draw(&sites, &[way("W-A", "W-B", None)], "m");
        assert!(drawing.as_str().contains("<path class=\"way\" d=\"M90 60L1030 300\"/>"));
        assert!(drawing.as_str().contains("x=\"560\" y=\"184\">9 min</text>"));
    }

    #[test]
    fn worksites_without_a_place_stand_on_a_ring_and_never_on_each_other() {
        let sites: Vec<MapSite> = (0..16).map(|n| site(&format!("W-{n}"), None)).collect();
        let places = places(&sites);
        assert_eq!(places["W-0"], (560.0, 60.0), "the first stands on top");
        let all: Vec<_> = places.values().collect();
        for (index, a) in all.iter().enumerate() {
            for b in &all[index + 1..] {
                assert!((a.0 - b.0).hypot(a.1 - b.1) > 40.0, "{a:?} and {b:?}");
            }
        }
    }

    #[test]
    fn placed_worksites_make_room_for_the_ring_of_the_others() {
        let sites = [site("W-A", Some((0.0, 0.0))), site("W-B", None)];
        let places = places(&sites);
        assert!(places["W-A"].0 > 200.0);
    }

    #[test]
    fn a_way_whose_aid_is_gone_is_cut_in_line_and_in_words() {
        let sites = [site("W-A", Some((0.0, 0.0))), site("W-B", Some((100.0, 50.0)))];
        let aid = |in_place| Some(MapAid { code: "O-07".into(), in_place });
        let gone = draw(&sites, &[way("W-A", "W-B", aid(false))], "m");
        assert!(gone.as_str().contains("class=\"way cut\""));
        assert!(gone.as_str().contains("W-A to W-B is cut: O-07 is not in place."));
        let there = draw(&sites, &[way("W-A", "W-B", aid(true))], "m");
        assert!(there.as_str().contains("class=\"way aided\"") && !there.as_str().contains("cut"));
    }

    #[test]
    fn minutes_there_and_back_are_told_apart_where_they_differ() {
        let mut back = way("W-A", "W-B", None);
        back.minutes_back = Some(12);
        assert_eq!(minutes(&back), "9 / 12 min");
        back.minutes_back = Some(9);
        assert_eq!(minutes(&back), "9 min");
    }

    #[test]
    fn names_stay_text_and_unknown_ends_draw_no_way() {
        let mut odd = site("W-<A>", Some((f64::NAN, 400.0)));
        odd.outside = vec!["O-1".into()];
        odd.open_items = 2;
        let drawing = draw(&[odd], &[way("W-<A>", "W-none", None)], "m");
        let markup = drawing.as_str();
        assert!(markup.contains("W-&lt;A&gt;") && markup.contains("2 open · outside: O-1"));
        assert!(!markup.contains("class=\"way\"") && !markup.contains("style="));
        assert!(!markup.contains("NaN"));
    }
}
