//! Worksites, positions and routes.

use crate::Failure;
use crate::records::Ruled;
use crate::work::Work;
use domain::worksites::{Position, Route, Worksite};
use store::worksites;

impl Ruled for Worksite {}
impl Ruled for Position {}

impl Ruled for Route {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        route: &mut Self,
    ) -> Result<(), Failure> {
        if route.from_site == route.to_site {
            return Err(Failure::field(
                "to_site",
                "A route leads from one worksite to another one.",
            ));
        }
        let ends = |one: &Self| (one.from_site.clone(), one.to_site.clone(), one.aid.clone());
        if work.creates_missing || before.is_some_and(|before| ends(before) == ends(route)) {
            return Ok(());
        }
        let (from, to) = (&route.from_site, &route.to_site);
        let known = worksites::routes_at(work.db(), from).await?;
        let same = known.iter().find(|known| {
            known.code != route.code
                && known.aid == route.aid
                && [&known.from_site, &known.to_site].contains(&to)
        });
        let Some(same) = same else { return Ok(()) };
        let code = &same.code.0;
        let words = format!(
            "{code} leads from {} to {} already. Change {code}; its minutes back may differ.",
            same.from_site, same.to_site
        );
        Err(Failure::field("to_site", words))
    }
}
