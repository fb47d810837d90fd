//! What stops work: ranked and over the flights, drawn, by whatever the address asks.

use std::collections::HashMap;

use askama::Template;
use axum::extract::State;

use super::{View, views};
use crate::addresses::encoded;
use crate::drawings::cause_bars::{self, CauseBar, percent};
use crate::drawings::cause_series::{self, SeriesRow};
use crate::drawings::markup::Drawing;
use crate::extract::Fields;
use crate::failure::PageError;
use crate::forms::{FieldView, Width};
use crate::frame::{Nav, PageFrame};
use crate::page::Page;
use crate::pages::history::{NOT_RECORDED, filter_of};
use crate::visitor::Viewer;
use app::read::causes::Counted;
use app::read::events::Filter;
use app::{App, causes as app_causes};
use domain::words::CountedBy;

#[derive(Template)]
#[template(path = "findings/causes.html")]
pub(crate) struct CausesPage {
    page: PageFrame,
    views: Vec<View>,
    views_by: Vec<View>,
    filters: Vec<FieldView>,
    by: CountedBy,
    /// By what the rows over the flights are counted; not by flight.
    rows_by: CountedBy,
    total: i64,
    /// Rows that are not shown, and how many attempts they hold.
    more: Option<(i64, i64)>,
    bars: Drawing,
    rows: Vec<CauseRow>,
    series: Drawing,
    flights: Vec<String>,
    series_rows: Vec<SeriesTableRow>,
}

struct CauseRow {
    label: String,
    address: String,
    count: i64,
    share: String,
    /// The causes of this row alone.
    within: Option<String>,
}

struct SeriesTableRow {
    label: String,
    counts: Vec<(i64, String)>,
}

/// Rows that are drawn over the flights.
const SERIES: usize = 8;

pub(crate) async fn causes(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<CausesPage>, PageError> {
    let query = viewer.address().split_once('?').map_or("", |(_, query)| query).to_owned();
    let asked = Fields::read(query.as_bytes());
    let by = CountedBy::read(asked.get("by")).unwrap_or(CountedBy::Cause);
    let filter = filter_of(&asked);
    let mut db = app.reader().await?;
    let counts = app_causes::seen(&mut db, by, &filter).await?;
    drop(db);
    let (total, all_rows) = counts.ranked.first().map_or((0, 0), |row| (row.total, row.rows));
    let shown: i64 = counts.ranked.iter().map(|row| row.count).sum();
    let rows: Vec<CauseRow> =
        counts.ranked.iter().map(|counted| row(counted, by, total, &asked, &filter)).collect();
    let bars: Vec<CauseBar> = rows
        .iter()
        .map(|row| CauseBar {
            label: row.label.clone(),
            count: row.count,
            address: Some(row.address.clone()),
        })
        .collect();
    let flights: Vec<String> = counts.flights.iter().map(ToString::to_string).collect();
    let series_rows = series(&counts, &asked);
    let drawn: Vec<SeriesRow> = series_rows
        .iter()
        .map(|row| SeriesRow { label: row.label.clone(), counts: row.counts.clone() })
        .collect();
    Ok(Page(CausesPage {
        page: viewer.frame("Causes", Nav::Causes),
        views: views("causes"),
        views_by: CountedBy::ALL
            .iter()
            .map(|way| {
                (
                    narrowed("/findings/causes", &asked, &[("by", way.word())]),
                    name(*way),
                    *way == by,
                )
            })
            .collect(),
        filters: fields(&asked),
        rows_by: counts.rows_by,
        total,
        more: (total > shown)
            .then(|| (all_rows - i64::try_from(rows.len()).unwrap_or(0), total - shown)),
        bars: cause_bars::draw_of(&bars, total, "attempts stopped", "ranked"),
        series: cause_series::draw(&flights, &drawn, "series"),
        by,
        rows,
        flights,
        series_rows,
    }))
}

const fn name(by: CountedBy) -> &'static str {
    match by {
        CountedBy::Cause => "By kind of cause",
        CountedBy::Group => "By group",
        CountedBy::Technique => "By technique",
        CountedBy::Side => "By side",
        CountedBy::Worksite => "By worksite",
        CountedBy::Flight => "By flight",
    }
}

