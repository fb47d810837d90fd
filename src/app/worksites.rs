//! Worksites, positions and routes.

use crate::app::Failure;
use crate::app::records::Ruled;
use crate::app::work::Work;
use crate::domain::worksites::{Position, Route, Worksite};

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
