//! Markup that is safe to place on a page as it stands, and the few ways to write it.

use std::fmt::{self, Display, Write as _};

/// Finished markup: every text in it went through [`escaped`]. A template places it as it is,
/// without a filter.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Drawing(String);

impl Drawing {
    pub(super) const fn new(markup: String) -> Self {
        Self(markup)
    }
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// Markup of a drawing that was written with the functions below.
pub fn finished(markup: String) -> Drawing {
    Drawing::new(markup)
}

impl Display for Drawing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl askama::filters::HtmlSafe for Drawing {}

/// Text that cannot become markup, inside an element or a quoted attribute.
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            other => out.push(other),
        }
    }
    out
}

/// A coordinate with at most two digits behind the point, as short as it gets.
pub fn short(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// An id that any code gives: letters, digits and dashes stay, the rest becomes a dash.
pub fn identifier(text: &str) -> String {
    text.chars().map(|c| if c.is_alphanumeric() || c == '-' { c } else { '-' }).collect()
}

/// Opens a drawing that holds links: what stands in an image could not be reached by keyboard.
pub fn open_group(class: &str, view_box: &str, id: &str, title: &str, words: &str) -> String {
    open(class, view_box, id, title, words).replacen("role=\"img\"", "role=\"group\"", 1)
}

/// What `draw` writes, as a link. It is read aloud as `said`, or by the words that are drawn.
pub fn linked(out: &mut String, address: &str, said: &str, draw: impl FnOnce(&mut String)) {
    let _ = write!(out, "<a href=\"{}\"", escaped(address));
    if !said.is_empty() {
        let _ = write!(out, " aria-label=\"{}\"", escaped(said));
    }
    out.push('>');
    draw(out);
    out.push_str("</a>");
}

/// Opens a drawing with its text equivalent.
pub fn open(class: &str, view_box: &str, id: &str, title: &str, words: &str) -> String {
    let id = identifier(id);
    let class = if class.is_empty() { String::new() } else { format!(" class=\"{class}\"") };
    format!(
        "<svg{class} viewBox=\"{view_box}\" role=\"img\" aria-labelledby=\"{id}t {id}d\">\
         <title id=\"{id}t\">{}</title><desc id=\"{id}d\">{}</desc>",
        escaped(title),
        escaped(words)
    )
}

/// A text at a place.
pub fn text(out: &mut String, class: &str, x: f64, y: f64, words: &str) {
    // Writing to a String cannot fail, here and in all drawings.
    let _ = write!(
        out,
        "<text class=\"{class}\" x=\"{}\" y=\"{}\">{}</text>",
        short(x),
        short(y),
        escaped(words)
    );
}

/// One of the page's marks at a place; `unit` scales it.
pub fn place(out: &mut String, mark: &str, x: f64, y: f64, unit: f64) {
    let (x, y, unit) = (short(x), short(y), short(unit));
    let _ = if unit == "1" {
        write!(out, "<use href=\"#{mark}\" x=\"{x}\" y=\"{y}\"/>")
    } else {
        write!(out, "<use href=\"#{mark}\" transform=\"translate({x} {y}) scale({unit})\"/>")
    };
}

/// A path in one of the classes of the style sheet.
pub fn path(out: &mut String, class: &str, d: &str) {
    if !d.is_empty() {
        let _ = write!(out, "<path class=\"{class}\" d=\"{d}\"/>");
    }
}

/// A label of at most so many letters; an ellipsis says that some were left out.
pub fn cut(label: &str, letters: usize) -> String {
    if label.chars().count() <= letters {
        return label.to_owned();
    }
    let kept: String = label.chars().take(letters - 1).collect();
    format!("{}…", kept.trim_end())
}

/// A label cut so that it is at most so wide in letters of that size; an ellipsis says that some
/// were left out.
pub fn cut_to(label: &str, wide: f64, size: f64) -> String {
    let width = |text: &str| text.chars().map(letter).sum::<f64>() * size;
    if width(label) <= wide {
        return label.to_owned();
    }
    let mut room = wide - letter('…') * size;
    let fits = |c: &char| {
        room -= letter(*c) * size;
        room >= 0.0
    };
    let kept: String = label.chars().take_while(fits).collect();
    format!("{}…", kept.trim_end())
}

/// The width of a letter of the text face in parts of its size, rather more than less.
const fn letter(c: char) -> f64 {
    match c {
        'i' | 'j' | 'l' | '.' | ',' | ':' | ';' | '\'' | '|' | '!' => 0.32,
        't' | 'f' | 'r' | ' ' | '-' | '(' | ')' => 0.42,
        'W' | 'M' | 'm' | 'w' | '@' | '%' | '…' => 1.0,
        'A'..='Z' | '0'..='9' => 0.7,
        c if c.is_ascii() => 0.6,
        '\u{80}'..='\u{24f}' => 0.7,
        _ => 1.0,
    }
}

/// A count as a length.
pub fn length(count: i64) -> f64 {
    f64::from(i32::try_from(count.max(0)).unwrap_or(i32::MAX))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_stays_text() {
        let mut out = String::new();
        text(&mut out, "t11", 1.0, 2.5, "</text><script>alert('&\"')");
        assert_eq!(
            out,
            "<text class=\"t11\" x=\"1\" y=\"2.5\">\
             &lt;/text&gt;&lt;script&gt;alert(&#39;&amp;&quot;&#39;)</text>"
        );
    }

    #[test]
    fn coordinates_are_as_short_as_they_get() {
        assert_eq!(short(134.583_333), "134.58");
        assert_eq!(short(270.0), "270");
        assert_eq!(short(22.5), "22.5");
        assert_eq!(short(-0.001), "0");
    }
}
