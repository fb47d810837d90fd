//! What the worksite map shows of the outside list.

use crate::drawings::worksite_map::{MapAid, MapSite, MapWay};
use domain::outside::OutsideItem;
use domain::worksites::{Route, Worksite};

pub(crate) fn map_sites(sites: &[Worksite], here: &[&OutsideItem]) -> Vec<MapSite> {
    sites
        .iter()
        .map(|site| MapSite {
            code: site.code.0.to_string(),
            name: site.name.as_ref().map_or_else(String::new, |name| name.as_str().to_owned()),
            place: site.map_x.zip(site.map_y).map(|(x, y)| (x.0, y.0)),
            outside: here
                .iter()
                .filter(|item| item.worksite.as_ref() == Some(&site.code.0))
                .map(|item| item.code.0.to_string())
                .collect(),
            open_items: 0,
            marked: false,
        })
        .collect()
}

pub(crate) fn map_ways(routes: &[Route], here: &[&OutsideItem]) -> Vec<MapWay> {
    routes
        .iter()
        .map(|route| MapWay {
            from: route.from_site.to_string(),
            to: route.to_site.to_string(),
            minutes: route.minutes.0,
            minutes_back: route.minutes_back.map(|minutes| minutes.0),
            aid: route.aid.as_ref().map(|aid| MapAid {
                code: aid.to_string(),
                in_place: here.iter().any(|item| item.code.0 == *aid),
            }),
            marked: false,
        })
        .collect()
}
