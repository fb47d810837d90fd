//! The search over everything that anybody wrote down.

use async_recursion::async_recursion as boxed;
use std::collections::HashMap;

use sqlx::SqliteConnection;

use crate::Failure;
use domain::bounds::refuses_search;
use domain::excerpt::{Sought, excerpt, marked};
use domain::kinds::Kind;
use domain::spelling::{MIN_LETTERS, one_letter_away};
use store::search::{self, FoundIn, FoundRecord, RANKED};
use store::words::{SearchWord, everywhere};

/// Finds on one page.
pub const PAGE: i64 = 30;
/// So many spellings stand in for one typed word.
const SPELLINGS: i64 = 3;
/// Of a find so many words are shown.
const SHOWN_WORDS: usize = 32;

/// What the search is narrowed to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SearchScope {
    Everything,
    Tasks,
    Tries,
    Findings,
    Library,
    Excursions,
}

impl SearchScope {
    pub const ALL: [Self; 6] = [
        Self::Everything,
        Self::Tasks,
        Self::Tries,
        Self::Findings,
        Self::Library,
        Self::Excursions,
    ];

    /// The word for it in an address.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Everything => "",
            Self::Tasks => "tasks",
            Self::Tries => "attempts",
            Self::Findings => "findings",
            Self::Library => "library",
            Self::Excursions => "excursions",
        }
    }

    pub fn named(word: &str) -> Self {
        Self::ALL.into_iter().find(|among| among.word() == word).unwrap_or(Self::Everything)
    }

    const fn kinds(self) -> &'static [Kind] {
        match self {
            Self::Everything => &[],
            Self::Tasks => &[Kind::Task],
            Self::Tries => &[Kind::Attempt, Kind::Deferral],
            Self::Findings => &[Kind::Finding, Kind::Remedy, Kind::Exemption],
            Self::Library => &[
                Kind::Technique,
                Kind::Tool,
                Kind::Revision,
                Kind::Rehearsal,
                Kind::Worksite,
                Kind::Family,
                Kind::Position,
            ],
            Self::Excursions => &[Kind::Flight, Kind::Excursion],
        }
    }
}

/// A page of what was found.
#[derive(Debug, Default)]
pub struct SearchResults {
    /// Title and words are marked; of long words a part is shown.
    pub finds: Vec<(FoundRecord, Option<FoundIn>)>,
    /// How many there are; one more than [`RANKED`] where there are more than that.
    pub total: i64,
    /// Typed words that nothing holds, each with the spellings that stand in for it.
    pub spelled: Vec<(String, Vec<String>)>,
}

impl SearchResults {
    /// Too many to be ranked: the newest come first.
    pub fn is_newest_first(&self) -> bool {
        self.total > RANKED
    }
}

/// Looks for every typed word. A word that nothing holds is looked for with one letter changed.
#[boxed]
pub async fn search(
    db: &mut SqliteConnection,
    typed: &str,
    among: SearchScope,
    page: i64,
) -> Result<SearchResults, Failure> {
    if let Some(why) = refuses_search(typed) {
        return Err(Failure::field("q", why));
    }
    let (wanted, spelled) = spelled(db, typed).await?;
    let Some(asked) = everywhere(&wanted, among.kinds()) else {
        return Ok(SearchResults::default());
    };
    let (entries, total) = page_of(db, &asked, page).await?;
    let finds = search::named(db, &entries).await?;
    let sought = sought(&wanted);
    let codes: Vec<&str> = finds.iter().map(|find| find.code.as_str()).collect();
    let mut belongings: HashMap<String, FoundIn> = search::belongings(db, &codes)
        .await?
        .into_iter()
        .map(|belongs| (belongs.code.clone(), belongs))
        .collect();
    let finds = finds
        .into_iter()
        .map(|find| {
            let belongs = belongings.remove(&find.code);
            let title = marked(&find.title, &sought);
            let words = excerpt(&find.words, &sought, SHOWN_WORDS);
            (FoundRecord { title, words, ..find }, belongs)
        })
        .collect();
    Ok(SearchResults { finds, total, spelled })
}

/// The numbers of the records on a page, and how many match.
async fn page_of(
    db: &mut SqliteConnection,
    asked: &str,
    page: i64,
) -> Result<(Vec<i64>, i64), Failure> {
    let offset = (page - 1) * PAGE;
    let total = search::count(db, asked).await?;
    if total > RANKED {
        return Ok((search::newest(db, asked, offset, PAGE).await?, total));
    }
    let mut scored = search::scored(db, asked).await?;
    // Of equals the newest comes first.
    scored.sort_by(|a, b| a.score.total_cmp(&b.score).then(b.entry.cmp(&a.entry)));
    let (skipped, shown) = (usize::try_from(offset), usize::try_from(PAGE));
    let entries = scored.iter().skip(skipped.unwrap_or(0)).take(shown.unwrap_or(0));
    Ok((entries.map(|scored| scored.entry).collect(), total))
}

async fn spelled(
    db: &mut SqliteConnection,
    typed: &str,
) -> Result<(Vec<SearchWord>, Vec<(String, Vec<String>)>), Failure> {
    let words: Vec<String> = typed
        .split_whitespace()
        .filter(|word| word.chars().any(char::is_alphanumeric))
        .map(str::to_lowercase)
        .collect();
    let parts: Vec<String> = words.iter().flat_map(|word| parts_of(word)).collect();
    let known = search::known(db, &parts).await?;
    let (mut wanted, mut spelled) = (Vec::new(), Vec::new());
    // A word with a hyphen stays whole, unless one of its parts is in no text: that one is forgiven.
    let words = words.into_iter().flat_map(|word| {
        let parts = parts_of(&word);
        let unknown = parts.iter().any(|part| !known.contains(part));
        let has_digit = word.chars().any(|c| c.is_ascii_digit());
        if parts.len() > 1 && unknown && !has_digit { parts } else { vec![word] }
    });
    for word in words {
        let is_plain =
            word.chars().all(char::is_alphanumeric) && word.chars().count() >= MIN_LETTERS;
        if is_plain && !known.contains(&word) {
            let near = one_letter_away(&word);
            let held = search::held(db, near.iter().map(String::as_str), SPELLINGS).await?;
            if !held.is_empty() {
                spelled.push((word, held.clone()));
                wanted.push(SearchWord::OneOf(held));
                continue;
            }
        }
        wanted.push(SearchWord::Typed(word));
    }
    Ok((wanted, spelled))
}

fn sought(wanted: &[SearchWord]) -> Vec<Sought> {
    wanted
        .iter()
        .flat_map(|wanted| match wanted {
            SearchWord::Typed(word) => vec![Sought::typed(word)],
            SearchWord::OneOf(words) => words.iter().map(|word| Sought::whole(word)).collect(),
        })
        .collect()
}

/// `half` and `seated` of `half-seated`.
fn parts_of(word: &str) -> Vec<String> {
    word.split(|c: char| !c.is_alphanumeric())
        .filter(|part| !part.is_empty())
        .map(str::to_owned)
        .collect()
}
