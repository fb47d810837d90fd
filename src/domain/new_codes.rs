//! The code of a new record: what it may not be, what it could be taken for, and which one comes
//! next in a team's own pattern.

use unicode_security::MixedScript as _;

/// Parts of addresses that stand where a code stands. A record of that code could not be opened.
const OF_ADDRESSES: &[&str] =
    &["causes", "figures", "get-ahead", "new", "put-back", "settle", "suits"];

/// Whether this is a fixed part of an address.
pub fn is_of_an_address(code: &str) -> bool {
    OF_ADDRESSES.iter().any(|part| part.eq_ignore_ascii_case(code))
}

/// Why this cannot be the code of a new record, whatever others there are.
pub fn refusal(code: &str) -> Option<String> {
    if is_of_an_address(code) {
        return Some(format!(
            "“{code}” is part of an address here, so the record could not be opened. Choose \
             another code."
        ));
    }
    // Source: Unicode Technical Standard #39, Unicode Security Mechanisms, section 5.1
    // (mixed-script detection), 2024.
    if !code.is_single_script() {
        return Some(format!(
            "“{code}” mixes letters of different scripts, so it could be taken for another. Type it \
             in one script."
        ));
    }
    None
}

/// What a code looks like: two codes of one kind that share any of these could be taken for each
/// other. The first is its shape, the second is without its case.
// Source: Unicode Technical Standard #39, Unicode Security Mechanisms, section 4 (confusable
// detection, skeleton), 2024.
pub fn looks(code: &str) -> [String; 2] {
    let shape: String = unicode_security::skeleton(code).collect();
    [format!("shape {shape}"), format!("case {}", code.to_lowercase())]
}

/// Why a new code cannot stand beside one that it could be taken for.
pub fn too_like(code: &str, there: &str) -> String {
    format!("“{code}” could be taken for {there}, which exists. Choose another code.")
}

/// A code in two parts: what stands before its last number, and that number as it is written.
fn parts(code: &str) -> Option<(&str, &str)> {
    let digits = code.bytes().rev().take_while(u8::is_ascii_digit).count();
    (1..=9).contains(&digits).then(|| code.split_at(code.len() - digits))
}

/// The last number in a code.
pub fn last_number(code: &str) -> Option<i64> {
    parts(code)?.1.parse().ok()
}

/// The next code in the pattern that most of these follow: the same start, and the number after
/// the highest.
pub fn following<'c>(codes: impl IntoIterator<Item = &'c str>) -> Option<String> {
    // Start, how many codes begin so, the highest number and how many digits it is written with.
    let mut patterns: Vec<(&str, usize, i64, usize)> = Vec::new();
    for (start, digits) in codes.into_iter().filter_map(parts) {
        let Ok(number) = digits.parse::<i64>() else { continue };
        match patterns.iter_mut().find(|pattern| pattern.0 == start) {
            Some((_, count, highest, width)) => {
                *count += 1;
                if number > *highest {
                    (*highest, *width) = (number, digits.len());
                }
            }
            None => patterns.push((start, 1, number, digits.len())),
        }
    }
    let (start, _, highest, width) =
        patterns.into_iter().max_by_key(|(_, count, highest, _)| (*count, *highest))?;
    Some(format!("{start}{:0width$}", highest + 1))
}

/// The code of the first excursion of a flight, in the pattern of other flights' excursions; the
/// first of these whose code holds the number of its flight shows the pattern.
pub fn first_of_flight<'c>(
    flight: &str,
    others: impl IntoIterator<Item = (&'c str, &'c str)>,
) -> String {
    let number = parts(flight).map(|(_, digits)| digits);
    let alike = others.into_iter().find_map(|(of, code)| {
        let (_, its_number) = parts(of)?;
        let (start, _) = parts(code)?;
        let (before, after) = start.rsplit_once(its_number)?;
        Some(format!("{before}{}{after}1", number?))
    });
    alike.unwrap_or_else(|| format!("E-{}.1", number.unwrap_or(flight)))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn codes_that_could_be_taken_for_each_other_share_a_look() {
        let share = |a: &str, b: &str| looks(a).iter().any(|look| looks(b).contains(look));
        for (a, b) in [
            ("T-0142", "t-0142"),
            ("T-0142", "T-O142"),
            ("W-KEEL1", "W-KEELl"),
            // Source: Unicode Technical Standard #39, data file confusables.txt: CYRILLIC CAPITAL
            // LETTER TE and GREEK CAPITAL LETTER ALPHA, 2024.
            ("T-0142", "\u{422}-0142"),
            ("A-1", "\u{391}-1"),
            ("Ж-4", "ж-4"),
        ] {
            assert!(share(a, b), "{a} and {b}");
        }
        for (a, b) in [("T-0142", "T-0143"), ("E-1.11", "E-1.1"), ("W-AL", "W-A1")] {
            assert!(!share(a, b), "{a} and {b}");
        }
    }

    /// The migration that began to keep looks wrote those of the codes that were there.
    #[test]
    fn the_schema_gives_codes_of_ascii_the_same_shape() {
        let in_sql = |text: &str| {
            let pairs = [("0", "O"), ("1", "l"), ("I", "l"), ("|", "l"), ("m", "rn"), ("`", "'")];
            pairs.iter().fold(text.to_owned(), |text, (from, to)| text.replace(from, to))
        };
        for letter in (b' '..=b'~').map(char::from).filter(|c| !",;?#%\\\"<>".contains(*c)) {
            let code = format!("a{letter}b");
            assert_eq!(looks(&code)[0], format!("shape {}", in_sql(&code)), "{letter}");
        }
    }

    #[test]
    fn a_code_of_two_scripts_or_of_an_address_is_refused() {
        for code in ["T-0142", "Ж-4", "Lander 3 / Depot-2", "艙-2"] {
            assert_eq!(refusal(code), None, "{code}");
        }
        // A Cyrillic ЕС between Latin letters.
        assert!(refusal("W-K\u{415}\u{415}L").unwrap().contains("scripts"));
        for code in ["causes", "get-ahead", "Settle", "put-back", "suits"] {
            assert!(refusal(code).unwrap().contains("part of an address"), "{code}");
        }
    }

    #[test]
    fn the_next_code_follows_the_pattern_of_most() {
        for (codes, next) in [
            (&["E-39.1", "E-39.2"][..], Some("E-39.3")),
            (&["T-0009", "T-0010", "X-7"], Some("T-0011")),
            (&["G-39", "G-38", "flight unknown"], Some("G-40")),
            (&["EVA 9"], Some("EVA 10")),
            (&["99"], Some("100")),
            (&["alpha"], None),
            (&["T-12345678901234567890"], None),
            (&[], None),
        ] {
            assert_eq!(following(codes.iter().copied()).as_deref(), next, "{codes:?}");
        }
    }

    #[test]
    fn the_first_excursion_of_a_flight_follows_the_pattern_of_other_flights() {
        assert_eq!(first_of_flight("G-40", [("G-39", "E-39.2")]), "E-40.1");
        assert_eq!(first_of_flight("M7", [("M6", "M6-EVA 3")]), "M7-EVA 1");
        assert_eq!(first_of_flight("G-40", [("G-39", "walk 2")]), "E-40.1");
        assert_eq!(first_of_flight("Depot", []), "E-Depot.1");
    }

    proptest! {
        #[test]
        fn the_next_code_is_never_one_of_those_there(
            codes in prop::collection::vec("[A-C]-[0-9]{1,3}", 1..20)
        ) {
            let next = following(codes.iter().map(String::as_str)).unwrap();
            prop_assert!(!codes.contains(&next), "{next} of {codes:?}");
        }
    }
}
