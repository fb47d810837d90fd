use proptest::prelude::*;

use super::*;

#[test]
fn durations_are_read_as_people_write_them() {
    for (text, minutes) in [
        ("6:45", 405),
        ("0:36", 36),
        ("00:36", 36),
        ("405", 405),
        ("0:00", 0),
        ("06:45:00", 405),
        (" 6 : 45 ", 405),
        ("405 min", 405),
        ("405minutes", 405),
        ("6h45", 405),
        ("6 h 45 min", 405),
        ("6h05m", 365),
        ("6 H", 360),
        ("2 hours 5 minutes", 125),
        ("26:00", 1_560),
    ] {
        assert_eq!(Minutes::read(text), Ok(Minutes(minutes)), "{text}");
        assert_eq!(Pet::read(text), Ok(Pet(minutes)), "{text}");
    }
}

#[test]
fn a_slip_in_a_duration_is_named() {
    for text in [
        "6:5", "6:60", "6:450", ":45", "6:", "-5", "+5", "6.75", "6,5", "1:2:3", "6:45:30", "six",
        "h", "6 h 75", "6 h 45 h", "min", "١٢",
    ] {
        let message = Minutes::read(text).unwrap_err();
        assert!(message.contains("write hours and minutes as 6:45"), "{text}: {message}");
    }
    assert!(Minutes::read("144001").unwrap_err().contains("more than a hundred days"));
    assert!(Minutes::read("9999999").is_err());
}

#[test]
fn minutes_are_shown_plain_and_elapsed_time_by_the_clock() {
    assert_eq!(Minutes(405).show(), "405");
    assert_eq!(Minutes(405).clock(), "6:45");
    assert_eq!(Minutes(36).clock(), "0:36");
    assert_eq!(Pet(405).show(), "6:45");
    assert_eq!(format!("{:>6}", Pet(65)), "  1:05");
}

#[test]
fn a_share_is_a_whole_number_of_per_cent() {
    assert_eq!(Share::read("40 %"), Ok(Share(40)));
    assert_eq!(Share::read("100"), Ok(Share::WHOLE));
    for text in ["101", "-1", "0.5", "40%%", "half"] {
        assert!(Share::read(text).unwrap_err().contains("from 0 to 100"), "{text}");
    }
}

#[test]
fn amounts_take_their_unit_and_keep_to_their_range() {
    assert_eq!(Kilograms::read("12,5 kg"), Ok(Kilograms(12.5)));
    assert_eq!(Litres::read("40 L"), Ok(Litres(40.0)));
    assert_eq!(Degrees::read("-75.5°"), Ok(Degrees(-75.5)));
    assert_eq!(MapPlace::read("100"), Ok(MapPlace(100.0)));
    assert_eq!(PeriodMinutes::read("92.56 min"), Ok(PeriodMinutes(92.56)));

    assert_eq!(Kilograms::read("-1"), Err("-1 lies outside 0 to 100000 kg.".to_owned()));
    assert_eq!(MapPlace::read("101"), Err("101 lies outside 0 to 100.".to_owned()));
    assert!(Degrees::read("90.1").is_err());
    assert!(Kilograms::read("5 lb").unwrap_err().contains("not a number"));
    assert!(Kilograms::read("kg").unwrap_err().contains("not a number"));
}

#[test]
fn a_window_has_two_ends_in_order() {
    assert_eq!(Window::read("2:40-4:45").unwrap().show(), "2:40-4:45");
    assert_eq!(Window::read(" 160 – 4:45 "), Window::read("2:40-4:45"));
    for text in ["2:40", "4:45-2:40", "2:40-2:40", "-4:45", "2:40-3:00-4:00"] {
        assert!(Window::read(text).is_err(), "{text}");
    }
}

proptest! {
    #[test]
    fn every_duration_is_read_back_from_every_way_it_is_written(minutes in 0..=Minutes::MAX) {
        let (hours, rest) = (minutes / 60, minutes % 60);
        for text in [
            minutes.to_string(),
            format!("{hours}:{rest:02}"),
            format!("{hours:02}:{rest:02}:00"),
            format!("{hours} h {rest} min"),
            Pet(minutes).show(),
        ] {
            prop_assert_eq!(Minutes::read(&text), Ok(Minutes(minutes)), "{}", text);
        }
    }
}
