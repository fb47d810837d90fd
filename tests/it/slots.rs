//! The matrix of slots over HTTP: what may be set, what is refused and how a refusal reads.

use app::demo;
use domain::cells::Cell as _;
use domain::time::Moment;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::support::{NOW, Reply, TestApp};

/// The demo record with a lead, an engineer and a viewer, the lead signed in.
async fn skerry(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    app.person("engineer", Role::Engineer).await;
    app.person("viewer", Role::Viewer).await;
    app.signed_in(Role::Lead).await
}

/// Opens a cell and sends its first form with these fields changed.
async fn plan(app: &TestApp, cell: &str, fields: &[(&str, &str)]) -> Reply {
    let page = app.get(&format!("/slots?cell={cell}")).await;
    assert_eq!(page.status, 200, "{}", page.body);
    let (_, excursion) = cell.split_once(':').unwrap();
    assert!(page.body.contains(&format!("href=\"/excursions/{excursion}\"")), "{cell} is not open");
    app.post("/slots", fields).await
}

/// The gate's verdict in the opened cell.
fn gate<'a>(page: &'a str, gate: &str) -> &'a str {
    let (_, rest) = page.split_once(&format!("data-gate=\"{gate}\" data-verdict=\"")).unwrap();
    rest.split('"').next().unwrap()
}

/// The row of a task.
fn row<'a>(page: &'a str, task: &str) -> &'a str {
    let (_, rest) = page.split_once(&format!("<tr data-code=\"{task}\"")).unwrap();
    rest.split("</tr>").next().unwrap()
}

