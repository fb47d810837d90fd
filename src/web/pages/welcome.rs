//! Choosing a password by a one-time link.

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use axum_extra::extract::cookie::CookieJar;

use crate::cookies::CookieName;
use crate::extract::{Fields, Path};
use crate::failure::{PageError, Problem, chain};
use crate::forms::{ErrorSummary, FieldView, Typed};
use crate::frame::{Nav, PageFrame};
use crate::page::{Done, Page};
use crate::pages::sign_in::{PURPOSE, visit_of, welcome};
use crate::visitor::Visit;
use app::people::{self, LinkFor};
use app::tokens::Token;
use app::{App, Failure, sessions};
use domain::cells::FieldError;

#[derive(Template)]
#[template(path = "people/welcome.html")]
struct WelcomePage {
    page: PageFrame,
    summary: ErrorSummary,
    fields: Vec<FieldView>,
    link: String,
    /// Whose password it is; nobody yet for the first administrator.
    whose: Option<String>,
}

pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    jar: CookieJar,
    Path(link): Path<String>,
) -> Result<Response, PageError> {
    let (link, whose) = follow(&app, &link).await?;
    offer(&app, &visit, jar, &link, &whose, "", &[])
}

pub(crate) async fn choose(
    State(app): State<App>,
    visit: Visit,
    jar: CookieJar,
    Path(link): Path<String>,
    typed: Fields,
) -> Result<Response, PageError> {
    let (link, whose) = follow(&app, &link).await?;
    let known =
        visit_of(&jar, &app).is_some_and(|token| token.derived(PURPOSE) == typed.get("csrf"));
    let name = typed.get("name");
    let password = typed.get("password");
    let outcome = if !known {
        Err(Failure::field(
            "password",
            "This page was open for long, or cookies are off. Type it once more.",
        ))
    } else if password != typed.get("again") {
        Err(Failure::field("again", "The two are not the same; type both again."))
    } else {
        people::choose_password(&app, &link, name, password).await
    };
    match outcome {
        Ok(name) => {
            let old =
                CookieName::Session.read(&jar, &app.config).and_then(|text| Token::read(&text));
            match sessions::open(&app, &name, &visit.asked.caller, old.as_ref()).await {
                Ok(token) => Ok(welcome(&app, jar, &token, "/")),
                // The password is set and the link used up: only signing in is left.
                Err(cause) => {
                    tracing::error!(cause = chain(&cause), "no session after a new password");
                    let words = "Your password is set. Sign in with it.";
                    Ok(Done::to("/sign-in").saying(words).into_response())
                }
            }
        }
        Err(Failure::Invalid(errors)) => {
            let page = offer(&app, &visit, jar, &link, &whose, name, &errors)?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
        Err(failure) => Err(failure.into()),
    }
}

async fn follow(app: &App, text: &str) -> Result<(Token, LinkFor), PageError> {
    let link = Token::read(text);
    let whose = match &link {
        Some(link) => people::follow(app, link).await?,
        None => None,
    };
    link.zip(whose).ok_or_else(|| {
        Problem::new(
            StatusCode::GONE,
            "This link is no longer valid",
            "It was used, or is older than a day. Ask an administrator for a new one.",
        )
        .into()
    })
}

fn offer(
    app: &App,
    visit: &Visit,
    jar: CookieJar,
    link: &Token,
    whose: &LinkFor,
    name: &str,
    errors: &[FieldError],
) -> Result<Response, PageError> {
    let token = visit_of(&jar, app).map_or_else(Token::fresh, Ok)?;
    let password = FieldView::new("password", "New password")
        .typed(Typed::NEW_PASSWORD)
        .hinting("At least 15 characters; several words in a row are easy to keep in mind.")
        .must();
    let again = FieldView::new("again", "The same again").typed(Typed::NEW_PASSWORD).must();
    let mut fields = vec![password, again];
    let whose = match whose {
        LinkFor::Person(name) => Some(name.clone()),
        LinkFor::FirstAdministrator => {
            let field = FieldView::new("name", "Your name").typed(Typed::NAME).must().holding(name);
            fields.insert(0, field);
            None
        }
    };
    let fields: Vec<FieldView> = fields
        .into_iter()
        .enumerate()
        .map(|(n, field)| if n == 0 { field.first() } else { field })
        .map(|field| field.judged(errors))
        .collect();
    let summary = ErrorSummary::of(errors, &fields);
    let mut page = visit.asked.frame("Choose a password", Nav::Elsewhere);
    page.refused = !errors.is_empty();
    page.csrf = token.derived(PURPOSE);
    // The address is a secret until it is used, so it does not stand in the foot.
    page.address = String::new();
    let shown = WelcomePage { page, summary, fields, link: link.show(), whose };
    let jar = jar.add(CookieName::Visit.holding(token.show(), &app.config));
    Ok((jar, Page(shown)).into_response())
}
