//! Making and editing every kind of record over its form: versions, keys, roles.

use app::kinds;
use domain::kinds::Kind;
use domain::roles::{action_for, may};
use domain::words::Role;
use sqlx::SqlitePool;

use crate::support::TestApp;

/// A record of each kind, in an order in which each finds what it names; and a change to it.
/// A kind, the cells of a new record, and one edit: the field, two values for it.
type Walked =
    (Kind, &'static [(&'static str, &'static str)], (&'static str, &'static str, &'static str));

const RECORDS: &[Walked] = &[
    (
        Kind::Flight,
        &[("code", "G-40"), ("launch", "2031-03-01"), ("landing", "2031-03-20")],
        ("notes", "first words", "other words"),
    ),
    (
        Kind::Worksite,
        &[("code", "W-KEEL"), ("name", "Keel, first name")],
        ("name", "Keel", "Keel, outboard"),
    ),
    (Kind::Family, &[("code", "F-CAS")], ("name", "Cassettes", "Filter cassettes")),
    (Kind::Position, &[("code", "C-14"), ("worksite", "W-KEEL")], ("notes", "bay 4", "bay 5")),
    (Kind::Unit, &[("code", "U-1"), ("family", "F-CAS")], ("serial", "0417", "0418")),
    (Kind::Tool, &[("code", "L-1"), ("name", "Lever grip")], ("name", "Lever", "Offset grip")),
    (
        Kind::Technique,
        &[("code", "K-LEVER"), ("name", "Lever grip"), ("family", "F-CAS")],
        ("notes", "slow", "slower"),
    ),
    (
        Kind::Excursion,
        &[("code", "E-40.1"), ("flight", "G-40"), ("number", "1"), ("state", "planned")],
        ("notes", "short day", "long day"),
    ),
    (
        Kind::Task,
        &[
            ("code", "T-0001"),
            ("title", "Pull C-14"),
            ("sides", "nadir"),
            ("family", "F-CAS"),
            ("opened", "2030-01-01"),
        ],
        ("title", "Pull cassette C-14", "Pull filter cassette C-14"),
    ),
    (
        Kind::Task,
        &[("code", "T-0002"), ("title", "Fit cover"), ("opened", "2030-01-01")],
        ("notes", "warm", "cold"),
    ),
    (
        Kind::Link,
        &[("code", "J-1"), ("task", "T-0001"), ("kind", "needs"), ("other", "T-0002")],
        ("words", "the cover first", "cover"),
    ),
    (
        Kind::Attempt,
        &[
            ("code", "A-1"),
            ("task", "T-0001"),
            ("excursion", "E-39.1"),
            ("technique", "K-LEVER"),
            ("side", "nadir"),
            ("outcome", "not completed"),
            ("minutes", "40"),
            ("cause", "tight"),
        ],
        ("as_left", "pushed back in", "cover on"),
    ),
    (
        Kind::Constraint,
        &[("code", "CN-1"), ("forbidden", "Fan at half speed or less"), ("attempts", "A-1")],
        ("owner", "thermal", "thermal console"),
    ),
    (
        Kind::Deferral,
        &[
            ("code", "D-1"),
            ("task", "T-0001"),
            ("excursion", "E-40.1"),
            ("phase", "before launch"),
            ("reason", "time"),
        ],
        ("words", "for the pump", "for the pump work"),
    ),
    (
        Kind::Parking,
        &[("code", "B-1"), ("task", "T-0002"), ("why", "waits")],
        ("why", "waits for parts", "waits for a cover"),
    ),
    (
        Kind::Closure,
        &[("code", "Z-1"), ("task", "T-0002"), ("kind", "no longer wanted"), ("words", "gone")],
        ("evidence", "photograph 2", "photograph 3"),
    ),
    (
        Kind::Reopening,
        &[("code", "Y-1"), ("task", "T-0002"), ("share_left", "100"), ("words", "back")],
        ("words", "it came back", "it came loose"),
    ),
    (
        Kind::Finding,
        &[("code", "N-1"), ("attempts", "A-1"), ("cause", "tight")],
        ("words", "the bracket", "the wrist met the bracket"),
    ),
    (
        Kind::Remedy,
        &[("code", "R-1"), ("what", "Offset grip"), ("attempts", "A-1")],
        ("owner", "tools", "tools engineer"),
    ),
    (
        Kind::Exemption,
        &[("code", "X-1"), ("task", "T-0001"), ("attempts", "A-1"), ("words", "no bracket")],
        ("words", "no bracket here", "the bracket is off"),
    ),
    (
        Kind::Attempt,
        &[
            ("code", "A-2"),
            ("task", "T-0002"),
            ("excursion", "E-39.1"),
            ("technique", "K-LEVER"),
            ("side", "zenith"),
            ("outcome", "done"),
            ("minutes", "30"),
        ],
        ("as_left", "all in place", "all in place, cover off"),
    ),
    (
        Kind::Decline,
        &[("code", "DO-1"), ("attempt", "A-2"), ("task", "T-0001"), ("words", "too tight")],
        ("words", "too narrow", "the strut is in the way"),
    ),
    (
        Kind::Revision,
        &[("code", "K-LEVER.0"), ("technique", "K-LEVER"), ("number", "0")],
        ("changed", "first", "first written"),
    ),
    (
        Kind::Rehearsal,
        &[("code", "H-1"), ("technique", "K-LEVER"), ("kind", "tank"), ("success", "yes")],
        ("notes", "0:29", "0:31"),
    ),
    (
        Kind::Qualification,
        &[("code", "QU-1"), ("crew", "C-4"), ("technique", "K-LEVER")],
        ("place", "tank", "tank, second run"),
    ),
    (
        Kind::Inhibit,
        &[("code", "I-1"), ("what", "Pump A off"), ("lead", "60")],
        ("owner", "thermal", "thermal console"),
    ),
    (
        Kind::Arrangement,
        &[("code", "AR-1"), ("inhibit", "I-1"), ("excursion", "E-40.1"), ("state", "asked")],
        ("notes", "by voice", "in writing"),
    ),
    (
        Kind::OutsideItem,
        &[("code", "O-1"), ("what", "Foot rest"), ("worksite", "W-KEEL")],
        ("purpose", "stance", "stance for C-14"),
    ),
    (
        Kind::ExcursionTool,
        &[("code", "M-1"), ("excursion", "E-39.1"), ("tool", "L-1"), ("taken_out", "2")],
        ("not_counted", "nobody looked", "bag not opened"),
    ),
    (
        Kind::Route,
        &[("code", "Q-1"), ("from_site", "W-KEEL"), ("to_site", "W-LOCK"), ("minutes", "9")],
        ("notes", "handrails", "keel handrails"),
    ),
    (
        Kind::Cause,
        &[
            ("code", "loose"),
            ("words", "Too loose"),
            ("cause_group", "reach"),
            ("scope", "hardware"),
        ],
        ("words", "Too loose by hand", "Too loose by tool"),
    ),
    (
        Kind::Settings,
        &[("code", "TEAM"), ("supply_reserve", "45"), ("why", "the team’s decision")],
        ("why", "as the crew asked", "as the surgeon asked"),
    ),
    (
        Kind::SuitRates,
        &[
            ("code", "SU-1"),
            ("light", "170"),
            ("moderate", "235"),
            ("heavy", "345"),
            ("overhead", "225"),
            ("quotient", "0.85"),
            ("leakage", "8"),
            ("external_work", "0"),
            ("electrics", "69"),
            ("environment", "0"),
            ("water_heat", "2.45"),
            ("source", "own logs"),
        ],
        ("source", "logs of the keel work", "logs of the mast work"),
    ),
];

