use std::io::{Cursor, Write as _};
use std::time::{Duration, Instant};

use proptest::prelude::*;

use super::*;
use crate::table::{self, Survey};
use domain::cells::Input;

const COLUMNS: [(&str, Input); 5] = [
    ("code", Input::Line),
    ("day", Input::Day),
    ("minutes", Input::Duration),
    ("mass", Input::Number),
    ("at", Input::Moment),
];

fn row(cells: [&str; 5]) -> Vec<String> {
    cells.map(str::to_owned).to_vec()
}

fn taken(bytes: &[u8]) -> Result<(Sheet, Vec<u8>), TableError> {
    let mut text = Vec::new();
    let sheet = unpack(&mut Cursor::new(bytes), &mut text, &AtomicBool::new(false))?;
    Ok((sheet, text))
}

/// What an import makes of it: heads, and rows with the line of each.
fn read(bytes: &[u8]) -> (Survey, Vec<(u64, Vec<String>)>) {
    let (sheet, text) = taken(bytes).unwrap();
    let mut text = Cursor::new(text);
    let survey = table::survey_sheet(&mut text, &sheet, &AtomicBool::new(false)).unwrap();
    let mut reading = table::Reading::begin(text, &survey.shape).unwrap();
    let rows = reading.batch(usize::MAX).unwrap();
    (survey, rows.into_iter().map(|row| (row.line, row.cells)).collect())
}

#[test]
fn what_is_written_reads_back_as_the_same_cells() {
    let rows = [
        row(["=1+1", "2031-03-18", "6:30", "1.25", "2031-03-05 08:12"]),
        row(["T-2", "2028-02-29", "26:05", "-3", ""]),
        row(["@x\n'=y", "", "", "", "2031-03-05 08:12:07.250"]),
        row(["'=z", "1900-01-31", "0:00", "text", "2031-03-05"]),
    ];
    let bytes = write("tasks", &COLUMNS, rows.clone()).unwrap();
    assert!(is_workbook(&bytes));
    let (survey, back) = read(&bytes);
    assert_eq!(survey.heads, COLUMNS.map(|(head, _)| head));
    assert_eq!(survey.notes, ["The sheet “tasks” was read; line 7 is its row 7."]);
    let lines: Vec<u64> = back.iter().map(|(line, _)| *line).collect();
    assert_eq!(lines, [2, 3, 4, 5], "a line end in a cell counts as no line");
    let cells: Vec<Vec<String>> = back.into_iter().map(|(_, cells)| cells).collect();
    assert_eq!(cells, rows);
}

#[test]
fn dates_are_dates_durations_durations_and_no_cell_a_formula() {
    let rows = [row(["=HYPERLINK(\"x\")", "2031-03-18", "6:30", "1.25", "2031-03-18 18:00"])];
    let bytes = write("tasks", &COLUMNS, rows).unwrap();
    let mut book: Xlsx<_> = open_workbook_from_rs(Cursor::new(&*bytes)).unwrap();
    let range = book.worksheet_range("tasks").unwrap();
    let at = |column: u32| range.get_value((1, column)).unwrap().clone();
    assert_eq!(at(0), Data::String("=HYPERLINK(\"x\")".to_owned()));
    let Data::DateTime(day) = at(1) else { panic!("{:?}", at(1)) };
    // Source: ECMA-376 part 1, section 18.17.4.1, 2016: serial 1 is 1 January 1900, with the day
    // that 1900 did not have. 131 years and 77 days, 32 leap days and that one: 47,925.
    assert!((day.as_f64() - 47_925.0).abs() < 1e-9 && day.is_datetime(), "{day:?}");
    let Data::DateTime(length) = at(2) else { panic!("{:?}", at(2)) };
    assert!(length.is_duration() && (length.as_f64() * 24.0 - 6.5).abs() < 1e-9, "{length:?}");
    assert_eq!(at(3), Data::Float(1.25));
    let Data::DateTime(moment) = at(4) else { panic!("{:?}", at(4)) };
    assert!((moment.as_f64() - 47_925.75).abs() < 1e-9 && moment.is_datetime(), "{moment:?}");
    assert!(book.worksheet_formula("tasks").unwrap().is_empty());
}

#[test]
fn a_list_that_no_workbook_can_hold_is_not_written() {
    let long = "x".repeat(32_768);
    let refused = write("tasks", &COLUMNS, [row([&long, "", "", "", ""])]).unwrap_err();
    assert!(matches!(refused, NotWritten::TooMuch), "{refused}");
}

