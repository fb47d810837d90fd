//! One constraint: why it is in force, until when, what ends it; and lifting it.

use app::read::Connection;
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use super::rows::{ended_by, safe_until};
use crate::addresses;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::forms::{ErrorSummary, FieldView, Shape, Typed, Width};
use crate::frame::{Nav, PageFrame};
use crate::linked::{Piece, linked};
use crate::page::{Done, Page};
use crate::pages::records::history::{self, ChangeRow};
use crate::visitor::Viewer;
use app::constraints::{self, InForce};
use app::read::register;
use app::work::Work;
use app::{App, Failure};
use domain::cells::{Cells, FieldError, Prose};
use domain::constraints::{Constraint, ConstraintState};
use domain::kinds::Kind;
use domain::roles::{Action, action_for, may};
use domain::time::Day;

#[derive(Template)]
#[template(path = "constraints/show.html")]
pub(crate) struct ConstraintPage {
    page: PageFrame,
    summary: ErrorSummary,
    code: String,
    address: String,
    one: InForce,
    lead: Vec<Piece>,
    until: String,
    ended_by: Vec<Piece>,
    may_write: bool,
    /// Who wrote or edited it, in a sentence for the form.
    written: String,
    /// The form, for whoever may lift it.
    lift: Vec<FieldView>,
    /// Why this person may not, where the role could.
    barred: Option<String>,
    may_put_back: bool,
    changes: Vec<ChangeRow>,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Page<ConstraintPage>, PageError> {
    let mut db = app.reader().await?;
    Ok(Page(page(&mut db, &viewer, &code, &Cells::default(), &[]).await?))
}

async fn page(
    db: &mut Connection,
    viewer: &Viewer,
    code: &str,
    typed: &Cells,
    errors: &[FieldError],
) -> Result<ConstraintPage, Failure> {
    let today = viewer.now().day();
    let (one, touches, _) = constraints::read(db, code, today).await?;
    let changes = history::of_record(db, Kind::Constraint, code).await?;
    let version = register::find(db, Kind::Constraint, code).await?.map_or(0, |row| row.version);
    let may_lift = may(viewer.actor.role, Action::LiftConstraint);
    let barred = touches.let_judge(&one.constraint, &viewer.actor.name).err();
    let asks = may_lift && barred.is_none() && one.state.holds();
    let lift = if asks { fields(typed, errors, today) } else { Vec::new() };
    let summary = ErrorSummary::of(errors, &lift);
    let accounts: Vec<String> = touches.accounts(code).iter().map(ToString::to_string).collect();
    Ok(ConstraintPage {
        page: viewer
            .frame(format!("{code}, {}", one.constraint.forbidden), Nav::Constraints)
            .of_version(version)
            .refusing(!summary.is_empty()),
        summary,
        address: addresses::of(Kind::Constraint, code),
        lead: linked(&lead(&one)),
        until: safe_until(&one),
        ended_by: linked(&ended_by(&one)),
        may_write: may(viewer.actor.role, action_for(Kind::Constraint)),
        written: accounts.join(", "),
        lift,
        barred: barred.filter(|_| may_lift && one.state.holds()),
        may_put_back: may_lift && one.state == ConstraintState::Lifted,
        changes,
        code: code.to_owned(),
        one,
    })
}

fn lead(one: &InForce) -> String {
    let constraint = &one.constraint;
    match one.state {
        ConstraintState::InForce => format!("It is in force. {}", ended_by(one)),
        ConstraintState::PastDate => {
            let date = one.until.map_or_else(String::new, |day| format!(" since {day}"));
            format!("It is in force and past its date{date}. {}", ended_by(one))
        }
        ConstraintState::Ended => match &constraint.task {
            Some(task) => format!("It ended when {task} was done."),
            None => "It ended when its outside items came in.".to_owned(),
        },
        ConstraintState::Lifted => {
            let on = constraint.lifted_on.map_or_else(String::new, |day| format!(" on {day}"));
            let by = constraint.lifted_by.as_ref().map_or_else(String::new, ToString::to_string);
            format!("It was lifted by {by}{on}.")
        }
    }
}

fn fields(typed: &Cells, errors: &[FieldError], today: Day) -> Vec<FieldView> {
    let prose = |name: &str, label: &str| {
        let mut field = FieldView::new(name, label).holding(typed.get(name)).judged(errors);
        field.shape = Shape::Prose;
        field.required = true;
        field
    };
    let on = typed.get("lifted_on");
    let on = if on.is_empty() { today.to_string() } else { on.to_owned() };
    let mut day = FieldView::new("lifted_on", "Lifted on").holding(on).judged(errors);
    day.shape = Shape::Typed(Typed::TEXT);
    day.width = Width::Medium;
    vec![
        prose("lift_reason", "Reason: why the vehicle may do this again"),
        prose("lift_evidence", "Evidence: attempt, finding, photograph or document"),
        day,
    ]
}

/// Lifts a constraint: by another account than its author.
pub(crate) async fn lift(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Response, PageError> {
    let failure = match lifted(&app, &viewer, &code, &typed).await {
        Ok(done) => return Ok(done.into_response()),
        Err(failure) => failure,
    };
    let Failure::Invalid(errors) = failure else { return Err(failure.into()) };
    // Who may not lift it is told so on the page, where there is no form to fill in.
    let own = errors.iter().find(|error| error.field == "lifted_by");
    if let Some(own) = own {
        return Err(Failure::Refused(own.message.clone()).into());
    }
    let mut db = app.reader().await?;
    let page = page(&mut db, &viewer, &code, &typed.cells(), &errors).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, Page(page)).into_response())
}

async fn lifted(app: &App, viewer: &Viewer, code: &str, typed: &Fields) -> Result<Done, Failure> {
    let cells = typed.cells();
    let mut wrong = Vec::new();
    let reason = cells.take::<Prose>("lift_reason", &mut wrong);
    let evidence = cells.take::<Prose>("lift_evidence", &mut wrong);
    let on = cells.take::<Option<Day>>("lifted_on", &mut wrong);
    let (Some(reason), Some(evidence), Some(on)) = (reason, evidence, on) else {
        return Err(Failure::Invalid(wrong));
    };
    let mut work = Work::begin(app, &viewer.actor, typed.key().as_ref()).await?;
    let saved = constraints::lift(&mut work, code, reason, evidence, on).await?;
    let words = format!(
        "{code} is lifted: {}. Lifting changes this record only; it waives no flight rule and no \
         hazard control.",
        saved.record.forbidden
    );
    let to = work.finish(addresses::of(Kind::Constraint, code)).await?;
    Ok(Done::to(to).saying(words))
}

/// Takes a lifting back, with the reason.
pub(crate) async fn put_back(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    let saved = constraints::put_back(&mut work, &code, typed.get("why")).await?;
    let words = format!("{code} is in force again: {}.", saved.record.forbidden);
    let to = work.finish(addresses::of(Kind::Constraint, &code)).await?;
    Ok(Done::to(to).saying(words))
}

impl ConstraintPage {
    fn constraint(&self) -> &Constraint {
        &self.one.constraint
    }
}
