use proptest::prelude::*;

use super::*;

fn of(text: &str) -> Measured {
    Measured::read(text).unwrap()
}

fn near(value: Option<f64>, expected: f64) -> bool {
    value.is_some_and(|value| (value - expected).abs() <= 1e-12 * expected.abs())
}

#[test]
fn values_are_read_as_people_write_them() {
    #[expect(clippy::type_complexity, reason = "a table of cases, read once")]
    let cases: [(&str, Option<&str>, f64, Option<Unit>, Option<f64>); 21] = [
        (
            "grip force 180 N (limit 200 N)",
            Some("grip force"),
            180.0,
            Some(Unit::Newton),
            Some(200.0),
        ),
        ("2.8 N·m", None, 2.8, Some(Unit::NewtonMetre), None),
        ("torque 12.1 Nm limit 20", Some("torque"), 12.1, Some(Unit::NewtonMetre), Some(20.0)),
        (
            "torque: 12,1 N-m, max. 20 N m",
            Some("torque"),
            12.1,
            Some(Unit::NewtonMetre),
            Some(20.0),
        ),
        (
            "Torque = 12.1Nm (Limit: 20Nm)",
            Some("Torque"),
            12.1,
            Some(Unit::NewtonMetre),
            Some(20.0),
        ),
        ("torque 12 N*m (limit of 20)", Some("torque"), 12.0, Some(Unit::NewtonMetre), Some(20.0)),
        (
            "torque −12 N⋅m (limit 20 N⋅m)",
            Some("torque"),
            -12.0,
            Some(Unit::NewtonMetre),
            Some(20.0),
        ),
        ("torque (12 Nm)", Some("torque"), 12.0, Some(Unit::NewtonMetre), None),
        ("turns 9", Some("turns"), 9.0, None, None),
        ("turns 9 (limit 12)", Some("turns"), 9.0, None, Some(12.0)),
        ("9 turns", Some("turns"), 9.0, None, None),
        ("180 N grip force", Some("grip force"), 180.0, Some(Unit::Newton), None),
        (
            "bolt 3 torque 12 Nm limit 20",
            Some("bolt 3 torque"),
            12.0,
            Some(Unit::NewtonMetre),
            Some(20.0),
        ),
        ("bolt 3 torque 12", Some("bolt 3 torque"), 12.0, None, None),
        ("40 lbf", None, 40.0 * 4.448_221_615_260_5, Some(Unit::PoundForce), None),
        ("12 ft·lbf", None, 12.0 * 1.355_817_948_331_400_4, Some(Unit::FootPoundForce), None),
        ("12 ft-lbf", None, 12.0 * 1.355_817_948_331_400_4, Some(Unit::FootPoundForce), None),
        ("12 lb-ft", None, 12.0 * 1.355_817_948_331_400_4, Some(Unit::FootPoundForce), None),
        ("30 in·lbf", None, 30.0 * 0.112_984_829_027_616_7, Some(Unit::InchPoundForce), None),
        ("30 in lbs", None, 30.0 * 0.112_984_829_027_616_7, Some(Unit::InchPoundForce), None),
        ("Anzugsmoment 12 Nm", Some("Anzugsmoment"), 12.0, Some(Unit::NewtonMetre), None),
    ];
    for (text, name, value, unit, limit) in cases {
        let read = of(text);

        assert_eq!(read.name.as_deref(), name, "{text}");
        assert!(near(read.value, value), "{text}: {:?}", read.value);
        assert_eq!(read.unit, unit, "{text}");
        assert_eq!(read.limit, limit, "{text}");
        assert_eq!(read.of, None, "{text}");
        assert_eq!(read.show(), text);
    }
}

#[test]
fn a_part_of_a_number_in_all_is_no_limit() {
    let turns = of("turns 9 of 15");

    assert_eq!(
        (turns.name.as_deref(), turns.value, turns.of),
        (Some("turns"), Some(9.0), Some(15.0))
    );
    assert!(!turns.past_limit());
    assert!(!of("turns 16 of 15").past_limit());
}

#[test]
fn a_limit_may_stand_in_another_unit_of_the_same_quantity() {
    let torque = of("torque 12 N·m (limit 8 ft·lbf)");

    assert!(near(torque.limit, 8.0 * 1.355_817_948_331_400_4));
    assert!(torque.past_limit());
}

#[test]
fn past_the_limit_is_beyond_it_in_either_direction() {
    assert!(of("torque 20.1 Nm limit 20").past_limit());
    assert!(of("torque -20.1 Nm limit 20").past_limit());
    assert!(!of("torque 20 Nm limit 20").past_limit());
    assert!(!of("torque 20.1 Nm").past_limit());
    assert!(of("45 lbf (limit 200 N)").past_limit());
    assert!(!of("44 lbf (limit 200 N)").past_limit());
}

#[test]
fn a_limit_may_be_the_least() {
    for (text, past) in [
        ("preload 31 N·m (at least 35 N·m)", true),
        ("preload 35 N·m (at least 35 N·m)", false),
        ("preload 31 Nm, min 35 Nm", true),
        ("preload 36 Nm minimum 35", false),
        ("preload 31 Nm (limit at least 35 Nm)", true),
        ("preload 31 N·m (≥ 35 N·m)", true),
        ("preload 20 ft·lbf (at least 35 N·m)", true),
        ("preload 36 N·m (at most 35 N·m)", true),
        ("preload 31 N·m (≤ 35 N·m)", false),
        ("turns 9 (at least 12)", true),
        ("turns -13 (at least 12)", false),
    ] {
        let read = of(text);
        assert!(read.value.is_some() && read.limit.is_some(), "{text}: {read:?}");
        assert_eq!(read.past_limit(), past, "{text}");
        assert_eq!(read.judgement().is_some(), past, "{text}");
    }
    assert_eq!(of("preload 31 Nm (at least 35 Nm)").sense, Sense::AtLeast);
    assert_eq!(
        of("preload 20 ft·lbf (at least 30 ft·lbf)").si_text().unwrap(),
        "27.1 N·m (at least 40.7 N·m)"
    );
    // A minute is no least.
    assert_eq!(of("wait 5 min 30").limit, None);
}