proptest! {
    #[test]
    fn any_text_reads_back_the_same(
        cells in proptest::collection::vec("['=+@_x0-9A-F\"&<>\n\t é漢,;-]{0,12}", 5),
        days in -20_000_i64..80_000, millis in 0_i64..86_400_000, minutes in 0_i64..100_000,
    ) {
        let moment = domain::time::Moment(days * 86_400_000 + millis);
        let mut cells: Vec<String> = cells.iter().map(|cell| cell.trim().to_owned()).collect();
        cells.push(moment.day().to_string());
        cells.push(domain::cells::Cell::show(&moment));
        cells.push(Minutes(minutes).clock());
        let inputs = [Input::Line; 5].into_iter().chain([Input::Day, Input::Moment, Input::Duration]);
        let columns: Vec<(&str, Input)> =
            ["a", "b", "c", "d", "e", "f", "g", "h"].into_iter().zip(inputs).collect();
        let bytes = write("list", &columns, [cells.clone()]).unwrap();
        let (_, back) = read(&bytes);
        let back = &back[0].1;
        prop_assert_eq!(&back[..6], &cells[..6]);
        let again: domain::time::Moment = domain::cells::Cell::read(&back[6]).unwrap();
        prop_assert_eq!(again, moment);
        prop_assert_eq!(&back[7], &cells[7]);
    }
}

/// The workbook of one row with parts of our own in place of its own, or beside them.
fn packed(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let base = write("tasks", &COLUMNS, [row(["a", "", "", "", ""])]).unwrap();
    let mut from = zip::ZipArchive::new(Cursor::new(base)).unwrap();
    let mut to = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let options = zip::write::SimpleFileOptions::default()
        .compression_method(zip::CompressionMethod::Deflated);
    for at in 0..from.len() {
        let mut part = from.by_index(at).unwrap();
        let name = part.name().unwrap().into_owned();
        if parts.iter().any(|(own, _)| *own == name) {
            continue;
        }
        to.start_file(&name, options).unwrap();
        std::io::copy(&mut part, &mut to).unwrap();
    }
    for (name, bytes) in parts {
        to.start_file(*name, options).unwrap();
        to.write_all(bytes).unwrap();
    }
    to.finish().unwrap().into_inner()
}

const SHEET: &str = "xl/worksheets/sheet1.xml";
const HEAD: &str = "<?xml version=\"1.0\"?><worksheet xmlns=\"http://schemas.openxmlformats.org/\
                    spreadsheetml/2006/main\"><sheetData>";
const TAIL: &str = "</sheetData></worksheet>";

fn sheet(rows: &str) -> Vec<u8> {
    format!("{HEAD}{rows}{TAIL}").into_bytes()
}

/// The bound of a second is the issue's own.
fn refused(bytes: &[u8]) -> String {
    let begun = Instant::now();
    let words = taken(bytes).unwrap_err().to_string();
    println!("{:?}: {words}", begun.elapsed());
    assert!(begun.elapsed() < Duration::from_secs(1), "{:?}: {words}", begun.elapsed());
    words
}

#[test]
fn a_cell_far_away_is_refused_and_the_gap_before_it_costs_nothing() {
    let cell = |at: &str| {
        let row = at.trim_start_matches(char::is_alphabetic);
        sheet(&format!(
            "<row r=\"1\"><c r=\"A1\"><v>1</v></c></row><row r=\"{row}\"><c r=\"{at}\"><v>2</v></c></row>"
        ))
    };
    for (at, words) in [
        ("XFD1048576", "column 16384"),
        ("XFD1", "column 16384"),
        ("GS2", "column 201"),
        ("B1048576", "row 1048576"),
        ("A200101", "row 200101"),
    ] {
        let told = refused(&packed(&[(SHEET, &cell(at))]));
        assert!(told.contains(words), "{at}: {told}");
    }
    let (_, text) = taken(&packed(&[(SHEET, &cell("GR150000"))])).unwrap();
    assert!(text.len() < 152_000, "{} bytes", text.len());
}

/// What it is, its parts, and words of its refusal.
type Bomb<'a> = (&'a str, Vec<(&'a str, Vec<u8>)>, &'a str);

