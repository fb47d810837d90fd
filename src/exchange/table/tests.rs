use std::fmt::Write;

use encoding_rs::{UTF_8, WINDOWS_1252};
use proptest::prelude::*;

use super::*;

fn of(text: &str) -> Table {
    read(text.as_bytes()).unwrap()
}

fn rows(table: &Table) -> Vec<(u64, Vec<&str>)> {
    table
        .rows
        .iter()
        .map(|row| (row.line, row.cells.iter().map(String::as_str).collect()))
        .collect()
}

fn utf_16(text: &str, mark: bool, order: fn(u16) -> [u8; 2]) -> Vec<u8> {
    let mark = mark.then_some(0xfeff);
    mark.into_iter().chain(text.encode_utf16()).flat_map(order).collect()
}

fn noted(table: &Table, words: &str) -> bool {
    table.notes.iter().any(|note| note.contains(words))
}

const PLAIN: &str = "Code,Title,Date\r\nT-1,Mate the jumper,2031-03-18\r\nT-2,Free the latch,\r\n";

#[test]
fn a_plain_table_is_read_with_the_lines_of_its_rows() {
    let table = of(PLAIN);

    assert_eq!(table.heads, ["Code", "Title", "Date"]);
    assert_eq!(
        rows(&table),
        [(2, vec!["T-1", "Mate the jumper", "2031-03-18"]), (3, vec!["T-2", "Free the latch", ""]),]
    );
    assert_eq!(table.bad, []);
    assert_eq!(table.notes, ["The cells are separated by commas."]);
}

#[test]
fn every_encoding_separator_and_line_end_gives_the_same_table() {
    let text = "Código,Título,Größe\nÑ-1,“Rückwand” – lösen,Ж\nT-2,Šroub,漢字\n";
    let expected = of(text);
    for end in ["\n", "\r\n", "\r"] {
        for separator in [",", ";", "\t"] {
            let text = text.replace('\n', end).replace(',', separator);
            let files = [
                text.clone().into_bytes(),
                format!("\u{feff}{text}").into_bytes(),
                utf_16(&text, true, u16::to_le_bytes),
                utf_16(&text, true, u16::to_be_bytes),
                utf_16(&text, false, u16::to_le_bytes),
                utf_16(&text, false, u16::to_be_bytes),
            ];
            for (index, file) in files.iter().enumerate() {
                let table = read(file).unwrap();

                assert_eq!(table.heads, expected.heads, "file {index}, {end:?}, {separator:?}");
                assert_eq!(table.rows, expected.rows, "file {index}, {end:?}, {separator:?}");
            }
        }
    }
}

#[test]
fn the_line_of_a_row_is_where_it_begins_whatever_stands_between() {
    for end in ["\n", "\r\n", "\r"] {
        let text = "\n\na,b\n\n1,\"x\ny\n\nz\"\n,\n  , \n\n2,w\n\"3\n\",v\n4,u";

        let table = of(&text.replace('\n', end));

        let lines: Vec<u64> = table.rows.iter().map(|row| row.line).collect();
        assert_eq!(lines, [5, 12, 13, 15], "{end:?}");
        assert_eq!(table.rows[0].cells[1].split(end).count(), 4);
        assert!(noted(&table, "6 blank rows were skipped."), "{end:?} {:?}", table.notes);
    }
}

#[test]
fn windows_1252_is_the_last_resort_and_is_noted() {
    let (bytes, _, _) = WINDOWS_1252.encode("Code;Title\nT-1;Größe – “schräg” 5 €\n");

    let table = read(&bytes).unwrap();

    assert_eq!(table.rows[0].cells[1], "Größe – “schräg” 5 €");
    assert!(noted(&table, "Windows-1252"));
}

