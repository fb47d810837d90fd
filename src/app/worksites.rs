//! Worksites, positions and routes.

use crate::Failure;
use crate::records::Ruled;
use crate::work::Work;
use domain::worksites::{Position, Route, Worksite};

impl Ruled for Worksite {}
impl Ruled for Position {}

impl Ruled for Route {
    async fn prepare(
        _work: &mut Work,
        _before: Option<&Self>,
        route: &mut Self,
    ) -> Result<(), Failure> {
        if route.from_site == route.to_site {
            return Err(Failure::field(
                "to_site",
                "A route leads from one worksite to another one.",
            ));
        }
        Ok(())
    }
}
