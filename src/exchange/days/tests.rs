use proptest::prelude::*;

use super::*;

const PLAIN: Reading = Reading { first_of_range: false, order: None };
const RANGES_BY_FIRST: Reading = Reading { first_of_range: true, order: None };

fn day(text: &str) -> String {
    read_day(text, PLAIN).unwrap_or_else(|message| panic!("{message}")).to_string()
}

#[test]
fn plain_days_are_read_as_everywhere_else() {
    assert_eq!(day("1980-07-16"), "1980-07-16");
    assert_eq!(day("07/16/1980"), "1980-07-16");
    assert_eq!(day(" 7/7/1980 "), "1980-07-07");
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
    assert!(read_day("1980-07-16 14:20", PLAIN).is_err());
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

const RANGES: [(&str, &str); 20] = [
    ("Jul 16-18, 1980", "1980-07-16"),
    ("16–18 July 1980", "1980-07-16"),
    ("07/16-18/1980", "1980-07-16"),
    ("7/16-7/18/1980", "1980-07-16"),
    ("16/7-18/7/1980", "1980-07-16"),
    ("16-18/07/1980", "1980-07-16"),
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
        let refused = read_day(text, PLAIN).unwrap_err();
        assert!(refused.contains(&format!("“{text}”")), "{refused}");
        assert!(refused.contains("ask for the first day of ranges"), "{refused}");
        let taken = read_day(text, RANGES_BY_FIRST).map(|day| day.to_string());
        assert_eq!(taken, Ok(first.to_owned()), "{text}");
    }
    assert!(
        read_day("16–18 July 1980", PLAIN).unwrap_err().contains("is a range of days; give one")
    );
    assert!(read_day("July 1980", PLAIN).unwrap_err().contains("names no day"));
}

#[test]
fn what_is_no_day_gets_a_sentence_even_when_ranges_are_taken() {
    let cases = [
        ("Feb 30, 1980", "February 1980 has no day 30"),
        ("Feb 28-30, 1980", "February 1980 has no day 30"),
        ("Jul 18-16, 1980", "ends before it begins"),
        ("Dec 30 - Jan 2, 1981", "ends before it begins"),
        ("16/17/1980", "no month 16"),
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
        let message = read_day(text, RANGES_BY_FIRST).unwrap_err();
        assert!(message.contains(words), "{text}: {message}");
    }
}

#[test]
fn leap_days_follow_the_gregorian_rule() {
    // Source: ISO 8601-1, 3.1.1.19 “leap year”, 2019: of the centuries only those divisible by 400.
    assert_eq!(day("Feb 29, 2000"), "2000-02-29");
    assert!(read_day("Feb 29, 1900", PLAIN).is_err());
    assert!(read_day("Feb 29, 2100", PLAIN).is_err());
}

#[test]
fn a_date_that_could_be_either_is_refused_until_its_order_is_said() {
    // Source: ISO 8601-1, 2019, names neither order: 03/04/2031 is 4 March in one country and
    // 3 April in another (common practice).
    let said = |order| Reading { first_of_range: true, order: Some(order) };
    let read = |text, order| read_day(text, said(order)).map(|day| day.to_string());
    for text in ["03/04/2031", "3/4/2031", "03-04-2031", "03.04.2031", "3/4/2031 00:00:00"] {
        let refused = read_day(text, PLAIN).unwrap_err();
        assert!(refused.contains("2031-04-03 or 2031-03-04"), "{refused}");
        assert_eq!(read(text, DateOrder::DayFirst), Ok("2031-04-03".to_owned()), "{text}");
        assert_eq!(read(text, DateOrder::MonthFirst), Ok("2031-03-04".to_owned()), "{text}");
    }
    assert!(read_day("7/6-7/8/1980", RANGES_BY_FIRST).unwrap_err().contains("could be"));
    assert_eq!(read("7/6-7/8/1980", DateOrder::MonthFirst), Ok("1980-07-06".to_owned()));
    assert_eq!(read("7/6-7/8/1980", DateOrder::DayFirst), Ok("1980-06-07".to_owned()));
}

#[test]
fn a_date_of_one_order_is_read_alone_and_refused_under_the_other() {
    for (text, order, other) in [
        ("18/03/2031", DateOrder::DayFirst, DateOrder::MonthFirst),
        ("03/18/2031", DateOrder::MonthFirst, DateOrder::DayFirst),
        ("18.03.2031", DateOrder::DayFirst, DateOrder::MonthFirst),
    ] {
        assert_eq!(order_of(text, false), Order::Only(order), "{text}");
        assert_eq!(day(text), "2031-03-18", "{text}");
        let under = |order| read_day(text, Reading { first_of_range: false, order: Some(order) });
        assert_eq!(under(order).unwrap().to_string(), "2031-03-18", "{text}");
        assert!(under(other).unwrap_err().contains("no month 18"), "{text}");
    }
    for text in ["2031-03-04", "04 March 2031", "03/03/2031", "2031-077", "TBD"] {
        assert_eq!(order_of(text, false), Order::Same, "{text}");
    }
}

proptest! {
    #[test]
    fn each_order_reads_what_it_writes(ordinal in 1u16..=365, year in 1900i32..=2199) {
        let date = Date::from_ordinal_date(year, ordinal).unwrap();
        let (month, day) = (u8::from(date.month()), date.day());
        for (order, text) in [
            (DateOrder::MonthFirst, format!("{month}/{day}/{year}")),
            (DateOrder::DayFirst, format!("{day:02}/{month:02}/{year}")),
            (DateOrder::DayFirst, format!("{day}.{month}.{year}")),
        ] {
            let reading = Reading { first_of_range: false, order: Some(order) };
            prop_assert_eq!(read_day(&text, reading), Ok(Day(date)), "{}", text);
        }
    }

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
            format!("{day:02}-{}-{year}", name[..3].to_uppercase()),
            format!("{year}-{ordinal:03}"),
        ] {
            prop_assert_eq!(read_day(&text, PLAIN), Ok(Day(date)), "{}", text);
        }
        if day < 28 {
            let range = format!("{name} {day}–{}, {year}", day + 1);
            prop_assert!(read_day(&range, PLAIN).is_err());
            prop_assert_eq!(read_day(&range, RANGES_BY_FIRST), Ok(Day(date)), "{}", range);
        }
    }

    #[test]
    fn any_text_gives_a_day_or_a_sentence(
        text in "([0-9]{1,4}|[ ,./–-]|Jul|august|to|th|é|漢|\\PC){0,9}", first in any::<bool>(),
    ) {
        if let Err(message) = read_day(&text, Reading { first_of_range: first, order: None }) {
            prop_assert!(message.contains('.') && message.contains(text.trim()), "{}", message);
        }
    }
}
