//! The tables, in the order in which they are taken.

use crate::domain::kinds::Kind;

macro_rules! tables {
    ($($kind:ident from $file:literal),+ $(,)?) => {
        &[$((Kind::$kind, include_str!(concat!("tables/", $file, ".csv")))),+]
    };
}

/// Each kind with its table.
pub const TABLES: &[(Kind, &str)] = tables![
    Flight from "flights",
    Worksite from "worksites",
    Family from "families",
    Position from "positions",
    Unit from "units",
    Cause from "causes",
    Technique from "techniques",
    Tool from "tools",
    Excursion from "excursions",
    Task from "tasks",
];

#[cfg(test)]
mod tests {
    use super::TABLES;
    use crate::domain::attempts::Attempt;
    use crate::domain::cells::Cells;
    use crate::domain::endings::{Closure, Deferral, Parking, Reopening};
    use crate::domain::excursions::{Excursion, ExcursionTool};
    use crate::domain::families::{Family, Unit};
    use crate::domain::findings::{Cause, Exemption, Finding, Remedy};
    use crate::domain::flights::Flight;
    use crate::domain::outside::OutsideItem;
    use crate::domain::records::Record;
    use crate::domain::slots::Slot;
    use crate::domain::tasks::{Link, Task};
    use crate::domain::techniques::{Rehearsal, Technique};
    use crate::domain::tools::Tool;
    use crate::domain::worksites::{Position, Route, Worksite};

    fn parsed<R: Record>() -> Vec<R> {
        let mut records = Vec::new();
        for (kind, text) in TABLES.iter().filter(|(kind, _)| *kind == R::KIND) {
            let mut reader = csv::Reader::from_reader(text.as_bytes());
            let head = reader.headers().unwrap().clone();
            for name in &head {
                assert!(R::COLUMNS.iter().any(|c| c.name == name), "{kind}: no column {name}");
            }
            for row in reader.records() {
                let row = row.unwrap();
                let cells: Cells =
                    head.iter().zip(&row).map(|(n, c)| (n.to_owned(), c.to_owned())).collect();
                let record =
                    R::parse(&cells).unwrap_or_else(|wrong| panic!("{kind} {row:?}: {wrong:?}"));
                assert!(!record.code().is_empty(), "{kind} {row:?}: no code");
                records.push(record);
            }
        }
        records
    }

    #[test]
    fn every_row_reads_as_its_record() {
        assert_eq!(parsed::<Flight>().len(), 9);
        assert_eq!(parsed::<Worksite>().len(), 16);
        assert_eq!(parsed::<Family>().len(), 12);
        assert_eq!(parsed::<Cause>().len(), 26);
        assert_eq!(parsed::<Technique>().len(), 20);
        assert_eq!(parsed::<Tool>().len(), 25);
        assert_eq!(parsed::<Task>().len(), 70);
        let others =
            parsed::<Position>().len() + parsed::<Unit>().len() + parsed::<Excursion>().len();
        assert!(others > 100);
        let later = parsed::<Link>().len()
            + parsed::<Slot>().len()
            + parsed::<Attempt>().len()
            + parsed::<Deferral>().len()
            + parsed::<Closure>().len()
            + parsed::<Parking>().len()
            + parsed::<Reopening>().len()
            + parsed::<Finding>().len()
            + parsed::<Remedy>().len()
            + parsed::<Exemption>().len()
            + parsed::<Rehearsal>().len()
            + parsed::<OutsideItem>().len()
            + parsed::<ExcursionTool>().len()
            + parsed::<Route>().len();
        assert_eq!(later, 0);
    }
}
