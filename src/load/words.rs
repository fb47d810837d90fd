//! Words for a made-up record: sentences of any length about nothing in particular.

use rand::{Rng, RngExt as _};

const WHAT: [&str; 24] = [
    "strap",
    "latch",
    "cover",
    "cable",
    "bracket",
    "clamp",
    "fitting",
    "hinge",
    "plate",
    "filter",
    "sensor",
    "connector",
    "bolt",
    "cap",
    "blanket",
    "guide",
    "seal",
    "tray",
    "boom",
    "socket",
    "pin",
    "panel",
    "hose",
    "lever",
];
const WHERE: [&str; 12] = [
    "on the upper edge",
    "behind the frame",
    "by the handrail",
    "under the cover",
    "at the far end",
    "near the corner",
    "in the second row",
    "beside the vent",
    "over the joint",
    "at the root",
    "on the shaded face",
    "between the ribs",
];
const DID: [&str; 20] = [
    "would not turn",
    "came loose",
    "stood proud",
    "was stiff",
    "sat deeper than drawn",
    "slipped twice",
    "did not click",
    "was left half seated",
    "moved freely",
    "hid its mark",
    "rubbed on the edge",
    "needed both hands",
    "took longer than planned",
    "was bent",
    "was not in reach",
    "held at first",
    "was covered with dust",
    "did not line up",
    "went in at the third try",
    "was tied down",
];
const THEN: [&str; 12] = [
    "so it was put off",
    "and was photographed",
    "and nothing was forced",
    "so the next item was begun",
    "and the count was taken again",
    "and it was taped over",
    "so the ground was asked",
    "and was marked",
    "so the tool was changed",
    "and was left as found",
    "and the tether stayed",
    "so the step was ended",
];

pub(super) fn one<'a>(list: &[&'a str], chance: &mut impl Rng) -> &'a str {
    list[chance.random_range(0..list.len())]
}

/// Two to five words.
pub(super) fn title(number: usize, chance: &mut impl Rng) -> String {
    let verb = one(&["Swap", "Tie down", "Inspect", "Free", "Close", "Replace", "Clean"], chance);
    let (what, place) = (one(&WHAT, chance), one(&WHERE, chance));
    format!("{verb} the {what} {number} {place}")
}

/// None to many sentences; most texts are short, a few are long.
pub(super) fn prose(chance: &mut impl Rng) -> String {
    let long: f64 = chance.random();
    let sentences = match long {
        ..0.25 => 0,
        ..0.70 => 1,
        ..0.95 => 3,
        _ => chance.random_range(5..25),
    };
    let mut text = String::new();
    for _ in 0..sentences {
        let (what, place, did) = (one(&WHAT, chance), one(&WHERE, chance), one(&DID, chance));
        let (then, number) = (one(&THEN, chance), chance.random_range(1..999));
        let number = number.to_string();
        text.extend(["The ", what, " ", &number, " ", place, " ", did, ", ", then, ". "]);
    }
    text.truncate(text.trim_end().len());
    text
}
