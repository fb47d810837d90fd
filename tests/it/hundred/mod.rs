//! A hundred made-up excursions with everything that a paper must not leave out, each word one of a
//! kind; half of them flown. Every word is counted where it belongs. The files stay in
//! `target/tmp/papers`, where `tests/browser/hundred.test.mjs` prints them.

mod flown;
mod made_up;

use std::path::{Path, PathBuf};

use domain::words::Role;
use serde_json::json;
use sqlx::SqlitePool;

use self::flown::{Became, after, fly};
use self::made_up::{MadeUp, library, made_up};
use crate::papers::sheet;
use crate::support::TestApp;

/// After the last of them.
const LATER: &str = "2042-01-10T10:00:00Z";

/// Words that a part of a paper says once each, from one heading to another.
struct Says {
    from: &'static str,
    to: &'static str,
    words: Vec<String>,
}

impl Says {
    fn of(from: &'static str, to: &'static str, words: impl Into<Vec<String>>) -> Self {
        Self { from, to, words: words.into() }
    }
}

/// Keeps a paper for printing, once its words are counted in it.
struct Kept {
    folder: PathBuf,
    told: Vec<serde_json::Value>,
    /// Words that do not stand once where they belong.
    wrong: Vec<String>,
}

impl Kept {
    fn new(folder: &Path) -> Self {
        let _ = std::fs::remove_dir_all(folder);
        std::fs::create_dir_all(folder).unwrap();
        Self { folder: folder.to_owned(), told: Vec::new(), wrong: Vec::new() }
    }

    /// `most` is how many sheets it may take; nothing where that depends on the whole record.
    async fn paper(
        &mut self,
        app: &TestApp,
        address: &str,
        most: Option<u32>,
        all: &[Says],
    ) -> String {
        let file = app.get(&format!("{address}.html")).await;
        assert_eq!(file.status, 200, "{address}: {}", file.body);
        let words = sheet(&file.body);
        for says in all {
            let (_, rest) = words.split_once(says.from).unwrap_or_else(|| panic!("{}", says.from));
            let part = match says.to {
                "" => rest,
                to => rest.split_once(to).unwrap_or_else(|| panic!("{to}: {rest}")).0,
            };
            for word in &says.words {
                let count = part.matches(&**word).count();
                if count != 1 {
                    let of = says.from;
                    self.wrong.push(format!("{address}: {word} {count} times after “{of}”"));
                }
            }
        }
        let name = address.trim_start_matches('/').replace('/', "-");
        std::fs::write(self.folder.join(format!("{name}.html")), &file.body).unwrap();
        let parts: Vec<_> = all
            .iter()
            .map(|says| json!({ "from": says.from, "to": says.to, "words": says.words }))
            .collect();
        self.told.push(json!({ "file": format!("{name}.html"), "most": most, "says": parts }));
        file.body
    }

    fn count(&self) -> usize {
        let parts = self.told.iter().flat_map(|one| one["says"].as_array().unwrap());
        parts.map(|part| part["words"].as_array().unwrap().len()).sum()
    }
}

async fn briefs(app: &TestApp, all: &[MadeUp], kept: &mut Kept) {
    for here in all {
        let code = &here.excursion;
        let entries = here.tasks.iter().flat_map(|task| task.entry.clone());
        let says = Says::of(
            "Tasks in order",
            "Late card",
            entries.chain(here.photographs.clone()).collect::<Vec<_>>(),
        );
        // Six tasks on two sheets; the late card is the third.
        let address = format!("/excursions/{code}/brief");
        let page = kept.paper(app, &address, Some(3), &[says]).await;
        let words = sheet(&page);
        let (plan, rest) = words.split_once("Tasks in order").unwrap();
        let (entries, _) = rest.split_once("Late card").unwrap();
        let must_do = here.tasks.iter().filter(|task| task.must_do).count();
        assert_eq!(plan.matches("must do").count(), must_do, "{code}: {plan}");
        assert_eq!(entries.matches("must do").count(), must_do, "{code}: {entries}");
        assert_eq!(page.matches("<section class=\"job\">").count(), here.tasks.len(), "{code}");
        // What belongs to another excursion stands on its own brief.
        let others = all.iter().filter(|other| other.excursion != *code);
        for word in others.flat_map(|other| &other.tasks).flat_map(|task| &task.entry) {
            assert!(!entries.contains(&**word), "{code} {word}: {entries}");
        }
    }
}

#[sqlx::test]
async fn the_papers_of_a_hundred_made_up_excursions_leave_nothing_out(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    library(&app).await;
    let all = made_up(&app).await;
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("papers");
    let mut kept = Kept::new(&folder);
    briefs(&app, &all, &mut kept).await;

    app.wait_until(LATER, "engineer").await;
    let mut flown = Vec::new();
    for here in all.iter().skip(1).step_by(2) {
        flown.push((here, fly(&app, here).await));
    }
    assert_eq!(flown.len(), 50);
    for (here, became) in &flown {
        after(&app, here, became, &mut kept).await;
    }
    for flight in (60..70).map(|number| format!("G-{number}")) {
        let own: Vec<_> = flown.iter().filter(|(here, _)| here.flight == flight).collect();
        let each = |of: fn(&Became) -> &Vec<String>| -> Vec<String> {
            own.iter().flat_map(|(_, became)| of(became).clone()).collect()
        };
        kept.paper(
            &app,
            &format!("/flights/{flight}/handover"),
            None,
            &[
                Says::of("may not do", "2 · What we left, as left", each(|one| &one.forbids)),
                Says::of("2 · What we left", "3 · Owed", each(|one| &one.begun)),
                Says::of("4 · Outside", "5 · Tools", each(|one| &one.left_outside)),
                Says::of("5 · Tools", "6 · Waivers", each(|one| &one.tools)),
                Says::of("6 · Waivers", "7 · Open tasks", each(|one| &one.waived)),
                Says::of("9 · The other", "10 · Remedies", each(|one| &one.others)),
            ],
        )
        .await;
    }
    std::fs::write(folder.join("wanted.json"), serde_json::to_vec(&kept.told).unwrap()).unwrap();
    assert_eq!(kept.wrong, Vec::<String>::new());
    assert!(kept.count() > 2_000, "{}", kept.count());
}
