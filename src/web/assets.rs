//! Static files under names that change with their content, so that a browser may keep them for
//! ever. Written by `build.rs` from `static/`.

include!(concat!(env!("OUT_DIR"), "/assets.rs"));

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_style_sheet_is_found_by_its_address_and_names_fonts_that_are_found_too() {
        let name = APP_CSS.strip_prefix("/static/").unwrap();
        let (mime, css) = find(name).unwrap();
        assert_eq!(mime, "text/css; charset=utf-8");
        let css = std::str::from_utf8(css).unwrap();
        let fonts: Vec<&str> =
            css.split("url(\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
        assert!(fonts.len() >= 8);
        for font in fonts {
            assert!(find(font).is_some(), "{font} is named by the style sheet and not served");
        }
    }

    #[test]
    fn a_file_is_not_found_by_its_plain_name() {
        assert!(find("app.css").is_none());
    }
}
