//! What stands above everything that the program shows; pages, papers, files and the command line
//! say it in the same words.

/// The whole caution.
pub const CAUTION: &str = "Holdover is a planning aid. Margins and chances are calculated from the \
                           record; it commands nothing and is not flight-certified. Flight rules, \
                           certified procedures and the people licensed to decide stand above it.";

/// The same where a margin, a chance or a slot is set.
pub const IN_SHORT: &str = "Planning aid: flight rules, certified procedures and the people licensed \
                            to decide stand above this.";