/// What the records above name and no test looks at.
const BESIDE: &[(Kind, &[(&str, &str)])] = &[
    (
        Kind::Flight,
        &[
            ("code", "G-39"),
            ("launch", "2030-06-01"),
            ("landing", "2030-06-20"),
            ("state", "flown"),
        ],
    ),
    (
        Kind::Excursion,
        &[("code", "E-39.1"), ("flight", "G-39"), ("day", "2030-06-05"), ("state", "flown")],
    ),
    (Kind::Worksite, &[("code", "W-LOCK"), ("name", "Airlock")]),
];

fn folder(kind: Kind) -> &'static str {
    if kind == Kind::OutsideItem { "outside" } else { kind.plural() }
}

async fn make(app: &TestApp, kind: Kind, fields: &[(&str, &str)]) {
    let path = format!("/{}/new", folder(kind));
    assert_eq!(app.get(&path).await.status, 200, "{path}");
    let reply = app.post(&path, fields).await;
    assert_eq!(reply.status, 303, "{kind}: {}", reply.body);
}

async fn cell(app: &TestApp, kind: Kind, code: &str, name: &str) -> String {
    let mut db = app.app.db.reader().await.unwrap();
    kinds::find(&mut db, kind, code).await.unwrap().unwrap().get(name).to_owned()
}

