//! How alike two attempts are, so that a lesson of another family is found by somebody who does
//! not know that it exists.

use std::collections::BTreeSet;

use crate::codes::{CauseCode, FamilyCode, TechniqueCode, ToolCode};
use crate::repeat_guard::UnitKey;
use crate::sides::Side;

/// What each likeness weighs. Words weigh most, since a cause is chosen from a short list and the
/// same trouble is often filed under two kinds.
// common practice: chosen by reading lists of the demo and of a public table, not fitted.
mod weight {
    pub(super) const SAME_CAUSE: f64 = 3.0;
    /// Another kind of the same group.
    pub(super) const SAME_GROUP: f64 = 1.0;
    pub(super) const SAME_TECHNIQUE: f64 = 1.5;
    pub(super) const SAME_SIDE: f64 = 0.75;
    /// Times the share of tools that both used.
    pub(super) const TOOLS: f64 = 1.5;
    /// Times the root of the share that the index ranks the words at: two short texts that share a
    /// third of what matters are much alike already.
    pub(super) const WORDS: f64 = 5.0;
    /// The own family is read under “sisters” anyway.
    pub(super) const ANOTHER_FAMILY: f64 = 0.5;
}

/// Less alike than this is not shown.
const LEAST: f64 = 1.5;

/// By what an attempt is compared.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Traits {
    pub cause: Option<CauseCode>,
    pub cause_group: Option<String>,
    pub technique: Option<TechniqueCode>,
    pub side: Option<Side>,
    pub tools: BTreeSet<ToolCode>,
    pub family: Option<FamilyCode>,
    /// As `telling_words` makes them.
    pub words: BTreeSet<String>,
}

/// How near two causes are.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Nearness {
    SameKind,
    /// Another kind of the same group.
    SameGroup,
    #[default]
    Apart,
}

/// What two attempts share, and how much that comes to.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Likeness {
    pub score: f64,
    pub cause: Nearness,
    pub same_technique: bool,
    pub same_side: bool,
    pub tools: Vec<ToolCode>,
    /// The rarest first.
    pub words: Vec<String>,
    /// What the index ranks the words at, those of its task, its findings and its remedies among
    /// them: a share of the best rank.
    pub ranked: f64,
    pub another_family: bool,
}

/// Compares two attempts. `asked` are the words that the index was asked for, the rarest first; `ranked` is
/// the rank of the other's words by the index, as a share of the best rank, nothing where the index did not
/// find it. `None`: they have too little in common.
pub fn likeness(one: &Traits, other: &Traits, asked: &[String], ranked: f64) -> Option<Likeness> {
    let tools: Vec<ToolCode> = one.tools.intersection(&other.tools).cloned().collect();
    let either = one.tools.union(&other.tools).count();
    let shared = |word: &&String| ranked > 0.0 && other.words.contains(*word);
    let mut likeness = Likeness {
        score: 0.0,
        cause: nearness(one, other),
        same_technique: same(one.technique.as_ref(), other.technique.as_ref()),
        same_side: same(one.side.as_ref(), other.side.as_ref()),
        words: asked.iter().filter(shared).cloned().collect(),
        ranked,
        another_family: one.family != other.family,
        tools,
    };
    let mut score = match likeness.cause {
        Nearness::SameKind => weight::SAME_CAUSE,
        Nearness::SameGroup => weight::SAME_GROUP,
        Nearness::Apart => 0.0,
    };
    if likeness.same_technique {
        score += weight::SAME_TECHNIQUE;
    }
    if likeness.same_side {
        score += weight::SAME_SIDE;
    }
    if either > 0 {
        score += weight::TOOLS * count(likeness.tools.len()) / count(either);
    }
    score += weight::WORDS * ranked.clamp(0.0, 1.0).sqrt();
    // To be of another family is no likeness by itself.
    if score < LEAST {
        return None;
    }
    if likeness.another_family {
        score += weight::ANOTHER_FAMILY;
    }
    likeness.score = score;
    Some(likeness)
}

impl Likeness {
    /// `same kind of cause, same side; words: pin, seized`
    pub fn why(&self) -> String {
        const NAMED: usize = 5;
        let mut parts = Vec::new();
        match self.cause {
            Nearness::SameKind => parts.push("same kind of cause".to_owned()),
            Nearness::SameGroup => parts.push("same group of causes".to_owned()),
            Nearness::Apart => {}
        }
        if self.same_technique {
            parts.push("same technique".to_owned());
        }
        if self.same_side {
            parts.push("same side".to_owned());
        }
        match self.tools.as_slice() {
            [] => {}
            [one] => parts.push(format!("same tool {one}")),
            several => {
                let named: Vec<&str> = several.iter().take(NAMED).map(ToolCode::as_str).collect();
                parts.push(format!("same tools {}", named.join(", ")));
            }
        }
        if self.ranked > 0.0 && self.words.is_empty() {
            parts.push("words of its task or of what was found about it".to_owned());
        }
        let alike = parts.join(", ");
        if self.words.is_empty() {
            return alike;
        }
        let words: Vec<&str> = self.words.iter().take(NAMED).map(String::as_str).collect();
        let words = format!("words: {}", words.join(", "));
        if alike.is_empty() { words } else { format!("{alike}; {words}") }
    }
}

