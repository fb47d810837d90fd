//! Tasks and the links between them.

use crate::domain::cells::{Line, List, Prose};
use crate::domain::codes::{
    ExcursionCode, FamilyCode, FlightCode, LinkCode, Own, PositionCode, TaskCode, WorksiteCode,
};
use crate::domain::sides::Side;
use crate::domain::tasks::{Link, Task};
use crate::domain::time::Day;
use crate::domain::units::{Litres, Minutes};
use crate::domain::words::{LightNeed, LinkKind, PriorityClass, WorkRate};
use crate::store::kept;

macro_rules! task_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Task,
            r#"SELECT code AS "code: Own<TaskCode>", title AS "title: Line",
                   family AS "family: FamilyCode", position AS "position: PositionCode",
                   worksite AS "worksite: WorksiteCode", sides AS "sides: List<Side>",
                   class AS "class: PriorityClass",
                   needed_by_flight AS "needed_by_flight: FlightCode",
                   needed_by_day AS "needed_by_day: Day", late_means AS "late_means: Line",
                   late_is_moot AS "late_is_moot: bool",
                   back_inside_by AS "back_inside_by: FlightCode",
                   optimistic AS "optimistic: Minutes", likely AS "likely: Minutes",
                   pessimistic AS "pessimistic: Minutes", estimator AS "estimator: Line", seats,
                   work_rate AS "work_rate: WorkRate", lighting AS "lighting: LightNeed",
                   arm AS "arm: bool", takes_out AS "takes_out: Litres",
                   brings_in AS "brings_in: Litres", inhibits AS "inhibits: Line",
                   hazards AS "hazards: Prose", notes AS "notes: Prose", opened AS "opened: Day",
                   opened_after AS "opened_after: FlightCode",
                   from_excursion AS "from_excursion: ExcursionCode",
                   triggered AS "triggered: bool"
               FROM task "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Task, task_rows,
    "INSERT INTO task (code, title, family, position, worksite, sides, class,
         needed_by_flight, needed_by_day, late_means, late_is_moot, back_inside_by, optimistic,
         likely, pessimistic, estimator, seats, work_rate, lighting, arm, takes_out, brings_in,
         inhibits, hazards, notes, opened, opened_after, from_excursion, triggered)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18,
         ?19, ?20, ?21, ?22, ?23, ?24, ?25, ?26, ?27, ?28, ?29)
     ON CONFLICT (code) DO UPDATE SET title = excluded.title, family = excluded.family,
         position = excluded.position, worksite = excluded.worksite, sides = excluded.sides,
         class = excluded.class, needed_by_flight = excluded.needed_by_flight,
         needed_by_day = excluded.needed_by_day, late_means = excluded.late_means,
         late_is_moot = excluded.late_is_moot, back_inside_by = excluded.back_inside_by,
         optimistic = excluded.optimistic, likely = excluded.likely,
         pessimistic = excluded.pessimistic, estimator = excluded.estimator,
         seats = excluded.seats, work_rate = excluded.work_rate, lighting = excluded.lighting,
         arm = excluded.arm, takes_out = excluded.takes_out, brings_in = excluded.brings_in,
         inhibits = excluded.inhibits, hazards = excluded.hazards, notes = excluded.notes,
         opened = excluded.opened, opened_after = excluded.opened_after,
         from_excursion = excluded.from_excursion, triggered = excluded.triggered",
    code, title, family, position, worksite, sides, class, needed_by_flight, needed_by_day,
    late_means, late_is_moot, back_inside_by, optimistic, likely, pessimistic, estimator, seats,
    work_rate, lighting, arm, takes_out, brings_in, inhibits, hazards, notes, opened,
    opened_after, from_excursion, triggered
}

macro_rules! link_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Link,
            r#"SELECT code AS "code: Own<LinkCode>", task AS "task: TaskCode",
                   kind AS "kind: LinkKind", other AS "other: TaskCode", words AS "words: Line"
               FROM link "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Link, link_rows,
    "INSERT INTO link (code, task, kind, other, words)
     VALUES (?1, ?2, ?3, ?4, ?5)
     ON CONFLICT (code) DO UPDATE SET task = excluded.task, kind = excluded.kind,
         other = excluded.other, words = excluded.words",
    code, task, kind, other, words
}
