//! The first words of a text, as far as there is room.

/// Cut between words, with an ellipsis where something was left out; `room` is in characters. A
/// first word that is longer than the room stays whole.
pub(crate) fn shortened(text: &str, room: usize) -> String {
    if text.chars().count() <= room {
        return text.to_owned();
    }
    let mut short = String::new();
    let mut length = 0;
    for word in text.split_whitespace() {
        let with = length + word.chars().count() + usize::from(length > 0);
        if with > room && length > 0 {
            break;
        }
        if length > 0 {
            short.push(' ');
        }
        short.push_str(word);
        length = with;
    }
    short + "…"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_text_is_cut_between_words() {
        assert_eq!(shortened("hinge stuck", 22), "hinge stuck");
        let long = "the keel heater stays on all through the night";
        assert_eq!(shortened(long, 22), "the keel heater stays…");
        assert_eq!(shortened(long, 24), "the keel heater stays on…");
        assert_eq!(shortened("unbreakable words", 5), "unbreakable…");
    }
}
