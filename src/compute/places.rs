//! Places in lists. Each type indexes the lists of its own kind alone, so that the place of a
//! flight cannot be taken for that of a tool.

/// A place in a list, four bytes wide: a record of four thousand million tasks does not exist.
macro_rules! place {
    ($($(#[doc = $doc:literal])* $name:ident)*) => {
        $(
            $(#[doc = $doc])*
            #[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
            pub struct $name(pub(crate) u32);

            impl $name {
                /// The one after it.
                #[must_use]
                pub const fn next(self) -> Self {
                    Self(self.0.saturating_add(1))
                }
            }

            impl From<usize> for $name {
                #[inline]
                fn from(at: usize) -> Self {
                    Self(u32::try_from(at).unwrap_or(u32::MAX))
                }
            }

            impl From<$name> for usize {
                #[inline]
                fn from(place: $name) -> Self {
                    place.0 as usize
                }
            }
        )*
    };
}

place! {
    FlightAt
    SiteAt
    OutsideAt
    ToolAt
    RatesAt
    InhibitAt
    CrewAt
    ExcursionAt
    TaskAt
    /// Among the slots of one excursion.
    SlotAt
    /// Among the approaches of one task.
    ApproachAt
    /// Among the remedies of one approach.
    RemedyAt
    /// Among the sets of aids that occur.
    SetAt
}
