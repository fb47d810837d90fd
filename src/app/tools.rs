//! Tools: when one comes aboard, breaks or is lost, the tasks that wait for it hear of it.

use crate::app::Failure;
use crate::app::records::Ruled;
use crate::app::work::Work;
use crate::domain::tools::Tool;
use crate::store::reach;

impl Ruled for Tool {
    async fn follow(work: &mut Work, before: Option<&Self>, tool: &Self) -> Result<(), Failure> {
        if before.is_some() {
            for task in reach::tasks_that_use(work.db(), &tool.code.0).await? {
                work.touch(&task);
            }
        }
        Ok(())
    }
}