#[test]
fn a_few_stray_bytes_in_good_utf_8_do_not_spoil_the_rest() {
    let mut bytes = "Code,Title\nT-1,Größe\nT-2,schräg, ".replace(", ", "").into_bytes();
    bytes.extend(b" \xe4hnlich\nT-3,");
    bytes.extend("Öse\n".as_bytes());

    let table = read(&bytes).unwrap();

    let titles: Vec<&str> = table.rows.iter().map(|row| row.cells[1].as_str()).collect();
    assert_eq!(titles, ["Größe", "schräg ähnlich", "Öse"]);
    assert!(noted(&table, "line 3"));
}

#[test]
fn nul_characters_are_left_out_and_do_not_make_utf_16() {
    let table = of("Code,Title\nT\0-1,Mate\0 the jumper and leave it\n");

    assert_eq!(rows(&table), [(2, vec!["T-1", "Mate the jumper and leave it"])]);
    assert!(noted(&table, "2 NUL characters"));
}

#[test]
fn heads_and_cells_are_trimmed_and_inner_text_is_kept() {
    let table =
        of("Code , Title\u{a0},\" Two\n lines \"\n\u{a0} T-1\t,\u{feff}two  blanks\u{a0}here ,x\n");

    assert_eq!(table.heads, ["Code", "Title", "Two lines"]);
    assert_eq!(rows(&table), [(3, vec!["T-1", "two  blanks\u{a0}here", "x"])]);
}

#[test]
fn trailing_separators_make_no_columns() {
    let table = of("Code,Title,,\nT-1,Mate,,\nT-2,Free,,,,\n,,,\n");

    assert_eq!(table.heads, ["Code", "Title"]);
    assert_eq!(rows(&table), [(2, vec!["T-1", "Mate"]), (3, vec!["T-2", "Free"])]);
    assert_eq!(table.bad, []);
}

#[test]
fn a_column_without_a_head_keeps_its_content_under_its_number() {
    let table = of("Code,,Title,\nT-1,left,Mate,\nT-2,,Free,\n");

    assert_eq!(table.heads, ["Code", "column 2", "Title"]);
    assert_eq!(rows(&table)[0].1, ["T-1", "left", "Mate"]);
    assert!(noted(&table, "Column 2 has no head"));
}

#[test]
fn short_rows_are_filled_up_and_long_ones_are_bad_where_they_hold_text() {
    let table = of("Code,Title,Notes\nT-1\nT-2,Free,stuck, then freed\nT-3,Mate,x, ,\n");

    assert_eq!(rows(&table), [(2, vec!["T-1", "", ""]), (4, vec!["T-3", "Mate", "x"])]);
    assert_eq!(table.bad.len(), 1);
    assert_eq!(table.bad[0].line, 3);
    assert!(table.bad[0].reason.contains("“then freed”"), "{}", table.bad[0].reason);
    assert!(noted(&table, "Rows shorter than the head: 1, the first in line 2"));
}

#[test]
fn two_heads_alike_are_an_error_that_names_them() {
    let error = read(b"Code,Start_Date,Notes,start date\nT-1,,,\n").unwrap_err();

    assert_eq!(error, TableError::SameHead { head: "start date".to_owned(), first: 2, second: 4 });
    assert!(error.to_string().contains("columns 2 and 4"));
}

#[test]
fn an_empty_file_is_an_error_and_heads_alone_are_a_table_without_rows() {
    for empty in ["", "\u{feff}", "\n\r\n\n", " ,,\n, \n", "\0\0\0", "sep=;\n", "sep=;"] {
        assert_eq!(read(empty.as_bytes()), Err(TableError::Empty), "{empty:?}");
    }
    for heads in ["Code,Title", "Code,Title\n", "\u{feff}Code,Title\r\n,\r\n"] {
        let table = of(heads);

        assert_eq!(table.heads, ["Code", "Title"]);
        assert_eq!(table.rows, []);
        assert!(noted(&table, "no rows"));
    }
}

