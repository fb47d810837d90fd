//! The outside list.

use crate::app::Failure;
use crate::app::records::Ruled;
use crate::app::work::Work;
use crate::domain::outside::OutsideItem;
use crate::domain::words::OutsideState;

impl Ruled for OutsideItem {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        item: &mut Self,
    ) -> Result<(), Failure> {
        if item.limit_days.is_some_and(|days| days < 0) {
            return Err(Failure::field("limit_days", "An exposure limit is a number of days."));
        }
        let ends = item.state != OutsideState::InPlace
            && before.is_some_and(|before| before.state == OutsideState::InPlace);
        if ends && item.ended_on.is_none() {
            item.ended_on = Some(work.today);
        }
        if let (Some(since), Some(ended)) = (item.since, item.ended_on)
            && ended < since
        {
            return Err(Failure::field(
                "ended_on",
                "It came in before it went out; check both days.",
            ));
        }
        Ok(())
    }
}