/// The fields of an edit form as a browser would send them back unchanged.
fn typed_of(page: &str) -> Vec<(String, String)> {
    let form = page.split("<form").find(|form| form.contains("data-draft")).unwrap();
    let form = form.split("</form>").next().unwrap();
    let text = |raw: &str| {
        raw.replace("&#60;", "<")
            .replace("&#62;", ">")
            .replace("&#34;", "\"")
            .replace("&#39;", "'")
            .replace("&#38;", "&")
    };
    let attribute = |tag: &str, name: &str| {
        let mark = format!(" {name}=\"");
        let at = tag.find(&mark)? + mark.len();
        tag[at..].split('"').next().map(text)
    };
    let mut fields = Vec::new();
    let mut in_select = false;
    for rest in form.split('<').skip(1) {
        let tag = rest.split('>').next().unwrap_or("");
        if tag.starts_with("select") || tag.starts_with("/select") {
            in_select = tag.starts_with("select");
        }
        let is_choice = tag.contains("type=\"radio\"") || tag.contains("type=\"checkbox\"");
        let is_off = is_choice && !tag.ends_with("checked");
        if tag.starts_with("input") && !is_off && !tag.contains("type=\"file\"") {
            let value = attribute(tag, "value").unwrap_or_default();
            fields.push((attribute(tag, "name").unwrap(), value));
        } else if tag.starts_with("textarea") {
            let value = rest.split_once('>').map_or("", |(_, value)| value);
            fields.push((attribute(tag, "name").unwrap(), text(value.trim_start_matches('\n'))));
        } else if tag.starts_with("select") {
            fields.push((attribute(tag, "name").unwrap(), String::new()));
        } else if in_select
            && tag.starts_with("option")
            && let Some((_, value)) = fields.last_mut()
            && (tag.ends_with(" selected") || value.is_empty())
        {
            *value = attribute(tag, "value").unwrap_or_default();
        }
    }
    fields
}

fn with(fields: &[(String, String)], name: &str, value: &str) -> Vec<(String, String)> {
    let mut fields = fields.to_vec();
    let field = fields.iter_mut().find(|(known, _)| known == name).expect("the form has it");
    value.clone_into(&mut field.1);
    fields
}

/// A lead, and an administrator for what a lead may not keep.
async fn everything(db: SqlitePool) -> (TestApp, TestApp) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    app.person("keeper", Role::Administrator).await;
    let keeper = app.another();
    keeper.sign_in("keeper").await;
    make(
        &keeper,
        Kind::Cause,
        &[
            ("code", "tight"),
            ("words", "Too tight"),
            ("cause_group", "reach"),
            ("scope", "approach"),
        ],
    )
    .await;
    for (kind, fields) in BESIDE {
        make(&app, *kind, fields).await;
    }
    (app, keeper)
}