#[test]
fn a_quote_that_never_closes_is_named_with_its_line() {
    let error = read(b"Code,Title\nT-1,\"Mate\nthe\"\nT-2,\"5 bolt\nT-3,x\nT-4,y\n");
    assert_eq!(error.unwrap_err(), TableError::OpenQuote { line: 4 });

    let error = read(b"Code,Title,Notes\nT-1,\"a\nb\",\"open\nT-2,x,y\n");
    assert_eq!(error.unwrap_err(), TableError::OpenQuote { line: 3 });
}

#[test]
fn quotes_inside_a_cell_are_text() {
    let table = of("Code,Title\nT-1,the 5\" bolt\nT-2,\"the \"\"left\"\" one\"\n");

    assert_eq!(table.rows[0].cells[1], "the 5\" bolt");
    assert_eq!(table.rows[1].cells[1], "the \"left\" one");
}

#[test]
fn separators_inside_cells_do_not_mislead() {
    let decimal_commas = of("Code;Mass, kg;Place\nT-1;1,5;2,5\nT-2;0,5;7,5\n");
    assert_eq!(decimal_commas.heads, ["Code", "Mass, kg", "Place"]);
    assert_eq!(decimal_commas.rows[0].cells, ["T-1", "1,5", "2,5"]);

    let lists = of("Code,Tools\nT-1,\"L-1; L-2; L-3\"\nT-2,L-1; L-2; L-3\n");
    assert_eq!(lists.heads, ["Code", "Tools"]);
    assert_eq!(lists.rows[1].cells, ["T-2", "L-1; L-2; L-3"]);

    let tabs = of("Code\tNotes\nT-1\tfirst, second; third\n");
    assert_eq!(tabs.rows[0].cells, ["T-1", "first, second; third"]);
}

#[test]
fn a_first_line_that_names_the_separator_is_obeyed() {
    let table = of("\u{feff}sep=;\r\nCode;Title, short\r\nT-1;a,b,c\r\n");

    assert_eq!(table.heads, ["Code", "Title, short"]);
    assert_eq!(rows(&table), [(3, vec!["T-1", "a,b,c"])]);
    assert_eq!(table.notes, ["The cells are separated by semicolons."]);
}

#[test]
fn titles_above_the_heads_are_left_out_and_noted() {
    for text in [
        "Tasks of Skerry\nas of 2031-01-05\n\nCode;Title;Notes\nT-1;Mate;x\n",
        "Tasks of Skerry;;\nas of 2031-01-05;;\n;;\nCode;Title;Notes\nT-1;Mate;x\n",
    ] {
        let table = of(text);

        assert_eq!(table.heads, ["Code", "Title", "Notes"]);
        assert_eq!(rows(&table), [(5, vec!["T-1", "Mate", "x"])]);
        assert!(noted(&table, "Line 1 was taken as a title above the heads: “Tasks of Skerry”."));
        assert!(noted(&table, "Line 2"));
    }
}

#[test]
fn one_column_is_a_table_too() {
    let table = of("Code\nG-31\nG-32\n\nG-33");

    assert_eq!(table.heads, ["Code"]);
    assert_eq!(rows(&table), [(2, vec!["G-31"]), (3, vec!["G-32"]), (5, vec!["G-33"])]);
}

#[test]
fn heads_repeated_further_down_are_skipped() {
    let table = of("Code,Title\nT-1,Mate\nCode,Title\nT-2,Free\n");

    assert_eq!(rows(&table), [(2, vec!["T-1", "Mate"]), (4, vec!["T-2", "Free"])]);
    assert!(noted(&table, "Line 3 repeats the heads"));
}