/// Whether an attempt was made on one of these units: its own tries are read on its own page.
pub fn is_of_the_same_unit(tried: &UnitKey, own: &[UnitKey]) -> bool {
    fn same_of<T: PartialEq>(one: Option<&T>, other: Option<&T>) -> bool {
        one.zip(other).is_some_and(|(one, other)| one == other)
    }
    own.iter().any(|unit| {
        unit.task == tried.task
            || same_of(unit.unit.as_ref(), tried.unit.as_ref())
            || same_of(unit.position.as_ref(), tried.position.as_ref())
    })
}

/// A word that more records hold than this tells nothing: a twelfth of all, at least 20, and no more than
/// an index can rank while a page waits.
pub fn too_common(records: i64) -> i64 {
    (records / 12).clamp(20, 2_000)
}

/// Words that stand in any text, or in any report of work, and tell nothing of it.
// common practice: the function words of English.
const EMPTY: &[&str] = &[
    "about", "after", "again", "against", "all", "and", "any", "are", "around", "back", "because",
    "been", "before", "being", "below", "both", "but", "came", "come", "could", "did", "does",
    "down", "each", "ended", "failed", "first", "for", "found", "from", "had", "half", "has",
    "have", "here", "him", "his", "how", "into", "its", "just", "last", "left", "less", "like",
    "made", "more", "most", "much", "near", "never", "next", "none", "nor", "not", "nothing",
    "now", "off", "once", "one", "only", "other", "out", "over", "own", "same", "second", "she",
    "should", "since", "some", "still", "such", "than", "that", "the", "their", "them", "then",
    "there", "they", "third", "this", "three", "through", "too", "took", "two", "under", "until",
    "was", "went", "were", "what", "when", "where", "which", "while", "who", "will", "with",
    "without", "work", "worked", "would", "you",
];

/// The words of a text that tell what it is about: small letters, plurals folded into their singulars,
/// function words and short numbers left out. The index does not fold; see `spellings`.
pub fn telling_words(text: &str) -> BTreeSet<String> {
    text.split(|c: char| !c.is_alphanumeric())
        .map(str::to_lowercase)
        .filter(|word| word.chars().count() >= 3 && !EMPTY.contains(&word.as_str()))
        .map(|word| folded(&word).to_owned())
        .collect()
}

/// The ways in which the index may hold a telling word.
pub fn spellings(word: &str) -> [String; 2] {
    [word.to_owned(), format!("{word}s")]
}

/// `pins` as `pin`; `glass` and `bus` stay.
fn folded(word: &str) -> &str {
    match word.strip_suffix('s') {
        Some(singular) if singular.chars().count() >= 3 && !singular.ends_with(['s', 'u', 'i']) => {
            singular
        }
        _ => word,
    }
}

/// Of words with the number of records that hold each, those to ask the index for: the rarest, as long as
/// no more than `most` records have to be ranked. A word that nothing holds is not asked for.
pub fn worth_asking(mut counted: Vec<(String, i64)>, most: i64) -> Vec<String> {
    const WORDS: usize = 24;
    counted.retain(|(_, records)| *records > 0);
    counted.sort_by(|a, b| (a.1, &a.0).cmp(&(b.1, &b.0)));
    let mut sum = 0;
    counted
        .into_iter()
        .take(WORDS)
        .take_while(|(_, records)| {
            sum += records;
            sum <= most
        })
        .map(|(word, _)| word)
        .collect()
}

fn nearness(one: &Traits, other: &Traits) -> Nearness {
    if same(one.cause.as_ref(), other.cause.as_ref()) {
        Nearness::SameKind
    } else if same(one.cause_group.as_ref(), other.cause_group.as_ref()) {
        Nearness::SameGroup
    } else {
        Nearness::Apart
    }
}

fn same<T: PartialEq>(one: Option<&T>, other: Option<&T>) -> bool {
    one.zip(other).is_some_and(|(one, other)| one == other)
}