#[sqlx::test]
async fn every_kind_is_made_edited_and_never_overwritten(db: SqlitePool) {
    let (lead, keeper) = everything(db).await;
    for (kind, fields, (name, mine, theirs)) in RECORDS {
        let app = if may(Role::Lead, action_for(*kind)) { &lead } else { &keeper };
        make(app, *kind, fields).await;
        let code = fields[0].1;
        let path = format!("/{}/{code}/edit", folder(*kind));
        let old = app.get(&path).await;
        assert_eq!(old.status, 200, "{path}: {}", old.body);
        let form = typed_of(&old.body);

        let first = app.post_only(&path, &with(&form, name, theirs)).await;
        assert_eq!(first.status, 303, "{kind}: {}", first.body);
        assert_eq!(cell(app, *kind, code, name).await, *theirs, "{kind}");

        let mut second = with(&form, name, mine);
        second = with(&second, "form_key", &format!("second-{code}"));
        let both = app.post_only(&path, &second).await;
        assert_eq!(both.status, 409, "{kind}: {}", both.body);
        assert!(both.body.contains(mine) && both.body.contains(theirs), "{kind}: {}", both.body);
        assert_eq!(cell(app, *kind, code, name).await, *theirs, "{kind}: nothing overwritten");

        let version = both.body.split("name=\"version\" value=\"").nth(1).unwrap();
        let version = version.split('"').next().unwrap();
        let chosen = with(&with(&second, "version", version), "form_key", &format!("third-{code}"));
        let saved = app.post_only(&path, &chosen).await;
        assert_eq!(saved.status, 303, "{kind}: {}", saved.body);
        assert_eq!(cell(app, *kind, code, name).await, *mine, "{kind}");
    }
    let covered: Vec<Kind> = RECORDS.iter().map(|(kind, ..)| *kind).collect();
    // A slot is made and changed at its desk alone (`lanes`, `slot_desk`).
    let missing: Vec<_> = Kind::IMPORTED
        .iter()
        .filter(|kind| !covered.contains(kind) && **kind != Kind::Slot)
        .collect();
    assert!(missing.is_empty(), "{missing:?}");
}

/// Saves the notes of a flight again and again, each time with the version that they make.
async fn edits_without_end(app: &app::App, go_on: &std::sync::atomic::AtomicBool) {
    use app::records::Base;
    use app::work::Work;
    let actor = app::Actor { name: "other".into(), role: Role::Lead };
    for version in 2_i64.. {
        if !go_on.load(std::sync::atomic::Ordering::Relaxed) {
            break;
        }
        let mut work = Work::begin(app, &actor, None).await.unwrap();
        let mut cells = kinds::find(work.db(), Kind::Flight, "G-40").await.unwrap().unwrap();
        cells.set("notes", format!("version {version}"));
        kinds::save_typed(&mut work, Kind::Flight, cells, Base::Current).await.unwrap();
        work.finish("").await.unwrap();
    }
}

#[sqlx::test]
async fn the_version_of_a_form_belongs_to_the_cells_beside_it(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    make(&app, Kind::Flight, &[("code", "G-40"), ("notes", "version 1")]).await;
    let go_on = std::sync::atomic::AtomicBool::new(true);
    let reads = async {
        let mut seen = std::collections::BTreeSet::new();
        for _ in 0..150 {
            let page = app.get("/flights/G-40/edit").await;
            let fields = typed_of(&page.body);
            let value =
                |name: &str| fields.iter().find(|(known, _)| known == name).unwrap().1.clone();
            assert_eq!(value("notes"), format!("version {}", value("version")));
            seen.insert(value("version"));
        }
        go_on.store(false, std::sync::atomic::Ordering::Relaxed);
        seen.len()
    };
    let (states, ()) = tokio::join!(reads, edits_without_end(&app.app, &go_on));
    assert!(states > 5, "the record moved on while it was read: {states} states");
}

#[sqlx::test]
async fn the_same_form_twice_makes_one_record(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    app.get("/tools/new").await;
    let mut fields = app.hidden("/tools/new");
    fields.push(("name".into(), "Lever grip".into()));

    let first = app.post_only("/tools/new", &fields).await;
    let second = app.post_only("/tools/new", &fields).await;

    assert_eq!((first.status.as_u16(), second.status.as_u16()), (303, 303));
    assert_eq!(first.location, second.location);
    let mut db = app.app.db.reader().await.unwrap();
    assert_eq!(kinds::after(&mut db, Kind::Tool, "", 10).await.unwrap().len(), 1);
}

#[sqlx::test]
async fn what_is_wrong_stands_beside_its_field_and_nothing_typed_is_lost(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    app.get("/attempts/new?task=T-0142").await;

    let reply =
        app.post("/attempts/new", &[("task", "T-0142"), ("words", "it <bound> halfway")]).await;

    assert_eq!(reply.status, 422);
    assert!(reply.body.contains("it &#60;bound&#62; halfway"), "{}", reply.body);
    assert!(reply.body.contains("id=\"f-excursion-error\""), "{}", reply.body);
    assert!(reply.body.contains("href=\"#f-outcome\""), "{}", reply.body);
}

