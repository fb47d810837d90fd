//! The failure report of a finding: the elements of the public standard, its reviewers, and the
//! photographs that were picked for print.

use app::read::Connection;

use super::{Bit, Line, Paper, Part, Picture, Table, blank, text};
use crate::pages::failure_report::{self, ReportLine};
use crate::visitor::Viewer;
use app::{Failure, failures};
use domain::files::File;

pub(super) async fn paper(
    db: &mut Connection,
    _viewer: &Viewer,
    code: &str,
) -> Result<Paper, Failure> {
    let around = failures::read(db, code).await?;
    let beside = failures::beside(db, &around).await?;
    let mut parts = Vec::new();
    let reviewed = match &around.finding.reviewed_by {
        Some(by) => {
            let on =
                around.finding.reviewed_on.map_or_else(String::new, |day| format!(" on {day}"));
            format!("Reviewed by {by}{on}.")
        }
        None => "Not reviewed yet.".to_owned(),
    };
    let author = around.finding.author.as_ref().map_or("unknown", |author| author.as_str());
    parts.push(Part::Words(text(&format!("Written by {author}. {reviewed}"))));
    let mut table = Table::of(&[("Element", 26), ("Record", 12), ("Recorded", 62)]);
    let attempts: Vec<&str> =
        around.attempts.iter().map(|attempt| attempt.code.0.as_str()).collect();
    for line in failure_report::all_lines(&around, &beside) {
        let mut asked = text(line.asked);
        if line.asked == "Number of the report" {
            let number = text(&format!("on {}", attempts.join(", ")));
            table.rows.push(vec![asked, vec![Bit::Code(code.to_owned())], number]);
            continue;
        }
        for (record, told) in by_record(&line) {
            table.rows.push(vec![std::mem::take(&mut asked), vec![Bit::Code(record)], told]);
        }
        if line.told.is_empty() {
            table.rows.push(vec![asked, Line::new(), blank()]);
        }
    }
    parts.push(Part::Table(table));
    let printed = |file: &&File| file.on_paper && file.media.is_picture();
    let pictures: Vec<Picture> = beside.files.iter().filter(printed).map(picture).collect();
    if !pictures.is_empty() {
        parts.push(Part::Heading("Photographs".to_owned()));
        parts.push(Part::Pictures(pictures));
    }
    parts.push(Part::Sign(vec!["author", "reviewer", "failure review board"]));
    Ok(Paper {
        heading: format!("Failure report {code}"),
        above: format!(
            "on {}",
            around.attempts.iter().map(|a| a.code.0.as_str()).collect::<Vec<_>>().join(", ")
        ),
        file: format!("failure-report-{code}"),
        back: (crate::addresses::within("findings", code), code.to_owned()),
        parts,
        ..Paper::default()
    })
}

/// What each record tells of one element, a row each: `PET from: 1:22 · PET to: 1:44`.
fn by_record(line: &ReportLine) -> Vec<(String, Line)> {
    let mut rows: Vec<(String, Line)> = Vec::new();
    for told in &line.told {
        let words = format!("{}: {}", told.label, told.text);
        match rows.iter_mut().find(|(code, _)| *code == told.code) {
            Some((_, cell)) => cell.push(Bit::Text(format!(" · {words}"))),
            None => rows.push((told.code.clone(), vec![Bit::Text(words)])),
        }
    }
    rows
}

fn picture(file: &File) -> Picture {
    const WIDE: i64 = 300;
    let (width, height) = (file.width.unwrap_or(4).max(1), file.height.unwrap_or(3));
    Picture {
        file: file.code.0.to_string(),
        caption: file.caption.as_ref().map_or_else(String::new, ToString::to_string),
        hash: file.preview.as_ref().unwrap_or(&file.hash).to_string(),
        mime: file.media.mime(),
        width: WIDE,
        height: WIDE * height / width,
    }
}
