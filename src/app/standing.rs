//! Derives what is stored of a task's standing.

use crate::app::Failure;
use crate::app::work::Work;

pub(crate) async fn derive(_work: &mut Work) -> Result<(), Failure> {
    Ok(())
}
