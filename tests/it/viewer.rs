//! A viewer is shown no act that is refused to them: every page of the demo, every link, every form.

use std::collections::BTreeSet;

use app::Actor;
use app::work::Work;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::support::TestApp;
use crate::walk::{attribute, demo_as, main_of, plain, tags, walk};

/// A form of a page.
#[derive(Default)]
struct Form {
    action: String,
    id: Option<String>,
    is_post: bool,
    hidden: Vec<(String, String)>,
    /// Fields that can be edited, by name.
    open: Vec<String>,
    has_button: bool,
}

/// The forms in the page's own part. A field in a disabled set of fields cannot be edited.
fn forms(page: &str) -> Vec<Form> {
    let (mut all, mut now, mut shut, mut apart) =
        (Vec::new(), None::<Form>, Vec::new(), Vec::new());
    for (tag, _) in tags(main_of(page)) {
        let name = tag.split([' ', '\n']).next().unwrap_or_default();
        let is_off = tag.ends_with(" disabled") || tag.contains(" disabled ");
        match name {
            "form" => {
                now = Some(Form {
                    action: plain(attribute(tag, "action").unwrap_or_default()),
                    id: attribute(tag, "id").map(str::to_owned),
                    is_post: attribute(tag, "method") == Some("post"),
                    ..Form::default()
                });
            }
            "/form" => all.extend(now.take()),
            "fieldset" => shut.push(is_off),
            "/fieldset" => drop(shut.pop()),
            "button" if attribute(tag, "form").is_some() => {
                apart.extend(attribute(tag, "form").map(str::to_owned));
            }
            "button"
                if attribute(tag, "type") != Some("button") && !is_off && !shut.contains(&true) =>
            {
                if let Some(form) = &mut now {
                    form.has_button = true;
                }
            }
            "input" | "select" | "textarea" => {
                let Some(form) = &mut now else { continue };
                let field = attribute(tag, "name").unwrap_or_default().to_owned();
                if attribute(tag, "type") == Some("hidden") {
                    form.hidden.push((field, plain(attribute(tag, "value").unwrap_or_default())));
                } else if !is_off && !shut.contains(&true) {
                    form.open.push(field);
                }
            }
            _ => {}
        }
    }
    for form in &mut all {
        form.has_button |= form.id.as_ref().is_some_and(|id| apart.contains(id));
    }
    all
}

/// Their own account is theirs to change; a sign-out would end the walk.
fn is_own(action: &str) -> bool {
    action.starts_with("/account") || action.starts_with("/sign-out")
}

async fn refused(app: &TestApp, from: &str, form: &Form) -> Option<String> {
    let reply = app.post_only(&form.action, &form.hidden).await;
    (reply.status == 403).then(|| format!("{from}: the form to {} answers 403", form.action))
}

/// The board of a practice run.
async fn rehearsed(app: &TestApp, code: &str) -> String {
    let engineer = Actor { name: "engineer".into(), role: Role::Engineer };
    let mut work = Work::begin(&app.app, &engineer, None).await.unwrap();
    let run = app::day::begin_practice(&mut work, code, 60, None).await.unwrap();
    work.finish("").await.unwrap();
    format!("/excursions/{code}/practice/{}", run.code)
}

#[sqlx::test]
async fn a_viewer_is_shown_no_act_that_is_refused_to_them(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let (mut wrong, mut read) = (Vec::new(), Vec::new());
    walk(&app, |page| {
        let (path, from) = (&page.path, &page.from);
        if page.reply.status == 403 {
            wrong.push(format!("{from}: the link to {path} answers 403"));
        }
        read.push((path.clone(), forms(&page.reply.body)));
    })
    .await;
    // A rehearsal that somebody else has begun leads to pages that no link of theirs names.
    let board = rehearsed(&app, "E-37.1").await;
    for path in [board.clone(), format!("{board}/debrief")] {
        let page = app.get(&path).await;
        assert_eq!(page.status, 200, "{path}: {}", page.body);
        read.push((path, forms(&page.body)));
    }
    let mut tried = BTreeSet::new();
    for (path, forms) in &read {
        for form in forms {
            if !form.open.is_empty() && !form.has_button {
                wrong.push(format!("{path}: {} can be edited and not sent", form.open.join(", ")));
            }
            if form.is_post
                && form.has_button
                && !is_own(&form.action)
                && tried.insert(form.action.clone())
            {
                wrong.extend(refused(&app, path, form).await);
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(
        read.iter().any(|(_, forms)| forms.iter().any(|form| form.is_post)),
        "no form was read"
    );
}
