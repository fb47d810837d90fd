use proptest::prelude::*;

use super::*;

fn day(text: &str) -> String {
    read_day(text, false).unwrap_or_else(|message| panic!("{message}")).to_string()
}

#[test]
fn plain_days_are_read_as_everywhere_else() {
    assert_eq!(day("1980-07-16"), "1980-07-16");
    assert_eq!(day("07/16/1980"), "1980-07-16");
    assert_eq!(day(" 7/6/1980 "), "1980-07-06");
    assert_eq!(day("1980-198"), "1980-07-16");
}

#[test]
fn a_midnight_behind_the_day_says_nothing() {
    for text in [
        "1980-07-16T00:00:00.000",
        "1980-07-16 00:00",
        "07/16/1980 0:00:00",
        "1980-07-16T00:00:00Z",
    ] {
        assert_eq!(day(text), "1980-07-16", "{text}");
    }
    assert!(read_day("1980-07-16 14:20", false).is_err());
}

#[test]
fn days_in_words_are_read() {
    for text in [
        "Jul 16, 1980",
        "JULY 16 1980",
        "july 16th, 1980",
        "16 July 1980",
        "16. Jul. 1980",
        "16th of July, 1980",
        "16-Jul-1980",
        "16-jul-1980",
        "1980 July 16",
        "1980-Jul-16",
        "Wed, Jul 16, 1980",
        "Wednesday 16 July 1980",
        "Jul\u{a0}16,\u{a0}1980",
    ] {
        assert_eq!(day(text), "1980-07-16", "{text}");
    }
    assert_eq!(day("Sept 3, 1966"), "1966-09-03");
    assert_eq!(day("May 25 1973"), "1973-05-25");
}

const RANGES: [(&str, &str); 18] = [
    ("Jul 16-18, 1980", "1980-07-16"),
    ("16–18 July 1980", "1980-07-16"),
    ("07/16-18/1980", "1980-07-16"),
    ("7/6-7/8/1980", "1980-07-06"),
    ("07/16/1980-07/18/1980", "1980-07-16"),
    ("07/16/1980 – 07/18/1980", "1980-07-16"),
    ("1980-07-16 to 1980-07-18", "1980-07-16"),
    ("1980-07-16/1980-07-18", "1980-07-16"),
    ("1980-07-16 - 1980-07-18", "1980-07-16"),
    ("July 30 - August 2, 1980", "1980-07-30"),
    ("30 July–2 August 1980", "1980-07-30"),
    ("Dec 31, 1980 - Jan 2, 1981", "1980-12-31"),
    ("16 and 17 July 1980", "1980-07-16"),
    ("Jul 16 & 17, 1980", "1980-07-16"),
    ("July 16th through 18th, 1980", "1980-07-16"),
    ("July 1980", "1980-07-01"),
    ("07/1980", "1980-07-01"),
    ("Jul - Aug 1980", "1980-07-01"),
];

#[test]
fn ranges_are_refused_by_name_or_taken_by_their_first_day() {
    for (text, first) in RANGES {
        let refused = read_day(text, false).unwrap_err();
        assert!(refused.contains(&format!("“{text}”")), "{refused}");
        assert!(refused.contains("ask for the first day of ranges"), "{refused}");
        let taken = read_day(text, true).map(|day| day.to_string());
        assert_eq!(taken, Ok(first.to_owned()), "{text}");
    }
    assert!(
        read_day("16–18 July 1980", false).unwrap_err().contains("is a range of days; give one")
    );
    assert!(read_day("July 1980", false).unwrap_err().contains("names no day"));
}

#[test]
fn what_is_no_day_gets_a_sentence_even_when_ranges_are_taken() {
    let cases = [
        ("Feb 30, 1980", "February 1980 has no day 30"),
        ("Feb 28-30, 1980", "February 1980 has no day 30"),
        ("Jul 18-16, 1980", "ends before it begins"),
        ("Dec 30 - Jan 2, 1981", "ends before it begins"),
        ("16/07/1980", "month first"),
        ("16-Jul-80", "year of two digits"),
        ("07/16/80", "year of two digits"),
        ("1980", "a year alone"),
        ("July 16", "has no year"),
        ("July 16, 1480", "1900 to 2199"),
        ("TBD", "is not a date"),
        ("Julius 16, 1980", "is not a date"),
        ("16", "is not a date"),
        ("Jul :", "“Jul :” is not a date"),
        ("Jul 00:00", "“Jul 00:00” is not a date"),
        ("-", "is not a date"),
        ("Jul 16-17-18, 1980", "is not a date"),
        ("1980-07-16T14:20", "is not a date"),
    ];
    for (text, words) in cases {
        let message = read_day(text, true).unwrap_err();
        assert!(message.contains(words), "{text}: {message}");
    }
}

#[test]
fn leap_days_follow_the_gregorian_rule() {
    // Source: ISO 8601-1, 3.1.1.19 “leap year”, 2019: of the centuries only those divisible by 400.
    assert_eq!(day("Feb 29, 2000"), "2000-02-29");
    assert!(read_day("Feb 29, 1900", false).is_err());
    assert!(read_day("Feb 29, 2100", false).is_err());
}

proptest! {
    #[test]
    fn every_way_of_writing_a_day_gives_the_same_day(
        ordinal in 1u16..=365, year in 1900i32..=2199,
    ) {
        let date = Date::from_ordinal_date(year, ordinal).unwrap();
        let (month, day) = (date.month(), date.day());
        let name = month.to_string();
        for text in [
            format!("{name} {day}, {year}"),
            format!("{day} {} {year}", &name[..3]),
            format!("{}/{day}/{year}", u8::from(month)),
            format!("{day:02}-{}-{year}", name[..3].to_uppercase()),
            format!("{year}-{ordinal:03}"),
        ] {
            prop_assert_eq!(read_day(&text, false), Ok(Day(date)), "{}", text);
        }
        if day < 28 {
            let range = format!("{name} {day}–{}, {year}", day + 1);
            prop_assert!(read_day(&range, false).is_err());
            prop_assert_eq!(read_day(&range, true), Ok(Day(date)), "{}", range);
        }
    }

    #[test]
    fn any_text_gives_a_day_or_a_sentence(
        text in "([0-9]{1,4}|[ ,./–-]|Jul|august|to|th|é|漢|\\PC){0,9}", first in any::<bool>(),
    ) {
        if let Err(message) = read_day(&text, first) {
            prop_assert!(message.contains('.') && message.contains(text.trim()), "{}", message);
        }
    }
}