/// Tools of a technique are few.
fn count(length: usize) -> f64 {
    f64::from(u32::try_from(length).unwrap_or(u32::MAX))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cells::Cell as _;

    fn traits() -> Traits {
        Traits {
            cause: Some("4".into()),
            cause_group: Some("fasteners".into()),
            technique: Some("K-1".into()),
            side: Side::read("aft").ok(),
            tools: ["L-1".into(), "L-2".into()].into(),
            family: Some("F-1".into()),
            words: telling_words("the pin is seized"),
        }
    }

    fn score(other: &Traits, ranked: f64) -> f64 {
        likeness(&traits(), other, &[], ranked).map_or(0.0, |likeness| likeness.score)
    }

    #[test]
    fn nothing_in_common_is_not_alike_whatever_the_family() {
        assert_eq!(likeness(&traits(), &Traits::default(), &[], 0.0), None);
        let side_alone = Traits { side: Side::read("aft").ok(), ..Traits::default() };
        assert_eq!(likeness(&traits(), &side_alone, &[], 0.0), None, "a side alone tells nothing");
    }

    #[test]
    fn each_likeness_counts() {
        let cause = Traits { cause: Some("4".into()), ..Traits::default() };
        let with_side = Traits { side: Side::read("aft").ok(), ..cause.clone() };
        let with_tool = Traits { tools: ["L-2".into()].into(), ..with_side.clone() };
        let with_technique = Traits { technique: Some("K-1".into()), ..with_tool.clone() };
        let rising =
            [&cause, &with_side, &with_tool, &with_technique].map(|other| score(other, 0.0));
        assert!(rising.windows(2).all(|pair| pair[0] < pair[1]), "{rising:?}");
        assert!(score(&with_technique, 0.4) > score(&with_technique, 0.1));
        let group = Traits {
            cause: Some("5".into()),
            cause_group: Some("fasteners".into()),
            ..with_side.clone()
        };
        assert!(score(&group, 0.0) < score(&with_side, 0.0), "the kind says more than its group");
    }

    #[test]
    fn another_family_comes_before_the_own_where_all_else_is_equal() {
        let other = Traits { family: Some("F-2".into()), ..traits() };
        assert!(score(&other, 0.2) > score(&traits(), 0.2));
    }

    #[test]
    fn the_same_words_outweigh_the_same_kind_of_cause_alone() {
        let by_cause = Traits { cause: Some("4".into()), ..Traits::default() };
        assert!(score(&Traits::default(), 0.9) > score(&by_cause, 0.0));
    }

    #[test]
    fn why_is_said_in_words() {
        let other = Traits { words: telling_words("seized pins"), ..traits() };
        let asked = ["seized".to_owned(), "jam".to_owned(), "pin".to_owned()];
        let alike = likeness(&traits(), &other, &asked, 0.5).unwrap();
        assert_eq!(
            alike.why(),
            "same kind of cause, same technique, same side, same tools L-1, L-2; words: seized, pin"
        );
        let not_ranked = likeness(&traits(), &other, &asked, 0.0).unwrap();
        assert!(!not_ranked.why().contains("words"), "the index did not find them");
        let silent = likeness(&traits(), &Traits::default(), &asked, 0.5).unwrap();
        assert_eq!(silent.why(), "words of its task or of what was found about it");
    }

    #[test]
    fn telling_words_are_folded_and_empty_ones_left_out() {
        let words: Vec<String> =
            telling_words("The bolts, bolt 3 of PP 003: glass and radius; it would not turn!")
                .into_iter()
                .collect();
        assert_eq!(words, ["003", "bolt", "glass", "radius", "turn"]);
        assert_eq!(spellings("bolt"), ["bolt", "bolts"]);
    }

    #[test]
    fn what_is_common_grows_with_the_record_within_bounds() {
        assert_eq!([60, 600, 1_200_000].map(too_common), [20, 50, 2_000]);
    }

    #[test]
    fn the_rarest_words_are_asked_for_within_a_bound() {
        let counted = |all: &[(&str, i64)]| {
            all.iter().map(|(word, count)| ((*word).to_owned(), *count)).collect::<Vec<_>>()
        };
        let words = counted(&[("bolt", 900), ("galled", 3), ("unheard", 0), ("pin", 120)]);
        assert_eq!(worth_asking(words.clone(), 1_000), ["galled", "pin"]);
        assert_eq!(worth_asking(words, 2_000), ["galled", "pin", "bolt"]);
    }

    #[test]
    fn the_same_unit_is_known_by_task_by_unit_or_by_place() {
        let key = |task: &str, unit: Option<&str>, position: Option<&str>| UnitKey {
            task: task.into(),
            unit: unit.map(Into::into),
            position: position.map(Into::into),
        };
        let own = [key("T-1", Some("U-1"), Some("P-1"))];
        assert!(is_of_the_same_unit(&key("T-1", None, None), &own));
        assert!(is_of_the_same_unit(&key("T-2", Some("U-1"), Some("P-9")), &own));
        assert!(is_of_the_same_unit(&key("T-2", None, Some("P-1")), &own));
        assert!(!is_of_the_same_unit(&key("T-2", Some("U-2"), Some("P-2")), &own));
        assert!(!is_of_the_same_unit(&key("T-2", None, None), &own), "unknown is not equal");
    }
}