/// The name of the filter that narrows to one row.
const fn field(by: CountedBy) -> &'static str {
    match by {
        CountedBy::Cause => "cause",
        CountedBy::Group => "group",
        CountedBy::Technique => "technique",
        CountedBy::Side => "side",
        CountedBy::Worksite => "site",
        CountedBy::Flight => "flight",
    }
}

fn label(by: CountedBy, key: &str, words: &str) -> String {
    match (by, key, words) {
        (CountedBy::Flight, "", _) => "flight unknown".to_owned(),
        (CountedBy::Technique | CountedBy::Side | CountedBy::Worksite, "", _) => {
            format!("{} not recorded", by.word())
        }
        // A kind of cause goes by its words; its code is a number.
        (CountedBy::Cause, key, words) if !words.is_empty() => format!("{words} ({key})"),
        (_, key, "") => key.to_owned(),
        (_, key, words) => format!("{key} {words}"),
    }
}

fn value(key: &str) -> &str {
    if key.is_empty() { NOT_RECORDED } else { key }
}

/// An address with what was asked, and these instead.
fn narrowed(path: &str, asked: &Fields, with: &[(&str, &str)]) -> String {
    let kept = ["cause", "group", "technique", "side", "site", "flight"];
    let mut pairs: Vec<String> = asked
        .0
        .iter()
        .filter(|(name, value)| {
            kept.contains(&name.as_str())
                && !value.trim().is_empty()
                && !with.iter().any(|(other, _)| other == name)
        })
        .map(|(name, value)| format!("{name}={}", encoded(value.trim())))
        .collect();
    pairs.extend(with.iter().map(|(name, value)| format!("{name}={}", encoded(value))));
    format!("{path}?{}", pairs.join("&"))
}

fn row(counted: &Counted, by: CountedBy, total: i64, asked: &Fields, filter: &Filter) -> CauseRow {
    let key = value(&counted.key);
    let one = [("stopped", "yes"), (field(by), key)];
    CauseRow {
        label: label(by, &counted.key, &counted.words),
        address: narrowed("/history", asked, &one),
        count: counted.count,
        share: percent(counted.count, total),
        within: (by != CountedBy::Cause && filter.cause.is_none())
            .then(|| narrowed("/findings/causes", asked, &[("by", "cause"), (field(by), key)])),
    }
}

fn series(counts: &app_causes::Causes, asked: &Fields) -> Vec<SeriesTableRow> {
    let known: HashMap<(&str, &str), i64> = counts
        .over_flights
        .iter()
        .map(|one| ((one.key.as_str(), one.flight.as_str()), one.count))
        .collect();
    let by = counts.rows_by;
    counts
        .rows
        .iter()
        .take(SERIES)
        .map(|counted| SeriesTableRow {
            label: label(by, &counted.key, &counted.words),
            counts: counts
                .flights
                .iter()
                .map(|flight| {
                    let count = known.get(&(counted.key.as_str(), flight.as_str())).copied();
                    let one = [
                        ("stopped", "yes"),
                        (field(by), value(&counted.key)),
                        ("flight", flight.as_str()),
                    ];
                    (count.unwrap_or(0), narrowed("/history", asked, &one))
                })
                .collect(),
        })
        .collect()
}

fn fields(asked: &Fields) -> Vec<FieldView> {
    let line = |name: &str, label: &str| {
        FieldView::new(name, label).holding(asked.get(name)).wide(Width::Medium)
    };
    vec![
        line("cause", "Cause, by code"),
        line("group", "Group of causes"),
        line("technique", "Technique"),
        line("side", "Side"),
        line("site", "Worksite"),
        line("flight", "Flight"),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_leads_to_its_attempts_with_all_else_that_was_asked() {
        let asked = Fields::read(b"by=technique&side=aft&flight=&page=3&technique=K-1");
        assert_eq!(
            narrowed("/history", &asked, &[("stopped", "yes"), ("technique", "K-2")]),
            "/history?side=aft&stopped=yes&technique=K-2"
        );
    }

    #[test]
    fn what_was_not_recorded_has_a_name_and_an_address() {
        assert_eq!(label(CountedBy::Side, "", ""), "side not recorded");
        assert_eq!(label(CountedBy::Cause, "4", "Bolt binds"), "Bolt binds (4)");
        assert_eq!(label(CountedBy::Technique, "K-1", "Straight pull"), "K-1 Straight pull");
        assert_eq!(value(""), NOT_RECORDED);
    }
}