#[sqlx::test]
async fn a_form_is_filled_from_its_address(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    let page = app.get("/attempts/new?task=T-0142&excursion=E-37.2").await;
    assert!(page.body.contains("name=\"task\" value=\"T-0142\""), "{}", page.body);
    assert!(page.body.contains("name=\"excursion\" value=\"E-37.2\""), "{}", page.body);
}

#[sqlx::test]
async fn a_role_is_offered_only_what_it_may_set(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    app.person("engineer", Role::Engineer).await;
    app.person("viewer", Role::Viewer).await;
    let make_one = [("code", "T-0001"), ("title", "Pull C-14"), ("class", "2")];
    make(&app, Kind::Task, &make_one).await;

    let engineer = app.another();
    engineer.sign_in("engineer").await;
    let form = engineer.get("/tasks/T-0001/edit").await;
    assert!(!form.body.contains("name=\"class\"") && !form.body.contains("needed_by"));
    let typed = with(&typed_of(&form.body), "title", "Pull cassette");
    assert_eq!(engineer.post_only("/tasks/T-0001/edit", &typed).await.status, 303);
    assert_eq!(cell(&app, Kind::Task, "T-0001", "class").await, "2", "kept");
    assert_eq!(cell(&app, Kind::Task, "T-0001", "title").await, "Pull cassette");

    let viewer = app.another();
    viewer.sign_in("viewer").await;
    let refused = viewer.get("/tasks/new").await;
    assert_eq!(refused.status, 403);
    assert!(refused.body.contains("Ask an engineer or a lead"), "{}", refused.body);
    assert_eq!(viewer.post("/tasks/new", &[("title", "x")]).await.status, 403);
}

#[sqlx::test]
async fn plain_pages_show_a_record_and_its_changes(db: SqlitePool) {
    let (app, _) = everything(db).await;
    make(&app, Kind::Position, &[("code", "C 14/a"), ("worksite", "W-LOCK")]).await;

    let page = app.get("/positions/C%2014%2Fa").await;
    assert_eq!(page.status, 200);
    assert!(page.body.contains("data-code=\"C 14/a\""), "{}", page.body);
    assert!(page.body.contains("href=\"/worksites/W-LOCK\""), "{}", page.body);
    assert!(page.body.contains("Change history") && page.body.contains("made"));
    let list = app.get("/positions").await;
    assert!(list.body.contains("href=\"/positions/C%2014%2Fa\""), "{}", list.body);
    assert_eq!(app.get("/positions/nothing").await.status, 404);
}

#[sqlx::test]
async fn of_two_edits_a_field_that_one_left_alone_stays_as_the_other_made_it(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    app.get("/worksites/new").await;
    let site = [("code", "W-7"), ("name", "Mast foot"), ("notes", "narrow")];
    assert_eq!(app.post("/worksites/new", &site).await.status, 303);
    let form = typed_of(&app.get("/worksites/W-7/edit").await.body);
    let first = with(&with(&form, "name", "Mast foot, port"), "notes", "narrow, cold");
    assert_eq!(app.post_only("/worksites/W-7/edit", &first).await.status, 303);
    let second = with(&with(&form, "notes", "narrow, dark"), "form_key", "second");
    let both = app.post_only("/worksites/W-7/edit", &second).await;
    assert_eq!(both.status, 409, "{}", both.body);
    let chosen = |name: &str| {
        let radio = format!("type=\"radio\" name=\"{name}\" value=\"");
        let all = both.body.split(&radio).skip(1).map(|rest| rest.split('>').next().unwrap());
        let chosen: Vec<&str> = all.filter(|rest| rest.contains("checked")).collect();
        assert_eq!(chosen.len(), 1, "{name}: {}", both.body);
        chosen[0].split('"').next().unwrap().to_owned()
    };
    assert_eq!(chosen("name"), "Mast foot, port", "left alone by the second");
    assert_eq!(chosen("notes"), "narrow, dark", "changed by both");
}
