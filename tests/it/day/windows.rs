//! Windows that will be missed: what to ask for, and where it is entered.

use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use super::{DAY, press};
use crate::small_record::{FLOWN, lay, made};
use crate::support::TestApp;

async fn edited(app: &TestApp, address: &str, fields: &[(&str, &str)]) {
    app.get(&format!("{address}/edit")).await;
    let reply = app.post(&format!("{address}/edit"), fields).await;
    assert_eq!(reply.status, 303, "{address}: {}", reply.body);
}

/// The part of the board with the windows of a task.
fn row_of<'p>(page: &'p str, task: &str) -> &'p str {
    let (_, windows) = page.split_once("id=\"windows\"").unwrap();
    let windows = windows.split("</section>").next().unwrap();
    let rows = windows.split("<tr>").find(|row| row.contains(&format!(">{task}</a>")));
    rows.unwrap_or_else(|| panic!("{task}: {windows}"))
}

#[sqlx::test]
async fn a_window_that_will_be_missed_says_what_to_ask_for_and_leads_to_where_it_is_entered(
    db: SqlitePool,
) {
    let app = TestApp::new(db).await.signed_in(Role::Lead).await;
    lay(&app.app).await;
    made(&app.app, Kind::Inhibit, "code: IN-1 | what: heater off | owner: power").await;
    let arranged = "inhibit: IN-1 | excursion: E-37.1 | state: arranged | until_pet: 2:05";
    let arranged = made(&app.app, Kind::Arrangement, arranged).await;
    edited(&app, "/tasks/T-1", &[("needs_inhibits", "IN-1")]).await;
    edited(&app, "/tasks/T-2", &[("arm", "yes")]).await;
    edited(&app, "/excursions/E-37.1", &[("arm_windows", "0:30-2:05, 5:00-5:10")]).await;
    app.wait_until(FLOWN, "lead").await;
    let reply = press(&app, "e1", "egress", &[("egress_at", "2031-03-11 12:30")]).await;
    assert_eq!(reply.status, 200, "{}", reply.body);

    // At 1:50 nobody has begun: 20, 30 and 45 minutes of work end at about 2:21, eight in ten by 2:26 or
    // so, and what is asked for is the next full ten minutes. By hand, from the three points. Common
    // practice.
    let page = app.get(DAY).await.body;
    let row = row_of(&page, "T-1");
    let address = format!("/arrangements/{arranged}/edit?until_pet=");
    assert!(row.contains(&address) && row.contains("Ask for 2:30</a>"), "{row}");
    assert!(row.contains("inhibit IN-1") && row.contains("ends 2:2"), "{row}");
    let arm = row_of(&page, "T-2");
    assert!(arm.contains("/excursions/E-37.1/edit?arm_windows=0%3A30"), "{arm}");
    assert!(arm.contains("Ask for 2:30</a>"), "{arm}");

    // The form has it filled in and nothing is saved before somebody does.
    let (_, link) = row.split_once("href=\"/arrangements/").unwrap();
    let link = format!("/arrangements/{}", link.split('#').next().unwrap());
    let form = app.get(&link).await.body;
    assert!(form.contains("name=\"until_pet\" value=\"2:30\""), "{form}");
    assert!(row_of(&app.get(DAY).await.body, "T-1").contains("Ask for 2:30"));
    edited(&app, &format!("/arrangements/{arranged}"), &[("until_pet", "2:30")]).await;
    let row = app.get(DAY).await.body;
    let row = row_of(&row, "T-1");
    assert!(!row.contains("Ask for") && row.contains("P80 2:2"), "{row}");

    // Whoever may not change it reads what to ask for.
    let viewer = app.another().signed_in(Role::Viewer).await;
    let page = viewer.get(DAY).await.body;
    let row = row_of(&page, "T-2");
    assert!(row.contains("Ask for 2:30") && !row.contains("/edit?"), "{row}");
}
