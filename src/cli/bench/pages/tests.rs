//! The sweep asks for every address that is looked at, and each answers.

use super::*;
use app::clock::Clock;
use app::config::Config;
use domain::cells::Cell as _;
use domain::time::Moment;
use store::Db;

/// The demo has something of almost every kind.
#[tokio::test(flavor = "multi_thread")]
async fn every_address_that_is_looked_at_is_swept_and_answers() {
    let folder = tempfile::tempdir().unwrap();
    let db = Db::open(&folder.path().join(data::FILE)).await.unwrap();
    let clock = Clock::fixed(Moment::read("2030-11-21T14:20:00Z").unwrap());
    let app = App::new(db, clock, Config::default());
    crate::demo::fill(&app, None).await.unwrap();
    let (lead, _) = signed_in(&app, Role::Lead).await.unwrap();
    let (administrator, _) = signed_in(&app, Role::Administrator).await.unwrap();
    let asking = Asking { router: web::router(app.clone()), who: [lead, administrator] };
    let passing = Passing::begin(&app).await.unwrap();
    let mut db = app.db.reader().await.unwrap();
    let (mut swept, mut nothing, mut unknown) = (0, Vec::new(), Vec::new());
    let (mut long, mut refused) = (Vec::new(), Vec::new());
    for route in web::addresses_answered() {
        let begun = passing.path(&route).map(|path| vec![path]);
        let paths = begun.or(sweep::fill(&mut db, &route).await.unwrap());
        let unasked = match &paths {
            None => Some(&mut unknown),
            Some(paths) if paths.is_empty() => Some(&mut nothing),
            Some(_) => None,
        };
        if let Some(unasked) = unasked {
            if asking.is_looked_at(&route).await.unwrap() {
                unasked.push(route);
            }
            continue;
        }
        let mut statuses = Vec::new();
        for path in paths.unwrap_or_default() {
            let answer = asking.answer(&path).await.unwrap_or_else(|why| panic!("{why:?}"));
            let nodes = answer.nodes.unwrap_or(0);
            let many = nodes > MAX_NODES && is_of_a_task(&path);
            if many || (nodes > 0 && answer.bytes > MAX_TASK_BYTES) {
                long.push(format!("{path}: {} bytes, {nodes} elements", answer.bytes));
            }
            statuses.push(answer.status);
            swept += 1;
        }
        // What is only posted to is no page; what is refused everywhere was asked wrongly.
        let is_fine = |status: &StatusCode| status.is_success() || status.is_redirection();
        let is_page = statuses.iter().any(|status| *status != StatusCode::METHOD_NOT_ALLOWED);
        // A link that nobody made, a cause kind that comes with the service, no words picked.
        let exempt = ["/welcome/{link}", "/causes/{code}/edit", "/excursions/{code}/words"];
        if is_page && !statuses.iter().any(is_fine) && !exempt.contains(&route.as_str()) {
            refused.push(route);
        }
    }
    assert_eq!(long, [""; 0], "pages of the demo that are too long");
    assert_eq!(refused, [""; 0], "nothing that is asked there is answered");
    assert_eq!(unknown, [""; 0], "the sweep does not know what to ask of these");
    assert_eq!(nothing, [""; 0], "the demo has nothing to ask there");
    assert!(swept > 150, "{swept}");
    drop(db);
    passing.end(&app).await.unwrap();
}
