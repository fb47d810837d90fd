//! Every address of the route table, filled in with what the record has: something typical of each kind,
//! and what is largest of it.

use sqlx::SqliteConnection;

use super::passing::PARTS;
use app::{Failure, kinds};
use domain::kinds::Kind;
use store::{affected, measured};
use web::{addresses, assets};

/// The addresses that are asked in the place of one of the table: none where the record has none of that
/// kind, nothing where the sweep does not know how to fill it in.
pub async fn fill(db: &mut SqliteConnection, route: &str) -> Result<Option<Vec<String>>, Failure> {
    let paths = match route {
        // A link works once, so the page of one that does not is asked for.
        "/welcome/{link}" => vec!["/welcome/nobody-made-this-link".to_owned()],
        "/static/{name}" => vec![assets::APP_CSS.to_owned()],
        "/families/{code}/affected" => affected_pages(db).await?,
        _ if PARTS.iter().any(|part| route.starts_with(part)) => Vec::new(),
        "/slots/{code}/edit" => with_codes(db, route, Kind::Slot).await?,
        _ if !route.contains('{') => beside(db, route).await?,
        _ => match one_code(route) {
            Some(kind) => with_codes(db, route, kind).await?,
            None => return Ok(None),
        },
    };
    Ok(Some(paths))
}

/// The kind whose code is the only variable part of an address beneath its folder.
fn one_code(route: &str) -> Option<Kind> {
    let rest = route.strip_prefix('/')?;
    let (folder, rest) = rest.split_once("/{code}")?;
    let plain = !rest.contains('{');
    Kind::ALL.iter().copied().find(|kind| plain && addresses::folder(*kind) == folder)
}

async fn with_codes(
    db: &mut SqliteConnection,
    route: &str,
    kind: Kind,
) -> Result<Vec<String>, Failure> {
    let codes = codes(db, kind).await?;
    Ok(codes.iter().map(|code| route.replace("{code}", &addresses::encoded(code))).collect())
}

/// One record from the middle of a kind, and the largest of it.
async fn codes(db: &mut SqliteConnection, kind: Kind) -> Result<Vec<String>, Failure> {
    let before = measured::before_the_middle(db, kind).await?.unwrap_or_default();
    let mut middle = kinds::after(db, kind, &before, 1).await?;
    if middle.is_empty() {
        middle = kinds::after(db, kind, "", 1).await?;
    }
    let mut codes: Vec<String> = middle.iter().map(|cells| cells.get("code").to_owned()).collect();
    for code in measured::largest(db, kind).await? {
        if !codes.contains(&code) {
            codes.push(code);
        }
    }
    Ok(codes)
}

/// The address itself, and what is worth asking of it beside.
async fn beside(db: &mut SqliteConnection, route: &str) -> Result<Vec<String>, Failure> {
    let task = measured::busiest_task(db).await?;
    let family = measured::largest_family(db).await?;
    let more: Vec<String> = match (route, task, family) {
        ("/slots", _, Some(family)) => {
            vec!["page=2".into(), "check=time".into(), format!("family={family}")]
        }
        ("/attempts/new" | "/findings/new" | "/slots/get-ahead", Some(task), _) => {
            vec![format!("task={task}")]
        }
        ("/findings", ..) => vec!["show=all".into(), "show=reopened".into()],
        ("/findings/causes", ..) => {
            ["technique", "side", "worksite", "flight", "group"].map(|by| format!("by={by}")).into()
        }
        ("/affected", ..) => vec!["what=offered".into()],
        ("/changes" | "/attempts" | "/units", ..) => vec!["page=20".into()],
        ("/techniques" | "/families", ..) => searched(&["page=20"]),
        ("/history", ..) => searched(&["stopped=yes", "page=100"]),
        ("/excursions" | "/tools" | "/worksites" | "/inhibits" | "/search", ..) => searched(&[]),
        _ => Vec::new(),
    };
    let asked = more.into_iter().map(|query| format!("{route}?{query}"));
    Ok(std::iter::once(route.to_owned()).chain(asked).collect())
}

/// A letter that nearly everything holds, a common word, and as many words as a search may have.
fn searched(more: &[&str]) -> Vec<String> {
    let words = ["q=e", "q=strap", "q=e+s+t+a+b+c+d+l+m+n+p+r"];
    more.iter().chain(&words).map(|query| (*query).to_owned()).collect()
}

async fn affected_pages(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let most = affected::most_units(db, 2).await?;
    let page = |one: &affected::Affected| {
        let family = addresses::within("families", &one.family);
        let by = addresses::encoded(&format!("{},{}", one.technique, one.side));
        let what = addresses::encoded(one.what.word());
        format!("{family}/affected?what={what}&by={by}")
    };
    Ok(most.iter().map(page).collect())
}
