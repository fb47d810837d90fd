//! Moving the whole scenario to another day.

use crate::tables::TABLES;
use crate::{columns, shifted};
use domain::cells::Input;
use domain::kinds::Kind;

#[test]
fn days_and_moments_move_together_and_nothing_else_does() {
    let table = "code,day,egress_at,planned,notes\n\
                 E-1.1,2027-12-31,2027-12-31 23:50,390,\"on 2027-12-31, as planned\"\n";
    let later = shifted(Kind::Excursion, table, 60).unwrap();
    assert_eq!(
        later,
        "code,day,egress_at,planned,notes\n\
         E-1.1,2028-02-29,2028-02-29T23:50:00.000Z,390,\"on 2027-12-31, as planned\"\n"
    );
}

#[test]
fn a_date_that_cannot_be_read_is_named() {
    let refusal = shifted(Kind::Excursion, "code,day\nE-1.1,soon\n", 1).unwrap_err();
    assert!(refusal.contains("“soon” is not a date"), "{refusal}");
}

#[test]
fn every_table_moves_there_and_back() {
    for (kind, text) in TABLES {
        let still = shifted(*kind, text, 0).unwrap();
        let away = shifted(*kind, text, -413).unwrap();
        assert_eq!(shifted(*kind, &away, 413).unwrap(), still, "{kind}");
        let dated = columns(*kind).iter().any(|c| matches!(c.input, Input::Day | Input::Moment));
        assert_eq!(away != still, dated, "{kind}");
    }
}