#[sqlx::test]
async fn fits_and_tight_may_be_set_and_cannot_tell_asks_for_a_waiver(db: SqlitePool) {
    let app = skerry(db).await;

    // It fits.
    let reply = plan(&app, "T-0162:E-37.1", &[("do", "set")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get("/slots?q=T-0162").await;
    assert!(row(&page.body, "T-0162").contains("k-set"), "{}", page.body);

    // It fits with a note: the last tool of its kind.
    let opened = app.get("/slots?cell=T-0119:E-37.2").await;
    assert_eq!(gate(&opened.body, "tools-and-hardware"), "note");
    assert!(opened.body.contains("met, with a note"), "the legend names it");
    let reply = app.post("/slots", &[("do", "set")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);

    // Nobody estimated it, so the time cannot be told.
    let opened = app.get("/slots?cell=T-0171:E-37.1").await;
    assert_eq!(gate(&opened.body, "time"), "cannot-tell");
    let reply = app.post("/slots", &[("do", "set")]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("time”, cannot tell"), "{}", reply.body);

    // A waiver of another gate is none, and one without a reason neither.
    let reply = app.post("/slots", &[("do", "set"), ("waive", "tools and hardware")]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    let gates = ["time", "inhibits", "suit supplies"].map(|gate| ("waive", gate));
    let both = [&[("do", "set")][..], &gates].concat();
    let reply = app.post("/slots", &both).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("Write down why"), "{}", reply.body);

    let reason = "The ground has walked it in the tank: 20 minutes.";
    let reply = app.post("/slots", &[&both[..], &[("waiver", reason)]].concat()).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get("/slots?cell=T-0171:E-37.1").await;
    assert!(
        page.body.contains(&format!("Waived: time, inhibits, suit supplies. {reason}")),
        "{}",
        page.body
    );
}

#[sqlx::test]
async fn of_two_leads_who_set_all_that_is_left_at_once_one_is_refused(db: SqlitePool) {
    let app = skerry(db).await;
    let other = app.another();
    other.person("second", Role::Lead).await;
    other.sign_in("second").await;
    for (lead, cell) in [(&app, "T-0162:E-37.1"), (&other, "T-0162:E-37.2")] {
        assert_eq!(lead.get(&format!("/slots?cell={cell}")).await.status, 200);
    }
    let set = [("do", "set")];
    let (first, second) = tokio::join!(app.post("/slots", &set), other.post("/slots", &set));
    let mut replies = [first, second];
    replies.sort_by_key(|reply| reply.status);
    assert_eq!(replies.each_ref().map(|reply| reply.status.as_u16()), [303, 422]);
    assert!(replies[1].body.contains("set slots hold all"), "{}", replies[1].body);
    let page = app.get("/slots?q=T-0162").await.body;
    assert_eq!(row(&page, "T-0162").matches("#k-set").count(), 1, "{page}");
}

#[sqlx::test]
async fn a_blocked_approach_is_refused_with_its_attempts_and_what_is_left(db: SqlitePool) {
    let app = skerry(db).await;
    let shut = [("do", "set"), ("approach", "K-LEVER,nadir")];

    let reply = plan(&app, "T-0142:E-37.2", &shut).await;

    // The demo tells of two jams from this side, and of a lever that nobody tried from another.
    assert_eq!(reply.status, 409, "{}", reply.body);
    for said in ["approach”, not met", "A-0", "Approaches left: K-LEVER from starboard"] {
        assert!(reply.body.contains(said), "{said} is missing in {}", reply.body);
    }
    assert_eq!(gate(&reply.body, "approach"), "not-met", "the page shows what was asked");
    let page = app.get("/slots?q=T-0142").await;
    assert!(!row(&page.body, "T-0142").contains("k-set"), "nothing was set");

    // It can be pencilled, with the same gate against it; then set with a waiver.
    let pencil = [("do", "pencil"), ("approach", "K-LEVER,nadir")];
    let reply = plan(&app, "T-0142:E-37.2", &pencil).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = app.get("/slots?cell=T-0142:E-37.2").await;
    assert_eq!(gate(&page.body, "approach"), "not-met");
    let action = action_of(&page.body, "/set");
    let reply = app.post(&action, &[]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    let waiver = [("waive", "approach"), ("waiver", "A new cassette; the jam was the old frame.")];
    let reply = app.post(&action, &waiver).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
}

/// The address of the open cell's form that ends so.
fn action_of(page: &str, end: &str) -> String {
    page.split("action=\"")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .find(|action| action.starts_with("/slots/") && action.ends_with(end))
        .unwrap_or_else(|| panic!("no form ends in {end}: {page}"))
        .to_owned()
}

#[sqlx::test]
async fn a_set_slot_leaves_with_a_reason_and_a_viewer_only_reads(db: SqlitePool) {
    let app = skerry(db).await;
    let page = app.get("/slots?cell=T-0114:E-37.1").await;
    let (off, away) = (action_of(&page.body, "/withdraw"), action_of(&page.body, "/move"));

    let reply = app.post(&off, &[]).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(
        reply.body.contains("a set slot that is removed or moved later leaves a deferral"),
        "{}",
        reply.body
    );
    let reason = [("to", "E-37.2"), ("reason", "priority"), ("words", "The latches go first.")];
    let reply = app.post(&away, &reason).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert!(reply.location.contains("cell=T-0114:E-37.2"), "{}", reply.location);
    let page = app.get("/deferrals").await;
    assert!(page.body.contains("T-0114"), "the move left a deferral");

    let engineer = app.another();
    engineer.sign_in("engineer").await;
    let reply = plan(&engineer, "T-0162:E-37.1", &[("do", "set")]).await;
    assert_eq!(reply.status, 403, "{}", reply.body);
    let reply = plan(&engineer, "T-0162:E-37.1", &[("do", "pencil")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);

    let viewer = app.another();
    viewer.sign_in("viewer").await;
    let page = viewer.get("/slots?cell=T-0119:E-37.2").await;
    assert_eq!(page.status, 200, "{}", page.body);
    assert!(page.body.contains("data-gate=\"time\""), "a viewer reads the gates");
    assert!(!page.body.contains("Set on E-") && !page.body.contains("Pencil on E-"));
    let fields = [("cell", "T-0119:E-37.2"), ("approach", ","), ("seats", "EV1")];
    for act in ["set", "pencil"] {
        let with = [fields.as_slice(), &[("do", act)]].concat();
        let reply = viewer.post("/slots", &with).await;
        assert_eq!(reply.status, 403, "{}", reply.body);
    }
}

#[sqlx::test]
async fn filters_narrow_the_rows_and_stand_in_the_address(db: SqlitePool) {
    let app = skerry(db).await;

    // Of the demo's tasks only the one beyond the transfer line waits for a way there.
    let page = app.get("/slots?check=routes+and+outside+items").await;
    assert_eq!(page.body.matches("<tr data-code=").count(), 1, "{}", page.body);
    assert!(row(&page.body, "T-0150").contains("data-verdict=\"does-not-fit\""));
    assert!(page.body.contains("check=routes%20and%20outside%20items&#38;cell=T-0150:E-37.1"));

    let all = app.get("/slots").await;
    assert_eq!(all.body.matches("<tr data-code=").count(), 25);
    assert!(all.body.contains("href=\"/slots?page=2\""), "{}", all.body);
    let none = app.get("/slots?q=zzzz").await;
    assert!(none.body.contains("No open task matches"), "{}", none.body);
    let parked = app.get("/slots?page=2").await;
    assert!(row(&parked.body, "T-0152").contains("not judged while it is parked"));
}

/// The codes of the rows, in their order.
fn rows(page: &str) -> Vec<&str> {
    let starts = page.split("<tr data-code=\"").skip(1);
    starts.map(|rest| rest.split('"').next().unwrap()).collect()
}

#[sqlx::test]
async fn rows_are_ranked_by_value_and_chance_with_class_one_first(db: SqlitePool) {
    let app = skerry(db).await;
    let page = app.get("/slots").await;

    assert!(page.body.contains("class 1 first, then by value × chance"), "{}", page.body);
    let worth = |code: &str| {
        let (_, rest) = row(&page.body, code).split_once("value ").unwrap();
        let own: f64 = rest.split([' ', '<']).next().unwrap().parse().unwrap();
        let best = rest.split_once(" · ").and_then(|(_, rest)| rest.split(' ').next());
        (own, best.and_then(|worth| worth.parse::<f64>().ok()).unwrap_or(0.0))
    };
    let (first, rest): (Vec<&str>, Vec<&str>) =
        rows(&page.body).into_iter().partition(|code| row(&page.body, code).contains("class c1"));
    assert!(!first.is_empty() && rest.len() > 10, "{}", page.body);
    assert_eq!(rows(&page.body)[..first.len()], first, "class 1 comes first");
    for pair in rest.windows(2) {
        assert!(worth(pair[0]).1 >= worth(pair[1]).1, "{pair:?}");
    }
    // T-0126, class 2, is needed by nothing; the sum stands with its parts in the opened cell.
    let page = app.get("/slots?cell=T-0126:E-38.1").await;
    assert!(page.body.contains("counts"), "{}", page.body);
    assert!(page.body.contains("to end inside the limit"), "{}", page.body);
}

/// What would make the opened cell fit.
fn ways(page: &str) -> &str {
    let (_, rest) = page.split_once("data-part=\"openings\"").unwrap();
    rest.split("</div>").next().unwrap()
}

#[sqlx::test]
async fn what_would_make_it_fit_is_said_where_it_does_not(db: SqlitePool) {
    let app = skerry(db).await;

    // The one failure against it is answered by a remedy that is still open.
    let page = app.get("/slots?cell=T-0164:E-38.1").await;
    assert_eq!(gate(&page.body, "approach"), "not-met");
    let said = ways(&page.body);
    assert!(said.contains("Carry out and verify") && said.contains("R-018"), "{said}");

    // What it needs is open, and may be set before it.
    let page = app.get("/slots?cell=T-0144:E-38.1").await;
    assert_eq!(gate(&page.body, "order-of-work"), "not-met");
    let said = ways(&page.body);
    assert!(said.contains("before it, on") && said.contains("costs no value"), "{said}");
    let page = app.get("/tasks/T-0144").await;
    assert!(page.body.contains("data-part=\"openings\""), "{}", page.body);

    // Where it fits there is nothing to change.
    let page = app.get("/slots?cell=T-0162:E-37.1").await;
    assert!(!page.body.contains("data-part=\"openings\""), "{}", page.body);
}

#[sqlx::test]
async fn get_aheads_count_the_way_home_and_what_is_in_hand(db: SqlitePool) {
    let app = skerry(db).await;
    let begun = |page: &str| {
        let found = page.split("id=\"found\"").nth(1).unwrap_or_default();
        let may = found.split("<details").next().unwrap_or_default();
        rows(may).len()
    };

    // Nothing asked: the form alone, with the tools that the excursion takes.
    let page = app.get("/slots/get-ahead").await;
    assert_eq!(page.status, 200, "{}", page.body);
    assert!(page.body.contains("name=\"left\"") && !page.body.contains("id=\"found\""));

    let asked = "/slots/get-ahead?at=E-37.2&site=&seats=2&tools=L-007,L-021,L-002,L-018";
    let short = app.get(&format!("{asked}&left=0:25")).await;
    let long = app.get(&format!("{asked}&left=5:00")).await;
    assert_eq!((short.status.as_u16(), long.status.as_u16()), (200, 200), "{}", long.body);
    assert_eq!(begun(&short.body), 0, "nobody gets anything done and inside in 25 minutes");
    assert!(begun(&long.body) > 0, "{}", long.body);
    assert!(long.body.contains("inside by"), "{}", long.body);
    assert!(long.body.contains("not flight-certified"), "the caution stands on the page");
    let bare = app.get("/slots/get-ahead?at=E-37.2&site=&seats=2&tools=&left=5:00").await;
    assert!(begun(&bare.body) < begun(&long.body), "without tools there is less to do");
    assert!(bare.body.contains("is not in hand"), "{}", bare.body);

    // What cannot be read stands beside its field, and what was typed is kept.
    let wrong =
        app.get("/slots/get-ahead?at=E-37.2&site=W-NIX&seats=1&tools=L-999&left=soon").await;
    assert_eq!(wrong.status, 422);
    assert!(wrong.body.contains("f-left-error") && wrong.body.contains("value=\"soon\""));
    let wrong = app.get("/slots/get-ahead?at=E-37.2&site=W-NIX&tools=L-999&left=1:00").await;
    assert_eq!(wrong.status, 422);
    for said in ["W-NIX is not a worksite", "Not a tool of the record: L-999"] {
        assert!(wrong.body.contains(said), "{said} is missing in {}", wrong.body);
    }
}

#[sqlx::test]
async fn a_reason_that_holds_along_a_row_stands_once_beside_the_task(db: SqlitePool) {
    let app = skerry(db).await;
    let page = app.get("/slots?q=T-0167").await;
    let row = row(&page.body, "T-0167");
    assert_eq!(row.matches("row-reason").count(), 1, "{row}");
    let (head, cells) = row.split_once("</th>").unwrap();
    assert!(head.contains("I-004"), "the inhibit that nobody asked for is named: {head}");
    assert!(!cells.contains("I-004"), "and not again in each cell: {cells}");
}

#[sqlx::test]
async fn the_matrix_is_narrowed_to_a_flight_and_a_verdict_and_says_so(db: SqlitePool) {
    let app = skerry(db).await;
    let page = app.get("/slots?flight=G-38&verdict=fits+nowhere").await.body;
    assert!(!page.contains("/excursions/E-37.1"), "only its excursions: {page}");
    assert!(page.contains("2 filters on") && page.contains("Clear all"), "{page}");
    assert!(page.contains("href=\"/slots?flight=G-38\""), "each can be removed alone");
    let (_, table) = page.split_once("<tbody>").unwrap();
    assert!(!table.contains("data-verdict=\"fits\""), "{table}");
    let fits = app.get("/slots?flight=G-38&verdict=fits+somewhere").await.body;
    let (_, table) = fits.split_once("<tbody>").unwrap();
    for row in table.split("<tr data-code=").skip(1) {
        assert!(row.contains("data-verdict=\"fits\""), "{row}");
    }
}

#[sqlx::test]
async fn move_it_here_moves_and_the_answer_says_what_changed_with_an_undo(db: SqlitePool) {
    let app = skerry(db).await;
    // T-0167 keeps the vehicle safe, is needed by G-37 and stands on E-38.1.
    let page = app.get("/slots?cell=T-0167:E-37.2").await.body;
    let form = page.split("Move task here from E-38.1").next().unwrap();
    let action = form.rsplit("action=\"").next().unwrap().split('"').next().unwrap().to_owned();
    assert!(action.starts_with("/slots/S-") && action.ends_with("/move"), "{action}");
    let mut fields = vec![("to", "E-37.2"), ("reason", ""), ("words", "")];
    let refused = app.post(&action, &fields).await;
    if refused.status == 409 {
        // What stands against it is waived by name, as for any set slot.
        for gate in ["inhibits", "order of work", "tools and hardware", "rehearsal", "trained"] {
            fields.push(("waive", gate));
        }
        fields.push(("waiver", "The row is shown to be at 13 bar."));
        app.get("/slots?cell=T-0167:E-37.2").await;
    }
    let reply = if refused.status == 303 { refused } else { app.post(&action, &fields).await };
    assert_eq!(reply.status, 303, "{}", reply.body);
    let told = app.get(&reply.location).await.unlinked();
    assert!(told.contains("T-0167 is set on E-37.2 now."), "{told}");
    assert!(told.contains(">Undo</button>") || told.contains("Undo, with the reason"), "{told}");
}

#[sqlx::test]
async fn a_cell_of_plan_opens_there_and_its_forms_lead_back_to_plan(db: SqlitePool) {
    let app = skerry(db).await;
    let page = app.get("/plan").await.body;
    assert!(page.contains("href=\"/plan?cell=") && !page.contains("href=\"/slots?cell="), "{page}");

    // A row that is shown has its cell below it; one that is not, above the table.
    let shown = app.get("/plan?cell=T-0142:E-37.2").await;
    assert_eq!(shown.status, 200);
    assert!(shown.body.contains("<tr class=\"opened-row\" id=\"cell\">"), "{}", shown.body);
    assert!(shown.body.contains("action=\"/plan#cell\" method=\"get\""), "{}", shown.body);
    let apart = app.get("/plan?cell=T-0171:E-37.1").await.body;
    assert!(apart.contains("<div id=\"cell\" class=\"apart\">"), "{apart}");

    // Refused, it comes back as Plan with the cell open and the words at the top.
    let reply = app.post("/slots", &[("do", "set")]).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("<h1>Plan</h1>"), "{}", reply.body);
    assert!(reply.body.contains("No slot was made"), "{}", reply.body);
    assert!(reply.body.contains("id=\"cell\" class=\"apart\""), "{}", reply.body);

    app.get("/plan?cell=T-0162:E-37.1").await;
    let reply = app.post("/slots", &[("do", "set")]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(reply.location, "/plan?cell=T-0162:E-37.1");
    let told = app.get(&reply.location).await.unlinked();
    assert!(told.contains("T-0162 is set on E-37.1."), "{told}");
    assert!(told.contains(">Undo</button>"), "{told}");
}

#[sqlx::test]
async fn a_slot_moves_with_the_approach_that_was_checked_there(db: SqlitePool) {
    let app = skerry(db).await;
    let own = app.get("/tasks/T-0148").await.unlinked();
    assert!(own.contains("K-PRY from outboard"), "{own}");
    let cell = "/slots?cell=T-0148:E-37.1";
    let page = app.get(cell).await.body;
    let (_, choices) = page.split_once("name=\"by\"").unwrap();
    let values = choices.split("</select>").next().unwrap().split("value=\"").skip(1);
    let mut values = values.map(|rest| rest.split('"').next().unwrap().to_owned());
    let other = values.find(|value| value != "K-PRY,outboard" && value != ",").unwrap();
    let page = app.get(&format!("{cell}&by={other}")).await;
    assert!(page.body.contains("with K-PRY from outboard"), "{}", page.body);
    let form = page.body.split("Move task here from E-37.2").next().unwrap();
    let form = form.rsplit("<form").next().unwrap();
    assert!(form.contains(&format!("name=\"approach\" value=\"{other}\"")), "{form}");
    let action = form.split("action=\"").nth(1).unwrap().split('"').next().unwrap().to_owned();
    let mut fields = vec![("to", "E-37.1"), ("approach", &*other), ("cell", "T-0148:E-37.1")];
    let refused = app.post(&action, &fields).await;
    if refused.status == 409 {
        fields.extend(domain::words::GateName::ALL.iter().map(|gate| ("waive", gate.word())));
        fields.push(("waiver", "Tried in the stand."));
        app.get(cell).await;
    }
    let reply = if refused.status == 303 { refused } else { app.post(&action, &fields).await };
    assert_eq!(reply.status, 303, "{}", reply.body);
    let told = app.get(&reply.location).await.unlinked();
    let (technique, side) = other.split_once(',').unwrap();
    let words = format!("T-0148 is set on E-37.1 now, with {technique} from {side}.");
    assert!(told.contains(&words), "{words}: {told}");
}
