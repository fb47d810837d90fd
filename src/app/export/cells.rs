//! A value of the database as the text of a cell, and back to the same value.

use store::transfer::{Stored, Value};

/// What stands in front of text that could be taken for something else.
const GUARD: char = '\\';

fn is_guarded(first: char) -> bool {
    matches!(first, '=' | '+' | '-' | '@' | '\t' | '\r' | GUARD)
}

pub(super) fn written(value: &Value, may_be_null: bool) -> String {
    match value {
        Value::Null => String::new(),
        Value::Integer(number) => number.to_string(),
        // The shortest text that is read back to the same number.
        Value::Real(number) => format!("{number:?}"),
        Value::Blob(bytes) => hex(bytes),
        Value::Text(text) if text.is_empty() && may_be_null => GUARD.to_string(),
        Value::Text(text) if text.starts_with(is_guarded) => format!("{GUARD}{text}"),
        Value::Text(text) => text.clone(),
    }
}

pub(super) fn read_back(cell: &str, stored: Stored, may_be_null: bool) -> Result<Value, String> {
    if cell.is_empty() && (may_be_null || stored != Stored::Text) {
        return Ok(Value::Null);
    }
    match stored {
        Stored::Integer => {
            cell.parse().map(Value::Integer).map_err(|_| format!("“{cell}” is not a whole number"))
        }
        Stored::Real => {
            cell.parse().map(Value::Real).map_err(|_| format!("“{cell}” is not a number"))
        }
        Stored::Blob => bytes_of(cell).ok_or_else(|| format!("“{cell}” is not hexadecimal")),
        Stored::Text => Ok(Value::Text(cell.strip_prefix(GUARD).unwrap_or(cell).to_owned())),
    }
}

fn bytes_of(hex: &str) -> Option<Value> {
    if !hex.is_ascii() || !hex.len().is_multiple_of(2) {
        return None;
    }
    let pair = |at: usize| u8::from_str_radix(hex.get(at..at + 2)?, 16).ok();
    (0..hex.len()).step_by(2).map(pair).collect::<Option<Vec<u8>>>().map(Value::Blob)
}

pub(super) fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(2 * bytes.len()), |mut hex, byte| {
        use std::fmt::Write as _;
        write!(hex, "{byte:02x}").expect("writing to a string succeeds");
        hex
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_value_comes_back_as_it_was() {
        for (value, stored, may_be_null) in [
            (Value::Null, Stored::Text, true),
            (Value::Text(String::new()), Stored::Text, true),
            (Value::Text(String::new()), Stored::Text, false),
            (Value::Text("=1+1".to_owned()), Stored::Text, true),
            (Value::Text("-5".to_owned()), Stored::Text, false),
            (Value::Text("\\".to_owned()), Stored::Text, true),
            (Value::Text("\\=a".to_owned()), Stored::Text, true),
            (Value::Text("a,\"b\"\r\nc".to_owned()), Stored::Text, true),
            (Value::Integer(-9_223_372_036_854_775_808), Stored::Integer, false),
            (Value::Real(0.1 + 0.2), Stored::Real, true),
            (Value::Real(-1e-300), Stored::Real, true),
            (Value::Blob(vec![0, 255, 16]), Stored::Blob, false),
        ] {
            let cell = written(&value, may_be_null);
            assert_eq!(read_back(&cell, stored, may_be_null), Ok(value), "{cell:?}");
        }
        assert!(read_back("12x", Stored::Integer, true).is_err());
        assert!(read_back("abc", Stored::Blob, true).is_err());
    }
}
