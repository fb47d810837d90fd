//! The task that brings an item back in, made in one step.

use super::ahead;
use crate::Failure;
use crate::records::{Base, current, save};
use crate::work::Work;
use async_recursion::async_recursion as boxed;
use domain::cells::Cells;
use domain::codes::TaskCode;
use domain::outside::{OutsideItem, back_inside_by};
use domain::records::Record as _;
use domain::tasks::Task;
use domain::words::OutsideState;
use store::standing;

/// The task that brings an item back in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BringBack {
    Made(TaskCode),
    /// One stands already; a second press makes no second task.
    There(TaskCode),
}

/// Makes the task that brings an item back in, as far as the item tells what it is, and links the
/// item to it.
#[boxed]
pub async fn make_task(work: &mut Work, code: &str) -> Result<BringBack, Failure> {
    let mut item = current::<OutsideItem>(work, code).await?;
    if item.state != OutsideState::InPlace {
        return Err(Failure::Refused(format!(
            "{code} is {}; nothing is left to bring back in.",
            item.state
        )));
    }
    if let Some(task) = &item.brought_back_by
        && standing::find(work.db(), task).await?.is_none_or(|row| row.state.is_open_item())
    {
        return Ok(BringBack::There(task.clone()));
    }
    let flights = ahead(work.db()).await?;
    let by = item.runs_out().and_then(|end| back_inside_by(end, &flights));
    let mut cells = Cells::default();
    cells.set("title", title(&item));
    cells.set("worksite", item.worksite.as_ref().map_or("", |site| site.as_str()));
    cells.set("back_inside_by", by.as_ref().map_or("", |flight| flight.as_str()));
    cells.set("notes", notes(&item));
    let task = Task::parse(&cells).map_err(Failure::Invalid)?;
    let task = save(work, task, Base::New).await?.record.code.0;
    item.brought_back_by = Some(task.clone());
    save(work, item, Base::Current).await?;
    Ok(BringBack::Made(task))
}

/// `Bring in the hand line to the boom`.
fn title(item: &OutsideItem) -> String {
    let what = item.what.as_str().trim();
    let has_article = ["the ", "a ", "an "].iter().any(|article| {
        what.get(..article.len()).is_some_and(|start| start.eq_ignore_ascii_case(article))
    });
    let article = if has_article { "" } else { "the " };
    let mut letters = what.chars();
    let first: String = letters.next().map_or_else(String::new, |first| {
        // A name in capitals keeps them.
        let is_word = letters.clone().next().is_none_or(|second| !second.is_uppercase());
        if is_word { first.to_lowercase().collect() } else { first.to_string() }
    });
    format!("Bring in {article}{first}{}", letters.as_str())
}

fn notes(item: &OutsideItem) -> String {
    let left_by = item.left_by.as_ref().map(|attempt| format!("Left by {attempt}."));
    let limit = item.runs_out().map(|end| format!("Its exposure limit ends on {end}."));
    let purpose = item.purpose.as_ref().map(|purpose| format!("It was there for: {purpose}."));
    let all = [Some(format!("Brings in {}.", item.code.0)), left_by, purpose, limit];
    all.into_iter().flatten().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::cells::{Cell as _, Line};

    #[test]
    fn the_title_says_what_is_brought_in() {
        let titled = |what: &str| {
            let cells: Cells = [("code", "O-1"), ("what", what)]
                .map(|(name, text)| (name.to_owned(), text.to_owned()))
                .into_iter()
                .collect();
            title(&OutsideItem::parse(&cells).unwrap())
        };
        assert_eq!(titled("Hand line to the boom"), "Bring in the hand line to the boom");
        assert_eq!(titled("The strap"), "Bring in the strap");
        assert_eq!(titled("MLI flap"), "Bring in the MLI flap");
        assert_eq!(Line::read(&titled("é")).unwrap().as_str(), "Bring in the é");
    }
}
