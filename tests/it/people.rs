//! Signing in, sessions, people.

use holdover::domain::words::Role;
use sqlx::SqlitePool;

use crate::support::{TestApp, password_of};

#[sqlx::test]
async fn nobody_sees_a_page_before_signing_in_and_everybody_does_after(db: SqlitePool) {
    let app = TestApp::new(db).await;
    let reply = app.get("/account?x=1").await;
    assert_eq!(
        (reply.status.as_u16(), reply.location.as_str()),
        (303, "/sign-in?next=%2Faccount%3Fx%3D1")
    );

    app.person("marit", Role::Engineer).await;
    app.get("/sign-in?next=%2Faccount%3Fx%3D1").await;
    let reply =
        app.post("/sign-in", &[("name", "Marit"), ("password", &password_of("marit"))]).await;
    assert_eq!((reply.status.as_u16(), reply.location.as_str()), (303, "/account?x=1"));

    let page = app.get("/account").await;
    assert_eq!(page.status, 200);
    assert!(page.body.contains("marit, engineer"), "{}", page.body);
}
