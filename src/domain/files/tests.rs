use super::*;

#[test]
fn a_name_loses_its_folders_and_what_nobody_sees() {
    for (sent, kept) in [
        ("jam.jpg", "jam.jpg"),
        ("../../etc/passwd", "passwd"),
        ("C:\\fakepath\\jam.jpg", "jam.jpg"),
        ("/var/lib/holdover/files/x.png", "x.png"),
        ("..", "file"),
        ("a/b/", "file"),
        ("", "file"),
        ("ja\0m\r\n.jpg", "jam.jpg"),
        ("jam\u{202e}gpj.exe", "jamgpj.exe"),
        ("  clip   at  C-14 .png ", "clip at C-14 .png"),
        (".htaccess", "htaccess"),
        ("<img src=x>.png", "<img src=x>.png"),
    ] {
        assert_eq!(shown_name(sent).as_str(), kept, "{sent:?}");
    }
}

#[test]
fn a_long_name_keeps_its_end() {
    let name = shown_name(&format!("{}é.jpg", "x".repeat(500)));
    assert_eq!(name.as_str().chars().count(), 120);
    assert!(name.as_str().ends_with("xé.jpg"));
}

#[test]
fn a_name_that_says_another_type_is_refused() {
    assert_eq!(Media::Jpeg.agrees_with("jam.JPG"), Ok(()));
    assert_eq!(Media::Jpeg.agrees_with("jam"), Ok(()));
    assert_eq!(Media::Text.agrees_with("torque.csv"), Ok(()));
    assert_eq!(Media::Pdf.agrees_with("clip at W-KEEL4, seen from nadir"), Ok(()));
    let why = Media::Text.agrees_with("jam.jpg").unwrap_err();
    assert!(why.contains("ends in .jpg") && why.contains("plain text"), "{why}");
    for name in ["tool.exe", "page.html", "run.sh", "drawing.svg"] {
        assert!(Media::Text.agrees_with(name).is_err(), "{name}");
    }
}

#[test]
fn what_is_sent_out_ends_as_its_content_does() {
    let file = |name: &str, media: Media| {
        let mut cells = crate::cells::Cells::default();
        for (column, text) in [
            ("attempt", "A-1"),
            ("name", name),
            ("media", media.word()),
            ("bytes", "1"),
            ("hash", "00"),
        ] {
            cells.set(column, text);
        }
        <File as crate::records::Record>::parse(&cells).unwrap()
    };
    assert_eq!(file("jam.jpeg", Media::Jpeg).name_outside(), "jam.jpeg");
    assert_eq!(file("jam.webp", Media::Jpeg).name_outside(), "jam.webp.jpg");
    assert_eq!(file("jam", Media::Png).name_outside(), "jam.png");
}

#[test]
fn a_file_belongs_to_one_record() {
    let mut cells = crate::cells::Cells::default();
    for (column, text) in
        [("name", "a.txt"), ("media", "plain text"), ("bytes", "1"), ("hash", "00")]
    {
        cells.set(column, text);
    }
    let parsed = |cells: &_| <File as crate::records::Record>::parse(cells).unwrap();
    assert_eq!(parsed(&cells).belongs_to(), None);
    cells.set("finding", "N-007");
    assert_eq!(parsed(&cells).belongs_to(), Some((Kind::Finding, "N-007")));
    cells.set("outside_item", "O-07");
    assert_eq!(parsed(&cells).belongs_to(), None, "two are as wrong as none");
}

#[test]
fn a_preview_fits_and_keeps_its_shape() {
    for (size, small) in [
        ((4000, 3000), (480, 360)),
        ((3000, 4000), (360, 480)),
        ((480, 480), (480, 480)),
        ((20, 10), (20, 10)),
        ((10_000, 1), (480, 1)),
    ] {
        assert_eq!(reduced(size, PREVIEW), small, "{size:?}");
    }
}

#[test]
fn a_size_is_said_as_people_say_it() {
    for (bytes, words) in [
        (0, "0 bytes"),
        (1023, "1023 bytes"),
        (1024, "1 kB"),
        (1_048_575, "1024 kB"),
        (1_048_576, "1.0 MB"),
        (26_214_400, "25.0 MB"),
    ] {
        assert_eq!(size_words(bytes), words);
    }
}
