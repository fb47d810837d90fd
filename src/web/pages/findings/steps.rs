//! The next steps of a remedy, as this person may take them: on the page of its finding and on its
//! own.

use app::read::Connection;

use crate::addresses::encoded;
use crate::visitor::Viewer;
use app::Failure;
use app::four_eyes::Touches;
use app::read::Found as _;
use domain::findings::{Finding, Remedy};
use domain::kinds::Kind;
use domain::roles::{Action, may};
use domain::words::RemedyState;

/// What this person may do to a remedy.
#[derive(Default)]
pub(crate) struct Steps {
    pub code: String,
    /// The states that it can be moved to, each with the words on its button.
    pub moves: Vec<(RemedyState, &'static str)>,
    /// What the field beside the buttons asks for.
    pub asks: &'static str,
    /// Where a document is added to the finding, for work that is to be marked as done.
    pub add_file: Option<String>,
    /// What was wrong with it when it was sent.
    pub wrong: Option<String>,
    /// Why this person cannot verify it.
    pub barred: Option<String>,
    /// The page to which the form leads back; empty for that of the finding.
    pub back: String,
}

impl Steps {
    pub fn of(
        remedy: &Remedy,
        finding: Option<&Finding>,
        touches: &Touches,
        viewer: &Viewer,
    ) -> Self {
        let mut found = Self { code: remedy.code.0.to_string(), ..Self::default() };
        if !may(viewer.actor.role, Action::WriteRemedy) {
            return found;
        }
        found.asks = "What shows it";
        let unreviewed = finding.filter(|finding| finding.reviewed_by.is_none());
        match remedy.state {
            RemedyState::Open => {
                found.asks = "What was done, and what shows it";
                found.add_file = finding
                    .filter(|_| may(viewer.actor.role, Action::KeepFiles))
                    .map(|of| format!("/files/new?finding={}", encoded(of.code.0.as_str())));
                found.moves.push((RemedyState::Done, "Mark as done"));
                found.moves.push((RemedyState::Withdrawn, "Withdraw remedy"));
            }
            RemedyState::Done => {
                match (touches.let_judge(remedy, &viewer.actor.name), unreviewed) {
                    (Ok(()), Some(finding)) => {
                        let code = &finding.code.0;
                        found.barred = Some(format!(
                            "{code} is not reviewed. Review {code} first, then verify the remedy."
                        ));
                    }
                    (Ok(()), None) => {
                        found.moves.push((RemedyState::Verified, "Verify remedy"));
                    }
                    (Err(why), _) => found.barred = Some(why),
                }
                found.moves.push((RemedyState::Open, "Reopen remedy"));
            }
            RemedyState::Verified | RemedyState::Withdrawn => {
                found.moves.push((RemedyState::Open, "Reopen remedy"));
            }
        }
        found
    }

    /// For the remedy's own page.
    pub async fn on_own_page(
        db: &mut Connection,
        viewer: &Viewer,
        code: &str,
    ) -> Result<Option<Self>, Failure> {
        let Some(remedy) = Remedy::find(db, code).await? else { return Ok(None) };
        let finding = match &remedy.finding {
            Some(finding) => Finding::find(db, finding.as_str()).await?,
            None => None,
        };
        let touches = Touches::of(db, Kind::Remedy, &[code.to_owned()]).await?;
        let steps = Self::of(&remedy, finding.as_ref(), &touches, viewer);
        Ok(Some(Self { back: crate::addresses::of(Kind::Remedy, code), ..steps }))
    }
}