#[test]
fn files_that_are_no_text_are_refused_by_name() {
    let files: [&[u8]; 3] = [b"PK\x03\x04\x14\0", b"%PDF-1.7", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"];
    for file in files {
        let error = read(file).unwrap_err();
        assert!(error.to_string().contains("Save the sheet as CSV"), "{error}");
    }
}

#[test]
fn a_row_over_very_many_lines_is_pointed_out() {
    let table = of(&format!("Code,Title\nT-1,\"{}\"\nT-2,x\n", "line\n".repeat(60)));

    assert!(noted(&table, "The row in line 2 runs over 61 lines"));
}

#[test]
fn as_many_rows_as_may_come_at_once_come_through_whole() {
    let mut text = String::from("Code,Title,Notes\r\n");
    for number in 1..=MAX_TABLE_ROWS {
        write!(text, "T-{number},Free the latch,\"tried, twice\r\n\"\r\n").unwrap();
    }

    let table = of(&text);

    assert_eq!(table.rows.len(), 200_000);
    assert_eq!(table.rows[199_999].cells, ["T-200000", "Free the latch", "tried, twice"]);
    assert_eq!(table.rows[199_999].line, 400_000);
}

fn bytes_like_a_table() -> impl Strategy<Value = Vec<u8>> {
    let piece = prop_oneof![
        Just(b",".to_vec()),
        Just(b";".to_vec()),
        Just(b"\t".to_vec()),
        Just(b"\"".to_vec()),
        Just(b"\r".to_vec()),
        Just(b"\n".to_vec()),
        Just(b"\0".to_vec()),
        Just(b"sep=".to_vec()),
        Just("\u{feff}".as_bytes().to_vec()),
        Just(vec![0xff, 0xfe]),
        Just(vec![0xfe, 0xff]),
        Just(b"\n\x01end of the table\x01".to_vec()),
        "[a-zé漢0-9' =-]{0,6}".prop_map(String::into_bytes),
        proptest::collection::vec(any::<u8>(), 0..5),
    ];
    proptest::collection::vec(piece, 0..60).prop_map(|pieces| pieces.concat())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn any_bytes_give_a_table_or_a_sentence(bytes in bytes_like_a_table()) {
        match read(&bytes) {
            Ok(table) => {
                let mut line = 0;
                for row in &table.rows {
                    prop_assert_eq!(row.cells.len(), table.heads.len());
                    prop_assert!(row.line > line, "rows come in the order of the file");
                    line = row.line;
                }
                prop_assert!(table.heads.iter().all(|head| !head.is_empty()));
            }
            Err(error) => prop_assert!(error.to_string().ends_with('.')),
        }
    }

    #[test]
    fn random_bytes_never_panic(bytes in proptest::collection::vec(any::<u8>(), 0..600)) {
        let _ = read(&bytes);
    }

    #[test]
    fn utf_16_is_known_without_its_mark(
        rows in proptest::collection::vec(("[a-z0-9-]{1,8}", "[а-яА-Яa-z ]{0,30}"), 1..20),
    ) {
        let mut text = String::from("Code,Title\n");
        for (code, title) in &rows {
            writeln!(text, "{code},{title}").unwrap();
        }
        let expected = of(&text);

        for file in [utf_16(&text, false, u16::to_le_bytes), utf_16(&text, false, u16::to_be_bytes)] {
            prop_assert_eq!(&read(&file).unwrap().rows, &expected.rows);
        }
    }

    #[test]
    fn the_line_of_a_row_is_the_line_its_code_stands_in(
        parts in proptest::collection::vec(("[\r\n]{0,4}", "[\r\n a]{0,6}"), 1..30),
        end in prop_oneof![Just("\n"), Just("\r\n"), Just("\r")],
    ) {
        let mut text = String::from("code,notes");
        for (number, (blanks, inner)) in parts.iter().enumerate() {
            write!(text, "{end}{blanks}T{number}T,\"{inner}\"").unwrap();
        }

        let table = of(&text);

        prop_assert_eq!(table.rows.len(), parts.len());
        for row in &table.rows {
            let before = &text[..text.find(&row.cells[0]).unwrap()];
            let lines = before.replace("\r\n", "\n").replace('\r', "\n").matches('\n').count();
            prop_assert_eq!(row.line, 1 + lines as u64);
        }
    }
}

// Source: Encoding Standard, 6 “Hooks for standards”, BOM sniff, WHATWG (living standard, 2024):
// EF BB BF is UTF-8, FE FF is UTF-16BE, FF FE is UTF-16LE.
#[test]
fn byte_order_marks_are_those_of_the_standard() {
    let (utf_8, _, _) = UTF_8.encode("\u{feff}é,b\n1,2");
    assert_eq!(utf_8[..3], [0xef, 0xbb, 0xbf]);
    assert_eq!(read(&utf_8).unwrap().heads, ["é", "b"]);
    assert_eq!(read(b"\xfe\xff\0a\0,\0b\0\n\0c\0,\0d").unwrap().heads, ["a", "b"]);
    assert_eq!(read(b"\xff\xfea\0,\0b\0\n\0c\0,\0d\0").unwrap().heads, ["a", "b"]);
}

#[test]
fn a_table_beyond_its_bounds_is_refused_with_the_bound() {
    let says = |bytes: &[u8]| read(bytes).unwrap_err().to_string();
    let wide = ["a,".repeat(200).as_bytes(), b"\n"].concat();
    assert!(says(&wide).contains("line 1 has more than 200 cells"), "{}", says(&wide));
    let commas = [b"Code,Title\nT-1".as_slice(), ",".repeat(1_000_000).as_bytes()].concat();
    assert_eq!(read(&commas), Err(TableError::TooManyColumns { line: 2 }));
    let just = ["a,".repeat(199).as_bytes(), b"b\n1\n"].concat();
    assert!(matches!(read(&just), Err(TableError::SameHead { .. })), "200 columns are read");

    let long = format!("Code,Title\nT-1,{}\n", "x".repeat(1_000_001));
    assert!(says(long.as_bytes()).contains("line 2 is longer than 1000 kB"));
    let open = format!("Code,Title\nT-1,\"{}", "x\n".repeat(600_000));
    assert_eq!(read(open.as_bytes()), Err(TableError::LongRow { line: 2 }));
    let just = format!("Code,Title\nT-1,{}\n", "x".repeat(999_990));
    assert_eq!(read(just.as_bytes()).unwrap().rows.len(), 1);

    let many = format!("Code\n{}", "T\n".repeat(200_001));
    assert!(says(many.as_bytes()).contains("at most 200000 rows"), "{}", says(many.as_bytes()));
}

/// Letters that a piece of the file parts in two are read whole.
#[test]
fn a_file_of_many_pieces_reads_like_one_of_a_few_bytes() {
    let mut text = String::from("Code,Title\n");
    for number in 0..12_000 {
        writeln!(text, "T-{number},Größe „漢字“ № {number}").unwrap();
    }
    let expected = of(&text);
    assert_eq!(expected.rows[11_999].cells[1], "Größe „漢字“ № 11999");
    for file in [
        format!("\u{feff}{text}").into_bytes(),
        utf_16(&text, true, u16::to_le_bytes),
        utf_16(&text, false, u16::to_be_bytes),
    ] {
        assert_eq!(read(&file).unwrap().rows, expected.rows);
    }
    let mut stray = text.into_bytes();
    stray.extend(b"T-x,\xe4\n");
    let table = read(&stray).unwrap();
    assert_eq!(
        (&table.rows[..12_000], table.rows[12_000].cells[1].as_str()),
        (&expected.rows[..], "ä")
    );
    assert!(noted(&table, "the first stands in line 12002"), "{:?}", table.notes);
}

#[test]
fn reading_stops_when_it_is_told_to() {
    let text = format!("Code\n{}", "T\n".repeat(5_000));
    let stopped = survey(&mut std::io::Cursor::new(text), &AtomicBool::new(true));
    assert_eq!(stopped, Err(TableError::Stopped));
}
