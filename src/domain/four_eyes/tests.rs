//! Who touched what, entry by entry, and what follows from it.

use super::*;
use crate::cells::Cell as _;

fn cells(pairs: &[(&str, &str)]) -> Cells {
    pairs.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect()
}

fn day(text: &str) -> Day {
    Day::read(text).unwrap()
}

/// An entry of that person: what stood there before, what stands there now.
fn entry(seq: i64, who: &str, before: &[(&str, &str)], after: &[(&str, &str)]) -> Entry {
    Entry {
        seq,
        who: who.to_owned(),
        on: day("2030-11-21"),
        is_new: before.is_empty() && seq == 1,
        before: cells(before),
        after: cells(after),
    }
}

fn made(who: &str) -> Entry {
    entry(1, who, &[], &[("code", "R-9"), ("what", "Cut it"), ("state", "open")])
}

fn done(seq: i64, who: &str) -> Entry {
    let after = [("state", "done"), ("done_on", "2030-11-21"), ("evidence", "cut in the rig")];
    entry(seq, who, &[("state", "open"), ("done_on", ""), ("evidence", "")], &after)
}

fn verified(seq: i64, who: &str) -> Entry {
    let after = [
        ("state", "verified"),
        ("verified_by", who),
        ("verified_on", "2030-11-21"),
        ("evidence", "seen"),
        ("checked", "here"),
    ];
    entry(seq, who, &[("state", "done"), ("verified_by", "")], &after)
}

fn touches(entries: &[Entry]) -> Vec<Option<Touch>> {
    entries.iter().map(|entry| Judging::VERIFICATION.touch(entry)).collect()
}

#[test]
fn writing_editing_and_marking_done_touch_a_remedy_and_judging_it_does_not() {
    let owner = entry(3, "b", &[("owner", "tools")], &[("owner", "rigger")]);
    let evidence = entry(4, "b", &[("evidence", "cut in the rig")], &[("evidence", "cut twice")]);
    let back = [("state", "open"), ("done_on", ""), ("verified_by", ""), ("verified_on", "")];
    let reopened = entry(6, "c", &[("state", "verified"), ("verified_by", "c")], &back);
    let cascade = [("state", "done"), ("verified_by", ""), ("verified_on", ""), ("checked", "")];
    let fell_back = entry(7, "d", &[("state", "verified"), ("verified_by", "c")], &cascade);
    assert_eq!(
        touches(&[made("a"), done(2, "a"), owner, evidence, verified(5, "c"), reopened, fell_back]),
        [
            Some(Touch::Wrote),
            Some(Touch::MarkedDone),
            Some(Touch::Edited),
            Some(Touch::Edited),
            None,
            None,
            None
        ]
    );
}

#[test]
fn a_remedy_that_the_clearing_of_a_revision_writes_is_not_its_clearers_own() {
    let after = [("code", "R-9"), ("state", "verified"), ("checked", "by clearing the revision")];
    assert_eq!(Judging::VERIFICATION.touch(&entry(1, "lead", &[], &after)), None);
}

fn touched(entries: &[Entry]) -> Vec<Touched> {
    let touched = |entry: &Entry| {
        let touch = Judging::VERIFICATION.touch(entry)?;
        Some(Touched { code: "R-9".into(), who: entry.who.clone(), on: entry.on, touch })
    };
    entries.iter().filter_map(touched).collect()
}

#[test]
fn the_refusal_says_what_the_person_did_whatever_the_owner_says() {
    let touched = touched(&[made("ada"), done(2, "Berit")]);
    let owner = Line::known("tools engineer");
    let may = |who| may_judge(&Judging::VERIFICATION, "R-9", who, &touched, Some(&owner));
    assert_eq!(may("ada").unwrap_err(), "You wrote R-9 on 2030-11-21; another person verifies it.");
    assert_eq!(
        may("berit").unwrap_err(),
        "You marked R-9 done on 2030-11-21; another person verifies it."
    );
    assert_eq!(
        may("Tools-Engineer").unwrap_err(),
        "R-9 names you as its owner; another person verifies it."
    );
    assert_eq!(may("cleo"), Ok(()));
    // Nothing is known of who touched it: nobody is kept out but whom it names.
    assert!(may_judge(&Judging::REVIEW, "N-9", "ada", &[], None).is_ok());
}

#[test]
fn whoever_made_a_revision_does_not_verify_the_remedy_that_it_is() {
    let revision = Touched {
        code: "K-1.2".into(),
        who: "ada".into(),
        on: day("2030-11-20"),
        touch: Touch::Wrote,
    };
    assert_eq!(
        may_judge(&Judging::VERIFICATION, "R-9", "ada", &[revision], None).unwrap_err(),
        "You wrote K-1.2 on 2030-11-20; another person verifies R-9."
    );
}

#[test]
fn only_what_was_judged_takes_a_judgement_back() {
    let before = cells(&[("what", "Cut it"), ("owner", "tools"), ("needed_by", "G-1")]);
    let with = |column: &str, text: &str| {
        let mut after = before.clone();
        after.set(column, text);
        Judging::VERIFICATION.differs(&before, &after)
    };
    assert!(with("what", "Cut both") && with("reach", "every unit") && with("evidence", "none"));
    assert!(!with("owner", "rigger") && !with("needed_by", "G-2") && !with("checked", "here"));
}

fn found(checked: Option<Checked>, by: &str, entries: &[Entry]) -> Vec<String> {
    let judgement = Judgement { by: Line::known(by), on: None };
    faults(&Judging::VERIFICATION, &judgement, checked, entries, &[], "R-9")
}

#[test]
fn the_log_convicts_a_judge_who_touched_it_and_one_who_was_only_named() {
    let entries = [made("ada"), done(2, "berit"), verified(3, "cleo")];
    assert_eq!(found(Some(Checked::Here), "cleo", &entries), [""; 0]);
    let own = [made("ada"), done(2, "cleo"), verified(3, "cleo")];
    assert_eq!(
        found(None, "cleo", &own),
        ["was verified by cleo, who marked it done on 2030-11-21"]
    );
    let mut named = entries.clone();
    named[2].who = "ada".into();
    assert_eq!(
        found(Some(Checked::Here), "cleo", &named),
        ["was verified by cleo, and ada entered that"]
    );
    assert_eq!(
        found(Some(Checked::Here), "cleo", &entries[..2]),
        ["was verified by cleo, and no change says when"]
    );
    assert_eq!(found(Some(Checked::Imported), "cleo", &named), [""; 0], "marked as imported");
}

#[test]
fn the_log_convicts_a_change_of_what_was_judged() {
    let edited = entry(4, "ada", &[("what", "Cut it")], &[("what", "Cut both")]);
    let entries = [made("ada"), done(2, "berit"), verified(3, "cleo"), edited];
    assert_eq!(
        found(Some(Checked::Here), "cleo", &entries),
        ["was changed by ada on 2030-11-21 after it was verified"]
    );
}
