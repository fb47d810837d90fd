use askama::Template;

use super::*;
use domain::records::Record;
use domain::tasks::Task;

#[derive(Template)]
#[template(
    ext = "html",
    source = "{% import \"parts/macros.html\" as p %}{{ p::errors(summary) }}{{ p::strip(fields) }}"
)]
struct Form {
    summary: ErrorSummary,
    fields: Vec<FieldView>,
}

fn form(cells: &Cells, errors: &[FieldError]) -> String {
    let fields = fields(Task::COLUMNS, cells, errors);
    Form { summary: ErrorSummary::of(errors, &fields), fields }.render().unwrap()
}

#[test]
fn every_column_that_people_fill_in_has_a_labelled_field() {
    let html = form(&Cells::default(), &[]);
    for column in Task::COLUMNS.iter().filter(|column| !column.by_operation) {
        assert!(html.contains(&format!("name=\"{}\"", column.name)), "{} is missing", column.name);
        let label = format!("<label for=\"{}\">{}", identifier(column.name), column.label);
        assert!(html.contains(&label), "{} has no label", column.name);
    }
}

#[test]
fn what_was_typed_stays_right_or_wrong() {
    let mut cells = Cells::default();
    cells.set("title", "Pull \"C-14\" <now>");
    cells.set("needed_by_day", "soon");
    cells.set("class", "2");
    let html = form(&cells, &[FieldError::new("needed_by_day", "“soon” is not a date.")]);
    assert!(html.contains("value=\"Pull &#34;C-14&#34; &#60;now&#62;\""));
    assert!(html.contains("value=\"soon\""));
    assert!(html.contains("<option value=\"2\" selected>2</option>"));
}

#[test]
fn an_error_stands_beside_its_field_and_on_top_in_the_same_words() {
    let errors = [FieldError::new("title", "Fill this in; it cannot stay empty.")];
    let html = form(&Cells::default(), &errors);
    assert!(html.contains("<a href=\"#f-title\">Title: Fill this in; it cannot stay empty.</a>"));
    assert!(html.contains("aria-invalid=\"true\" aria-describedby=\"f-title-error\""));
    assert!(html.contains("id=\"f-title-error\""));
    assert_eq!(html.matches("Fill this in; it cannot stay empty.").count(), 2);
    assert_eq!(html.matches("autofocus").count(), 1, "the summary alone has the focus");
}

#[test]
fn an_error_about_no_field_is_not_lost() {
    let summary = ErrorSummary::of(&[FieldError::new("", "The record moved on.")], &[]);
    assert_eq!(summary.lines[0].target, "main");
}

#[test]
fn text_that_begins_with_an_empty_line_comes_back_whole() {
    // Source: HTML Standard, 13.1.2.5 "Restrictions on content models", 2026: a line break right
    // behind the start tag of a textarea is dropped, so one of our own is spent on it.
    let mut cells = Cells::default();
    cells.set("notes", "\nsecond line");
    assert!(form(&cells, &[]).contains(">\n\nsecond line</textarea>"));
}

#[test]
fn records_on_one_page_are_told_apart() {
    let field = FieldView::new("from", "PET from").within("T-0142");
    assert_eq!((field.name.as_str(), field.id.as_str()), ("T-0142-from", "f-T-0142-from"));
}

#[derive(Template)]
#[template(
    ext = "html",
    source = r#"{% import "parts/macros.html" as p %}{{ p::badge(outcome) }}|{{ p::badge(slot) }}|{{ p::task(code) }}|{{ p::code(kind, code) }}|{{ p::day(day) }}|{{ p::moment(at) }}|{{ p::unknown() }}|{{ p::pager(pager) }}|{{ p::empty("Nothing waits.", "/tasks/new", "Add a task") }}|{{ p::sign("v-no", "does not fit") }}|{% for row in rows %}{{ p::tool(row) }}{% endfor %}"#
)]
struct Parts {
    outcome: domain::words::Outcome,
    slot: domain::words::SlotState,
    code: domain::codes::TaskCode,
    kind: domain::kinds::Kind,
    day: domain::time::Day,
    at: domain::time::Moment,
    pager: Pager,
    rows: Vec<domain::codes::ToolCode>,
}

#[test]
fn the_small_parts_of_a_page_say_word_and_shape_and_lead_on() {
    use domain::cells::Cell;
    let html = Parts {
        outcome: domain::words::Outcome::PartDone,
        slot: domain::words::SlotState::Pencilled,
        code: "T 1/2".into(),
        kind: domain::kinds::Kind::OutsideItem,
        day: Cell::read("2031-03-18").unwrap(),
        at: Cell::read("2031-03-18 14:20").unwrap(),
        pager: Pager::new(1, 14, 41, |page| format!("?q=a&page={page}")),
        rows: vec!["L-031".into()],
    }
    .render()
    .unwrap();
    let parts: Vec<&str> = html.split('|').collect();
    assert_eq!(
        parts[0],
        "<span class=\"badge\"><svg class=\"i\" viewBox=\"-8 -8 16 16\" aria-hidden=\"true\">\
         <use href=\"#k-part\"/></svg>part done</span>"
    );
    assert!(parts[1].contains("href=\"#k-pen\" x=\"3\"/>"));
    assert_eq!(parts[2], "<a class=\"code\" href=\"/tasks/T%201%2F2\">T 1/2</a>");
    assert!(parts[3].contains("href=\"/outside/T%201%2F2\""));
    assert_eq!(
        parts[4],
        "<time datetime=\"2031-03-18\">2031-03-18<span class=\"doy\">077</span></time>"
    );
    assert!(parts[5].contains(">2031-03-18 14:20</time>"));
    assert!(
        parts[7].contains("Page 1 of 3<span class=\"no-print\"> · <a rel=\"next\" href=\"?q=a&#38;page=2\">next 14</a>")
    );
    assert!(parts[8].contains("<a class=\"btn\" href=\"/tasks/new\">Add a task</a>"));
    assert!(parts[9].contains("class=\"i wide\" viewBox=\"-10 -8 20 16\""));
    assert!(parts[10].contains("href=\"/tools/L-031\""));
}

#[test]
fn a_pager_stays_inside_its_list() {
    let address = |page: i64| format!("?page={page}");
    let last = Pager::new(9, 14, 41, address);
    assert_eq!((last.page, last.pages, last.next.clone()), (3, 3, None));
    assert_eq!(last.previous.as_deref(), Some("?page=2"));
    let second = Pager::new(2, 14, 41, address);
    assert_eq!(second.next_count(), 13);
    let none = Pager::new(1, 50, 0, address);
    assert_eq!((none.pages, none.next, none.previous), (1, None, None));
}
