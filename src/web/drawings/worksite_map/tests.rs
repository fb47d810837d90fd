use super::*;
use crate::drawings::seen::Seen;

fn site(code: &str, place: Option<(f64, f64)>) -> MapSite {
    let outside = Vec::new();
    MapSite { code: code.into(), name: String::new(), place, outside, open_items: 0, marked: false }
}

fn way(from: &str, to: &str, aid: Option<MapAid>) -> MapWay {
    MapWay { from: from.into(), to: to.into(), minutes: 9, minutes_back: None, aid, marked: false }
}

#[test]
fn worksites_stand_where_the_record_places_them() {
    let sites = [site("W-A", Some((0.0, 0.0))), site("W-B", Some((100.0, 50.0)))];
    let drawing = draw(&sites, &[way("W-A", "W-B", None)], "m");
    assert!(drawing.as_str().contains("<path class=\"way\" d=\"M90 60L1030 300\"/>"));
    // Half way is 560, 180; the figure stands beside the line there.
    let seen = Seen::of(drawing.as_str());
    let at = seen.label("9 min").at;
    assert!((at.0 - 560.0).abs() < 20.0 && (at.1 - 180.0).abs() < 20.0, "{at:?}");
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
    assert!(markup.contains("W-&lt;A&gt;") && markup.contains("outside: O-1"));
    assert!(!markup.contains("class=\"way\"") && !markup.contains("style="));
    assert!(!markup.contains("NaN"));
}

#[test]
fn what_the_page_is_about_is_marked_in_shape_and_words() {
    let sites = [site("W-A", Some((0.0, 0.0))), site("W-B", Some((100.0, 50.0)))];
    let plain = draw(&sites, &[way("W-A", "W-B", None)], "m");
    assert!(!plain.as_str().contains("mark\"") && !plain.as_str().contains("Marked"));

    let mut here = sites;
    here[0].marked = true;
    let mut needs = way("W-A", "W-B", None);
    needs.marked = true;
    let drawing = draw(&here, &[needs], "m");
    let markup = drawing.as_str();
    assert!(markup.contains("class=\"way-mark\" d=\"M90 60L1030 300\""), "{markup}");
    assert!(markup.contains("class=\"site-mark\""));
    assert!(markup.contains("Marked: the route from W-A to W-B, 9 min. Marked: the worksite W-A."));
    assert!(markup.find("way-mark").unwrap() < markup.find("class=\"way\"").unwrap());
}

#[test]
fn on_a_crowded_map_no_label_lies_on_another_and_what_is_left_out_is_counted() {
    let sites: Vec<MapSite> = (0..40)
        .map(|n| {
            let at = (f64::from(n * 37 % 101), f64::from(n * 61 % 97));
            MapSite { open_items: 30, ..site(&format!("W-{n}"), Some(at)) }
        })
        .collect();
    let ways: Vec<MapWay> = (0..40)
        .flat_map(|n| [7, 13].map(|step| (n, (n + step) % 40)))
        .map(|(from, to)| way(&format!("W-{from}"), &format!("W-{to}"), None))
        .collect();
    let drawing = by_open_work(&sites, &ways, "m");
    assert_eq!(Seen::of(drawing.as_str()).unreadable(), Vec::<String>::new());
    let figures = drawing.as_str().matches(">9 min<").count();
    assert!(figures > 0 && figures < ways.len(), "{figures}");
    let left_out = format!("{} routes have no room", ways.len() - figures);
    assert!(drawing.as_str().contains(&left_out), "{left_out}");
}