#[test]
fn a_value_in_any_unit_is_held_against_a_limit_in_the_same() {
    for (text, value, past) in [
        ("gap at clamp two 4 mm (limit 1 mm)", 4.0, true),
        ("gap 0.5 mm (limit 1 mm)", 0.5, false),
        ("current 1.8 A (limit 2.2 A)", 1.8, false),
        ("current 2.3 A, max 2.2", 2.3, true),
        ("hinge −52 °C (at least −45 °C)", -52.0, true),
        ("hinge −40 °C (at least −45 °C)", -40.0, false),
        ("line pressure 5 bar (limit 3 bar)", 5.0, true),
        ("12mm (limit 10mm)", 12.0, true),
    ] {
        let read = of(text);
        assert_eq!((read.value, read.past_limit()), (Some(value), past), "{text}: {read:?}");
        assert_eq!(read.show(), text);
        assert_eq!(read.si_text(), None, "{text}");
    }
    for text in [
        "gap 4 mm (limit 0.1 cm)",
        "gap 4 mm at bolt 2 mm (limit 1 mm)",
        "gap not above 4 mm (limit 1 mm)",
        "between 3-4 mm (limit 1 mm)",
        "torque 12 Nm (limit 20 N)",
        "gap 4 mm",
        "temperature 40 °C (limit as in the card)",
    ] {
        assert_eq!(of(text).value, None, "{text}: {:?}", of(text));
    }
}

#[test]
fn what_cannot_be_understood_stays_as_entered() {
    for text in [
        "bolt felt loose",
        "10-12 Nm",
        "~180 N",
        ">180 N",
        "did not reach 12 Nm",
        "at least 12 Nm",
        "temperature 40 °C",
        "12 V",
        "40 lb",
        "torque 12 Nm (limit 20 N)",
        "turns 9 (limit 20 N)",
        "torque 12 Nm (limit as in the card)",
        "1,200 N",
        "limit 20 Nm",
        "12 Nm, then 14 Nm",
        "9 of many",
        "N",
        "1e400 N",
    ] {
        let read = of(text);

        assert_eq!(read.value, None, "{text}: {read:?}");
        assert_eq!(read.show(), text);
        assert!(!read.past_limit());
    }
}

#[test]
fn conversions_are_those_of_the_guide() {
    // Source: NIST SP 811, appendix B.8, 2008: pound-force 4.448 222 E+00 N, pound-force foot
    // 1.355 818 E+00 N·m, pound-force inch 1.129 848 E-01 N·m.
    let seven_figures = [
        (Unit::PoundForce, 4.448_222),
        (Unit::FootPoundForce, 1.355_818),
        (Unit::InchPoundForce, 0.112_984_8),
    ];
    for (unit, published) in seven_figures {
        assert!((unit.in_si() / published - 1.0).abs() < 5e-7, "{unit:?}");
    }
    // Source: NIST SP 811, appendix B.6 and B.8, 2008: the exact values they are made of.
    let pound_force = 0.453_592_37 * 9.806_65;
    assert!(near(Some(Unit::PoundForce.in_si()), pound_force));
    assert!(near(Some(Unit::FootPoundForce.in_si()), pound_force * 0.3048));
    assert!(near(Some(Unit::InchPoundForce.in_si()), pound_force * 0.0254));
}

#[test]
fn the_si_text_stands_beside_what_was_entered_in_other_units() {
    assert_eq!(of("40 ft·lbf (limit 50 ft·lbf)").si_text().unwrap(), "54.2 N·m (limit 67.8 N·m)");
    assert_eq!(of("grip force 45 lbf").si_text().unwrap(), "200 N");
    assert_eq!(of("8 in-lbf").si_text().unwrap(), "0.904 N·m");
    assert_eq!(of("12 Nm").si_text(), None);
    assert_eq!(of("turns 9").si_text(), None);
}

#[test]
fn several_values_stand_in_one_cell() {
    use crate::cells::List;

    let read = List::<Measured>::read("grip force 180 N (limit 200 N); turns 9\n12,5 Nm").unwrap();

    assert_eq!(
        read.iter().map(|each| each.value).collect::<Vec<_>>(),
        [Some(180.0), Some(9.0), Some(12.5)]
    );
    assert_eq!(read.show(), "grip force 180 N (limit 200 N); turns 9; 12,5 Nm");
}

proptest! {
    #[test]
    fn nothing_entered_is_lost(
        text in "([0-9]{1,4}|[ .,()−+-]|of|limit|max|N|Nm|ft·lbf|lbf|grip|é|\\PC){0,10}",
    ) {
        let read = of(&text);
        let folded = text.split_whitespace().collect::<Vec<_>>().join(" ");

        prop_assert_eq!(read.show(), folded);
        prop_assert_eq!(of(&read.show()), read.clone());
        prop_assert!(read.value.is_none_or(f64::is_finite));
    }

    #[test]
    fn units_of_one_quantity_agree(value in 0.1f64..1_000.0) {
        let feet = of(&format!("{value} ft·lbf")).value.unwrap();
        let inches = of(&format!("{} in·lbf", value * 12.0)).value.unwrap();

        prop_assert!((feet / inches - 1.0).abs() < 1e-12);
    }
}
