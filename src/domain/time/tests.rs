use proptest::prelude::*;

use super::*;

fn day(text: &str) -> Day {
    Day::read(text).unwrap_or_else(|message| panic!("{message}"))
}

#[test]
fn a_day_is_read_in_three_forms() {
    // Source: common practice; day 077 of 2031 is 18 March (31 + 28 + 18).
    for text in ["2031-03-18", "2031-077", "03/18/2031", "3/18/2031", " 2031-03-18 "] {
        assert_eq!(day(text).show(), "2031-03-18", "{text}");
    }
    assert_eq!(day("2031-03-18").of_year(), "077");
    assert_eq!(day("2032-12-31").of_year(), "366");
}

#[test]
fn what_is_no_day_gets_a_sentence_that_shows_the_forms() {
    for text in [
        "2031-02-29",
        "2031-366",
        "2031-000",
        "13/01/2031",
        "18/03/2031",
        "2031-3-18",
        "31-03-18",
        "2031",
        "2031-03-18x",
        "1899-12-31",
        "2200-01-01",
        "",
        "yesterday",
        "٢٠٣١-٠٣-١٨",
    ] {
        let message = Day::read(text).unwrap_err();
        assert!(message.contains("2031-03-18, 2031-077 or 03/18/2031"), "{text}: {message}");
    }
}

#[test]
fn days_are_counted_across_leap_years_and_stop_at_the_end_of_the_calendar() {
    assert_eq!(day("2032-03-01").since(day("2032-02-28")), 2);
    assert_eq!(day("2031-03-01").since(day("2032-03-01")), -366);
    assert_eq!(day("2032-02-28").plus(2), day("2032-03-01"));
    assert_eq!(day("2032-02-28").plus(i64::MAX).0, Date::MAX);
    assert_eq!(day("2032-02-28").plus(i64::MIN).0, Date::MIN);
}

#[test]
fn a_moment_is_rfc_3339_with_milliseconds() {
    // Source: RFC 3339, section 5.8, 2002: the first example.
    let moment = Moment::read("1985-04-12T23:20:50.52Z").unwrap();

    // Source: GNU coreutils, `date -u -d 1985-04-12T23:20:50Z +%s`, 2025.
    assert_eq!(moment, Moment(482_196_050_520));
    assert_eq!(moment.show(), "1985-04-12T23:20:50.520Z");
    assert_eq!(moment.to_the_minute(), "1985-04-12 23:20");
    assert_eq!(moment.clock(), "23:20");
    assert_eq!(moment.day(), day("1985-04-12"));
}

#[test]
fn a_moment_is_read_to_the_second_the_minute_or_the_day() {
    let midnight = Moment::of_day(day("2031-03-18"));
    for (text, millis) in [
        ("2031-03-18", 0),
        ("2031-077", 0),
        ("2031-03-18 00:00", 0),
        ("2031-03-18T14:20Z", 51_600_000),
        ("2031-03-18 14:20:05", 51_605_000),
        ("2031-03-18 14:20:05.1239", 51_605_123),
        ("2031-03-18 14:20:05.5Z", 51_605_500),
    ] {
        assert_eq!(Moment::read(text), Ok(Moment(midnight.0 + millis)), "{text}");
    }
    for text in [
        "2031-03-18 24:00",
        "2031-03-18 14:60",
        "2031-03-18T14:20+02:00",
        "2031-03-18.5",
        "2031-03-18 14:20.5",
        "2031-03-18 14:20:05.x",
        "2031-03-18 14:20ZZ",
        "14:20",
        "Z",
        "",
        "1899-12-31 10:00",
    ] {
        let message = Moment::read(text).unwrap_err();
        assert!(message.contains("2031-03-18 14:20, UTC"), "{text}: {message}");
    }
}

proptest! {
    #[test]
    fn every_moment_of_the_years_taken_is_read_back(
        millis in -2_208_988_800_000i64..7_258_118_400_000, // 1900-01-01 to 2200-01-01
    ) {
        let moment = Moment(millis);

        prop_assert_eq!(Moment::read(&moment.show()), Ok(moment));
        prop_assert_eq!(moment.clock(), &moment.to_the_minute()[11..]);
        prop_assert!(Moment::of_day(moment.day()) <= moment);
        prop_assert!(moment < Moment::of_day(moment.day().plus(1)));
    }

    #[test]
    fn no_number_is_too_large_to_be_shown(millis in any::<i64>(), minutes in any::<i64>()) {
        let moment = Moment(millis).plus_minutes(minutes);
        prop_assert!(!moment.show().is_empty() && moment.clock().len() == 5);
        prop_assert!(!moment.day().plus(minutes).show().is_empty());
    }

    #[test]
    fn every_day_is_read_back_from_each_form(julian in 2_415_021i32..2_524_593) { // 1900 to 2199
        let date = Date::from_julian_day(julian).unwrap();
        let (year, month, of_month) = (date.year(), u8::from(date.month()), date.day());
        for text in [
            Day(date).show(),
            format!("{year}-{}", Day(date).of_year()),
        ] {
            prop_assert_eq!(Day::read(&text), Ok(Day(date)), "{}", text);
        }
        let slashed = format!("{month:02}/{of_month:02}/{year}");
        if of_month > 12 || of_month == month {
            prop_assert_eq!(Day::read(&slashed), Ok(Day(date)), "{}", slashed);
        } else {
            prop_assert!(Day::read(&slashed).unwrap_err().contains("could be"), "{}", slashed);
        }
    }
}