#[test]
fn bombs_are_refused() {
    let mut bombs: Vec<Bomb> = Vec::new();
    let blanks = sheet(&" ".repeat(100_000_000));
    bombs.push(("blanks", vec![(SHEET, blanks)], "unpacks to more than 64 MB"));
    // Source: the form of an exponential entity expansion, from memory.
    let entities = format!(
        "<?xml version=\"1.0\"?><!DOCTYPE x [<!ENTITY a \"aaaaaaaaaa\"><!ENTITY b \"&a;&a;&a;\">]>{}\
         <row r=\"1\"><c r=\"A1\" t=\"str\"><v>&b;</v></c></row>{TAIL}",
        &HEAD["<?xml version=\"1.0\"?>".len()..]
    );
    bombs.push(("entities", vec![(SHEET, entities.into_bytes())], "document type"));
    let room = b"<?xml version=\"1.0\"?><sst xmlns=\"x\" uniqueCount = '99999999999999'><si><t>a</t></si></sst>";
    bombs.push(("room", vec![("xl/sharedStrings.xml", room.to_vec())], "shares more texts"));
    let shared = format!("<sst>{}</sst>", "<si/>".repeat(4_000_000));
    bombs.push((
        "shared",
        vec![("xl/sharedStrings.xml", shared.into_bytes())],
        "sharedStrings.xml holds more",
    ));
    let styles =
        format!("<styleSheet><cellXfs>{}</cellXfs></styleSheet>", "<xf/>".repeat(1_000_000));
    bombs.push(("styles", vec![("xl/styles.xml", styles.into_bytes())], "styles.xml holds more"));
    let long = sheet(&format!("<row r=\"1\" x=\"{}\"/>", "<>".repeat(1_000_000)));
    bombs.push(("attribute", vec![(SHEET, long)], "longer than a row"));
    let text = "x".repeat(30_000);
    let shared = format!("<sst uniqueCount=\"1\"><si><t>{text}</t></si></sst>").into_bytes();
    let wide: String = (0..40)
        .map(|at| format!("<c r=\"{}1\" t=\"s\"><v>0</v></c>", name(at)))
        .collect::<Vec<_>>()
        .concat();
    let wide = sheet(&format!("<row r=\"1\">{wide}</row>"));
    let again = vec![("xl/sharedStrings.xml", shared.clone()), (SHEET, wide)];
    bombs.push(("one row of the same text", again, "longer than 1000 kB"));
    let rows: String = (1..3_000)
        .map(|at| format!("<row r=\"{at}\"><c r=\"A{at}\" t=\"s\"><v>0</v></c></row>"))
        .collect::<Vec<_>>()
        .concat();
    bombs.push((
        "rows of the same text",
        vec![("xl/sharedStrings.xml", shared), (SHEET, sheet(&rows))],
        "more than 64 MB",
    ));
    let many: Vec<(String, Vec<u8>)> =
        (0..300).map(|at| (format!("xl/p{at}.xml"), b"<a/>".to_vec())).collect();
    let many = many.iter().map(|(name, bytes)| (name.as_str(), bytes.clone())).collect();
    bombs.push(("parts", many, "more than 200 parts"));
    let backwards = sheet(
        "<row r=\"9\"><c r=\"A9\"><v>1</v></c></row><row r=\"2\"><c r=\"A2\"><v>1</v></c></row>",
    );
    bombs.push(("backwards", vec![(SHEET, backwards)], "out of order"));
    for (what, parts, words) in bombs {
        let parts: Vec<(&str, &[u8])> =
            parts.iter().map(|(name, bytes)| (*name, &bytes[..])).collect();
        let told = refused(&packed(&parts));
        assert!(told.contains(words), "{what}: {told}");
    }
    assert!(refused(b"PK\x03\x04 and no more").contains("cannot be read"));
}

#[test]
fn a_part_that_lies_about_its_length_is_refused() {
    let bytes = packed(&[(SHEET, &sheet(&" ".repeat(100_000_000)))]);
    let mut lie = bytes.clone();
    // Source: PKWARE, .ZIP File Format Specification, sections 4.3.7 and 4.3.12, 2022: the length
    // stands 22 bytes into a local head and 24 bytes into an entry of the list.
    let length = 100_000_000 + HEAD.len() + TAIL.len();
    let told = u32::try_from(length).unwrap().to_le_bytes();
    for at in 0..lie.len() - 4 {
        if lie[at..at + 4] == told {
            lie[at..at + 4].copy_from_slice(&1_000_u32.to_le_bytes());
        }
    }
    assert_ne!(lie, bytes);
    let begun = Instant::now();
    let words = taken(&lie).unwrap_err().to_string();
    println!("{:?}: {words}", begun.elapsed());
    assert!(words.contains("larger than its declared uncompressed size"), "{words}");
    assert!(begun.elapsed() < Duration::from_secs(1), "{:?}", begun.elapsed());
}

/// `A`, `B`, … `AA`.
fn name(at: usize) -> String {
    let letter = |at: usize| char::from(b'A' + u8::try_from(at).unwrap());
    if at < 26 {
        letter(at).to_string()
    } else {
        [letter(at / 26 - 1), letter(at % 26)].iter().collect()
    }
}
