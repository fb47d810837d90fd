//! Access sides in the vehicle's body frame; two may be joined, as in `nadir-forward`.

use crate::cells::{Cell, Input};

/// The sides that may stand alone or be joined.
pub const NAMES: [&str; 8] =
    ["zenith", "nadir", "port", "starboard", "forward", "aft", "inboard", "outboard"];

/// One access side, or two joined in the order of the list above.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, sqlx::Type)]
#[sqlx(transparent)]
pub struct Side(String);

impl Side {
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl std::fmt::Display for Side {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&self.0)
    }
}

impl Cell for Side {
    const INPUT: Input = Input::Line;
    fn read(text: &str) -> Result<Self, String> {
        let wrong = || {
            format!(
                "“{}” is not a side; use {}, or two joined by a dash.",
                text.trim(),
                NAMES.join(", ")
            )
        };
        let lower = text.trim().to_lowercase();
        let mut places = lower
            .split(['-', '/', '–', ' '])
            .filter(|part| !part.is_empty())
            .map(|part| NAMES.iter().position(|name| *name == part).ok_or_else(wrong))
            .collect::<Result<Vec<_>, _>>()?;
        places.sort_unstable();
        places.dedup();
        match places[..] {
            [one] => Ok(Self(NAMES[one].to_owned())),
            [one, other] if one / 2 != other / 2 => {
                Ok(Self(format!("{}-{}", NAMES[one], NAMES[other])))
            }
            _ => Err(wrong()),
        }
    }
    fn show(&self) -> String {
        self.0.clone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_side_is_one_name_or_two_that_are_not_opposite() {
        for one in NAMES {
            assert_eq!(Side::read(&one.to_uppercase()).unwrap().as_str(), one);
        }
        let mut joined = 0;
        for (at, one) in NAMES.iter().enumerate() {
            for (other_at, other) in NAMES.iter().enumerate() {
                let side = Side::read(&format!("{one}-{other}"));
                if at == other_at {
                    assert_eq!(side.unwrap().as_str(), *one);
                } else if at / 2 == other_at / 2 {
                    assert!(side.is_err(), "{one}-{other} are opposite");
                } else {
                    // The same place, whichever name comes first.
                    assert_eq!(side, Side::read(&format!(" {other} / {one} ")));
                    joined += 1;
                }
            }
        }
        assert_eq!(joined, 8 * 6);
    }

    #[test]
    fn what_is_no_side_gets_the_list() {
        for text in ["left", "nadir-forward-port", "nadirforward", "-", "naďir"] {
            let message = Side::read(text).unwrap_err();
            assert!(message.contains("zenith, nadir, port"), "{text}: {message}");
        }
    }
}
