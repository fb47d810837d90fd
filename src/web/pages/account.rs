//! One's own account: password, theme, sessions.

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::extract::Fields;
use crate::failure::PageError;
use crate::forms::{Choice, ErrorSummary, FieldView, Typed};
use crate::frame::{Nav, PageFrame};
use crate::page::{Done, Page};
use crate::visitor::Viewer;
use app::read::sessions::Session;
use app::tokens::hex;
use app::{App, Failure, people, sessions};
use domain::cells::FieldError;
use domain::time::Moment;
use domain::words::Theme;

#[derive(Template)]
#[template(path = "people/account.html")]
pub(crate) struct AccountPage {
    page: PageFrame,
    summary: ErrorSummary,
    name: String,
    role: &'static str,
    password: Vec<FieldView>,
    theme: FieldView,
    sessions: Vec<SessionRow>,
}

struct SessionRow {
    id: String,
    here: bool,
    begun_at: Moment,
    seen_at: Moment,
    address: String,
    agent: String,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<AccountPage>, PageError> {
    page(&app, &viewer, &[]).await
}

pub(crate) async fn change_password(
    State(app): State<App>,
    viewer: Viewer,
    typed: Fields,
) -> Result<Response, PageError> {
    let (current, new) = (typed.get("current"), typed.get("new"));
    let outcome = if new == typed.get("again") {
        let key = typed.key();
        let (session, address) = (&viewer.session, viewer.caller_address());
        people::change_password(&app, &viewer.actor, key.as_ref(), session, address, current, new)
            .await
    } else {
        Err(Failure::field("again", "The two are not the same; type both again."))
    };
    match outcome {
        Ok(()) => {
            let words = "Your password is changed; your other sessions have ended.";
            Ok(Done::to("/account").saying(words).into_response())
        }
        Err(Failure::Invalid(errors)) => {
            let page = page(&app, &viewer, &errors).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
        Err(failure) => Err(failure.into()),
    }
}

pub(crate) async fn set_theme(
    State(app): State<App>,
    viewer: Viewer,
    typed: Fields,
) -> Result<Done, PageError> {
    let theme = Theme::read(typed.get("theme"))
        .ok_or_else(|| Failure::field("theme", "Choose one of the themes."))?;
    people::set_theme(&app, &viewer.actor, theme).await?;
    Ok(Done::to("/account").saying(format!("The theme is {theme}.")))
}

pub(crate) async fn end_session(
    State(app): State<App>,
    viewer: Viewer,
    typed: Fields,
) -> Result<Done, PageError> {
    if sessions::end_own(&app, &viewer.actor.name, typed.get("session")).await? {
        return Ok(Done::to("/account").saying("The session has ended."));
    }
    Ok(Done::to("/account").saying("That session had ended already."))
}

pub(crate) async fn end_others(State(app): State<App>, viewer: Viewer) -> Result<Done, PageError> {
    let ended = sessions::end_others(&app, &viewer.actor.name, Some(&viewer.session)).await?;
    Ok(Done::to("/account").saying(format!("{ended} other sessions have ended.")))
}

async fn page(
    app: &App,
    viewer: &Viewer,
    errors: &[FieldError],
) -> Result<Page<AccountPage>, PageError> {
    let open = sessions::list(app, &viewer.actor.name).await?;
    let password = vec![
        FieldView::new("current", "Current password").typed(Typed::PASSWORD),
        FieldView::new("new", "New password")
            .typed(Typed::NEW_PASSWORD)
            .hinting("At least 15 characters; several words in a row are easy to keep in mind."),
        FieldView::new("again", "The same again").typed(Typed::NEW_PASSWORD),
    ];
    let password: Vec<_> = password.into_iter().map(|field| field.must().judged(errors)).collect();
    let choices = Theme::WORDS.iter().map(|word| Choice::new(*word, theme_words(word))).collect();
    Ok(Page(AccountPage {
        page: viewer.frame("Your account", Nav::Elsewhere).refusing(!errors.is_empty()),
        summary: ErrorSummary::of(errors, &password),
        name: viewer.actor.name.clone(),
        role: viewer.actor.role.word(),
        password,
        theme: FieldView::new("theme", "Theme").choosing(choices).holding(viewer.theme().word()),
        sessions: open.into_iter().map(|session| row(session, &viewer.session)).collect(),
    }))
}

fn theme_words(word: &str) -> String {
    if word == Theme::System.word() { "as the system has it".to_owned() } else { word.to_owned() }
}

fn row(session: Session, here: &[u8]) -> SessionRow {
    SessionRow {
        id: hex(&session.token_hash),
        here: session.token_hash == here,
        begun_at: session.begun_at,
        seen_at: session.seen_at,
        address: session.address,
        agent: if session.agent.is_empty() { "not recorded".to_owned() } else { session.agent },
    }
}
