//! People, for administrators.

use askama::Template;
use axum::extract::State;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};

use crate::addresses::{self, encoded};
use crate::extract::{Fields, Path};
use crate::failure::{PageError, once_saved};
use crate::forms::{Choice, ErrorSummary, FieldView};
use crate::frame::{Nav, PageFrame};
use crate::page::{Done, Page};
use crate::tables;
use crate::visitor::Viewer;
use app::tokens::Token;
use app::{App, Failure, people};
use domain::cells::FieldError;
use domain::people::Person;
use domain::words::Role;

#[derive(Template)]
#[template(path = "people/list.html")]
pub(crate) struct PeoplePage {
    page: PageFrame,
    summary: ErrorSummary,
    people: Vec<PersonRow>,
    fields: Vec<FieldView>,
    link: Option<LinkMade>,
}

/// A link made just now; it is shown this once.
struct LinkMade {
    name: String,
    path: String,
    /// With the address of the service, as it is sent on to its person.
    whole: String,
}

impl LinkMade {
    fn of(app: &App, headers: &HeaderMap, name: String, link: &Token) -> Self {
        let path = format!("/welcome/{}", link.show());
        let whole = format!("{}{path}", addresses::of_service(&app.config, headers));
        Self { name, path, whole }
    }
}

struct PersonRow {
    name: String,
    /// The name as a part of an address.
    part: String,
    active: bool,
    role: FieldView,
    made_on: String,
    own: bool,
}

/// What is to be done where the page with a link could not be drawn.
const LINK_LOST: &str = "The link was on the page that is missing: on People, make a new one with \
                         the button beside the name.";

pub(crate) async fn list(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<PeoplePage>, PageError> {
    page(&app, &viewer, None, &Fields::default(), &[]).await
}

/// Everybody, as a file.
pub(crate) async fn file(State(app): State<App>, viewer: Viewer) -> Result<Response, PageError> {
    let everybody = people::list(&app, &viewer.actor).await?;
    let rows = everybody.into_iter().map(|person| {
        let active = if person.active { "yes" } else { "no" };
        let made_on = person.made_at.day().to_string();
        vec![person.name, person.role.to_string(), active.to_owned(), made_on]
    });
    tables::file("people", &["name", "role", "active", "made_on"], rows)
}

pub(crate) async fn add(
    State(app): State<App>,
    viewer: Viewer,
    headers: HeaderMap,
    typed: Fields,
) -> Result<Response, PageError> {
    let key = typed.key();
    let outcome = match Role::read(typed.get("role")) {
        None => Err(Failure::field("role", "Choose a role.")),
        Some(role) => {
            people::add(&app, &viewer.actor, key.as_ref(), typed.get("name"), role, None).await
        }
    };
    match outcome {
        Ok((person, link)) => {
            let made = link.map(|link| LinkMade::of(&app, &headers, person.name, &link));
            let shown = page(&app, &viewer, made, &Fields::default(), &[]).await;
            Ok(once_saved(shown, LINK_LOST)?.into_response())
        }
        Err(Failure::Invalid(errors)) => {
            let page = page(&app, &viewer, None, &typed, &errors).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
        Err(failure) => Err(failure.into()),
    }
}

pub(crate) async fn set_role(
    State(app): State<App>,
    viewer: Viewer,
    Path(name): Path<String>,
    typed: Fields,
) -> Result<Done, PageError> {
    let role = Role::read(typed.get("role"))
        .ok_or_else(|| Failure::field("role", "Choose one of the roles."))?;
    people::set_role(&app, &viewer.actor, typed.key().as_ref(), &name, role).await?;
    Ok(Done::to("/people").saying(format!("{name} has the role {role} from now on.")))
}

pub(crate) async fn set_active(
    State(app): State<App>,
    viewer: Viewer,
    Path(name): Path<String>,
    typed: Fields,
) -> Result<Done, PageError> {
    let active = typed.get("active") == "yes";
    people::set_active(&app, &viewer.actor, typed.key().as_ref(), &name, active).await?;
    let words = if active {
        format!("{name} may sign in again.")
    } else {
        format!("{name} is switched off and signed out everywhere.")
    };
    Ok(Done::to("/people").saying(words))
}

pub(crate) async fn reset(
    State(app): State<App>,
    viewer: Viewer,
    Path(name): Path<String>,
    headers: HeaderMap,
    typed: Fields,
) -> Result<Page<PeoplePage>, PageError> {
    let (person, link) = people::reset(&app, &viewer.actor, typed.key().as_ref(), &name).await?;
    let made = LinkMade::of(&app, &headers, person.name, &link);
    once_saved(page(&app, &viewer, Some(made), &Fields::default(), &[]).await, LINK_LOST)
}

async fn page(
    app: &App,
    viewer: &Viewer,
    link: Option<LinkMade>,
    typed: &Fields,
    errors: &[FieldError],
) -> Result<Page<PeoplePage>, PageError> {
    let everybody = people::list(app, &viewer.actor).await?;
    let fields = vec![
        FieldView::new("name", "Name").must().holding(typed.get("name")).judged(errors),
        FieldView::new("role", "Role")
            .choosing(role_choices())
            .holding(if typed.has("role") { typed.get("role") } else { Role::Viewer.word() })
            .judged(errors),
    ];
    let rows = everybody.into_iter().map(|person| row(person, &viewer.actor.name)).collect();
    Ok(Page(PeoplePage {
        page: viewer.frame("People", Nav::People).refusing(!errors.is_empty()),
        summary: ErrorSummary::of(errors, &fields),
        people: rows,
        fields,
        link,
    }))
}

fn row(person: Person, own: &str) -> PersonRow {
    let part = encoded(&person.name);
    let mut role =
        FieldView::new("role", "Role").choosing(role_choices()).holding(person.role.word());
    role.id = format!("role-{part}");
    PersonRow {
        own: person.name == own,
        made_on: person.made_at.day().to_string(),
        part,
        name: person.name,
        active: person.active,
        role,
    }
}

fn role_choices() -> Vec<Choice> {
    Role::WORDS.iter().map(|word| Choice::new(*word, *word)).collect()
}
