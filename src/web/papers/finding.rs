//! The failure report of a finding: the elements of the public standard, its reviewers, and the
//! photographs that were picked for print.

use app::read::Connection;

use super::{Bit, Paper, Part, Picture, Table, blank, text};
use crate::pages::failure_report;
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
    let mut table = Table::of(&[("Element", 26), ("Recorded", 74)]);
    for line in failure_report::all_lines(&around, &beside) {
        let mut cell = Vec::new();
        if line.asked == "Number of the report" {
            cell.push(Bit::Code(code.to_owned()));
            cell.push(Bit::Text(", on ".to_owned()));
            let attempts: Vec<&str> =
                around.attempts.iter().map(|attempt| attempt.code.0.as_str()).collect();
            cell.extend(text(&attempts.join(", ")));
        }
        for told in &line.told {
            if !cell.is_empty() {
                cell.push(Bit::Text(" · ".to_owned()));
            }
            cell.push(Bit::Code(told.code.clone()));
            cell.push(Bit::Text(format!(" {}: {}", told.label, told.text)));
        }
        table.rows.push(vec![text(line.asked), if cell.is_empty() { blank() } else { cell }]);
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
