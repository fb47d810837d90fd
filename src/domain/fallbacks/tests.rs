//! Fallbacks as a cell holds them.

use proptest::prelude::*;

use super::*;

#[test]
fn fallbacks_are_read_in_their_order() {
    let text = "K-9 from nadir, after 40 min, needed 25 %, when it turns no more, or slips; \
                leave as is,after 1:10,needed 60";
    let all = Fallbacks::read(text).unwrap();
    let [first, last] = &all.0[..] else { panic!("{all:?}") };
    assert_eq!(first.what(), "K-9 from nadir");
    assert_eq!(first.trigger(), "after 40 min, or when it turns no more, or slips");
    assert_eq!(
        (last.approach(), last.after, last.needed),
        (None, Some(Minutes(70)), Some(Share(60)))
    );
    assert_eq!(
        all.show(),
        "K-9 from nadir, after 40 min, needed 25 %, when it turns no more, or slips; \
         leave as is, after 70 min, needed 60 %"
    );
}

#[test]
fn what_is_no_fallback_is_refused_in_words() {
    let five = "K-1, after 1; ".repeat(5);
    for (text, words) in [
        ("K-9 from above, after 40", "“above” is not a side"),
        ("K-9", "after how many minutes"),
        (", after 40", "Choose an approach"),
        ("K-9, after soon", "“soon” is not a time"),
        ("K-9, after 40, needed 120 %", "from 0 to 100"),
        ("K-9, after 40, perhaps", "“perhaps” is no part of a fallback"),
        ("K-9, after 40, after 50", "“after” stands twice"),
        ("K-9, when it slips, needed 20 %", "“after” and “needed” stand before “when”"),
        ("leave as is, after 40; K-9, after 10", "Nothing follows “leave as is”"),
        (&five, "at most 4 fallbacks; there are 5"),
    ] {
        let message = Fallbacks::read(text).unwrap_err();
        assert!(message.contains(words), "{text}: {message}");
    }
    let typed = Typed { approach: "K-9", after: "40", when: "a; b", needed: "x" };
    let wrong: Vec<_> = Fallback::read(typed).unwrap_err().into_iter().map(|w| w.0).collect();
    assert_eq!(wrong, ["needed", "when"]);
}

proptest! {
    #[test]
    fn any_fallbacks_are_read_back(
        all in proptest::collection::vec(
            (
                "[A-Z]{1,3}-[0-9]{1,3}",
                proptest::option::of(0..crate::sides::NAMES.len()),
                proptest::option::of(0..200_i64),
                "[a-z][a-z ·0-9]{0,20}[a-z]",
                proptest::option::of(0..=100_i64),
            ),
            0..=MAX_FALLBACKS,
        ),
        leaves in any::<bool>(),
    ) {
        let mut fallbacks: Vec<Fallback> = all
            .into_iter()
            .map(|(code, side, after, when, needed)| Fallback {
                technique: Some(TechniqueCode::from(code)),
                side: side.map(|at| Side::read(crate::sides::NAMES[at]).unwrap()),
                after: after.map(Minutes),
                when: Some(Line::read(&when).unwrap()),
                needed: needed.map(Share),
            })
            .collect();
        if let Some(last) = fallbacks.last_mut().filter(|_| leaves) {
            (last.technique, last.side) = (None, None);
        }
        let fallbacks = Fallbacks(fallbacks);
        prop_assert_eq!(Fallbacks::read(&fallbacks.show()).unwrap_or_default(), fallbacks);
    }
}
