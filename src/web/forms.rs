//! Forms as pages show them: one field a column, with what was typed, what is wrong with it and
//! how it is offered. `templates/parts/macros.html` draws them.

use domain::cells::{Cells, FieldError, Input};
use domain::records::Column;

/// A value that can be picked, and the words that stand for it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    pub value: String,
    pub words: String,
}

impl Choice {
    pub fn new(value: impl Into<String>, words: impl Into<String>) -> Self {
        Self { value: value.into(), words: words.into() }
    }
}

/// One of the answers that are all in view: its words, and what is known of it beside them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    pub value: String,
    pub words: String,
    pub beside: String,
}

/// What a one-line field expects: the attributes `type`, `inputmode` and `autocomplete`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Typed {
    pub kind: &'static str,
    pub mode: &'static str,
    pub autocomplete: &'static str,
}

impl Typed {
    pub const TEXT: Self = Self { kind: "text", mode: "", autocomplete: "off" };
    pub const WHOLE: Self = Self { mode: "numeric", ..Self::TEXT };
    pub const DECIMAL: Self = Self { mode: "decimal", ..Self::TEXT };
    pub const NAME: Self = Self { autocomplete: "username", ..Self::TEXT };
    pub const PASSWORD: Self =
        Self { kind: "password", mode: "", autocomplete: "current-password" };
    pub const NEW_PASSWORD: Self = Self { autocomplete: "new-password", ..Self::PASSWORD };
}

/// How a field is drawn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Shape {
    Typed(Typed),
    Prose,
    Choice(Vec<Choice>),
    /// Answers that are all in view, one of which is picked.
    Options(Vec<Answer>),
    /// A box to tick: the value that it sends, and the words beside it.
    Tick(Choice),
}

/// How much of a line a field asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Width {
    Small,
    Medium,
    Grow,
    Whole,
}

/// Sends each list of offers once: fields that offer the same as an earlier one use its list.
pub fn share_offers<'f>(fields: impl Iterator<Item = &'f mut FieldView>) {
    let mut known: Vec<(Vec<Choice>, String)> = Vec::new();
    for field in fields.filter(|field| !field.offers.is_empty()) {
        if let Some((_, of)) = known.iter().find(|(offers, _)| *offers == field.offers) {
            field.offers_of = Some(of.clone());
            field.offers.clear();
        } else {
            known.push((field.offers.clone(), field.id.clone()));
        }
    }
}

/// One field of a form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FieldView {
    pub name: String,
    pub id: String,
    pub label: String,
    pub hint: String,
    /// What was typed, right or wrong.
    pub value: String,
    pub error: Option<String>,
    pub shape: Shape,
    /// Offered while typing; anything else may be typed too.
    pub offers: Vec<Choice>,
    /// Another field of the page that offers the same: its list is used, and not sent again.
    pub offers_of: Option<String>,
    pub required: bool,
    pub autofocus: bool,
    pub width: Width,
    /// Shown only for some answers of the same fieldset: `if-done`, `if-not`, `if-left`,
    /// `if-tried`, `if-deferred` of the form of an attempt.
    pub when: &'static str,
}

impl FieldView {
    /// A line of text; the methods below make anything else of it.
    pub fn new(name: impl Into<String>, label: impl Into<String>) -> Self {
        let name = name.into();
        Self {
            id: identifier(&name),
            name,
            label: label.into(),
            hint: String::new(),
            value: String::new(),
            error: None,
            shape: Shape::Typed(Typed::TEXT),
            offers: Vec::new(),
            offers_of: None,
            required: false,
            autofocus: false,
            width: Width::Grow,
            when: "",
        }
    }

    /// The field of a column, empty.
    pub fn of(column: &Column) -> Self {
        let (shape, width) = shape(column.input, column.required);
        Self {
            hint: hint(column).to_owned(),
            shape,
            width,
            required: column.required,
            ..Self::new(column.name, column.label)
        }
    }

    #[must_use]
    pub fn holding(mut self, value: impl Into<String>) -> Self {
        self.value = value.into();
        self
    }

    #[must_use]
    pub fn typed(mut self, typed: Typed) -> Self {
        self.shape = Shape::Typed(typed);
        self
    }

    #[must_use]
    pub fn prose(mut self) -> Self {
        self.shape = Shape::Prose;
        self
    }

    #[must_use]
    pub fn choosing(mut self, choices: Vec<Choice>) -> Self {
        self.shape = Shape::Choice(choices);
        self
    }

    #[must_use]
    pub fn answering(mut self, answers: Vec<Answer>) -> Self {
        self.shape = Shape::Options(answers);
        self
    }

    /// The answers that are all in view; none where the field is of another shape.
    pub fn answers(&self) -> &[Answer] {
        match &self.shape {
            Shape::Options(answers) => answers,
            Shape::Typed(_) | Shape::Prose | Shape::Choice(_) | Shape::Tick(_) => &[],
        }
    }

    /// A box to tick; ticked where the field holds the value.
    #[must_use]
    pub fn ticking(mut self, choice: Choice) -> Self {
        self.shape = Shape::Tick(choice);
        self
    }

    /// Offers values while the person types.
    #[must_use]
    pub fn offering(mut self, offers: Vec<Choice>) -> Self {
        self.offers = offers;
        self
    }

    /// Its list of offers, its own or that of another field.
    pub fn list(&self) -> Option<String> {
        let own = (!self.offers.is_empty()).then_some(&self.id);
        self.offers_of.as_ref().or(own).map(|of| format!("{of}-list"))
    }

    #[must_use]
    pub fn hinting(mut self, hint: impl Into<String>) -> Self {
        self.hint = hint.into();
        self
    }

    #[must_use]
    pub fn wide(mut self, width: Width) -> Self {
        self.width = width;
        self
    }

    #[must_use]
    pub fn must(mut self) -> Self {
        self.required = true;
        self
    }

    #[must_use]
    pub fn first(mut self) -> Self {
        self.autofocus = true;
        self
    }

    /// Says what is wrong with it, if anything of `errors` is about it.
    #[must_use]
    pub fn judged(mut self, errors: &[FieldError]) -> Self {
        self.error = errors
            .iter()
            .filter(|wrong| wrong.field == self.name)
            .map(|wrong| wrong.message.clone())
            .reduce(|all, next| format!("{all} {next}"));
        self
    }

    /// Holds what was typed under its name, where anything was, and says what is wrong with it.
    #[must_use]
    pub fn holding_typed(self, typed: &Cells, errors: &[FieldError]) -> Self {
        let held = if typed.has(&self.name) {
            typed.get(&self.name).to_owned()
        } else {
            self.value.clone()
        };
        self.holding(held).judged(errors)
    }

    /// Sets several records apart on one page: the name becomes `prefix-name`.
    #[must_use]
    pub fn within(mut self, prefix: &str) -> Self {
        self.name = format!("{prefix}-{}", self.name);
        self.id = identifier(&self.name);
        self
    }

    pub fn classes(&self) -> String {
        let width = match self.width {
            Width::Small => "small",
            Width::Medium => "",
            Width::Grow => "grow",
            Width::Whole => "whole",
        };
        let bad = if self.error.is_some() { "bad" } else { "" };
        [width, self.when, bad]
            .into_iter()
            .filter(|class| !class.is_empty())
            .collect::<Vec<_>>()
            .join(" ")
    }

    /// Lines of a prose field: enough for what stands in it.
    pub fn rows(&self) -> usize {
        self.value.lines().map(|line| 1 + line.chars().count() / 90).sum::<usize>().clamp(2, 14)
    }

    /// The ids of the hint and the error, for `aria-describedby`.
    pub fn described_by(&self) -> String {
        let hint = (!self.hint.is_empty()).then(|| format!("{}-hint", self.id));
        let error = self.error.is_some().then(|| format!("{}-error", self.id));
        hint.into_iter().chain(error).collect::<Vec<_>>().join(" ")
    }
}

/// The fields of a record form: a field a column, without those that operations write. The first
/// wrong field has the focus, else the first that can be typed into.
pub fn fields(columns: &[Column], cells: &Cells, errors: &[FieldError]) -> Vec<FieldView> {
    let mut fields: Vec<FieldView> = columns
        .iter()
        .filter(|column| !column.by_operation)
        .map(|column| FieldView::of(column).holding(cells.get(column.name)).judged(errors))
        .collect();
    if errors.is_empty()
        && let Some(first) = fields.first_mut()
    {
        first.autofocus = true;
    }
    fields
}

/// The field of that name, to offer codes in it or to word it otherwise.
pub fn field<'a>(fields: &'a mut [FieldView], name: &str) -> Option<&'a mut FieldView> {
    fields.iter_mut().find(|field| field.name == name)
}

/// One line of the error summary.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ErrorLine {
    /// The id of the field.
    pub target: String,
    pub words: String,
}

/// All that is wrong with a form, for the top of the page.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ErrorSummary {
    pub heading: String,
    pub lines: Vec<ErrorLine>,
}

impl ErrorSummary {
    /// The same words as beside the fields. An error about no field of the form leads to the
    /// page's top.
    pub fn of(errors: &[FieldError], fields: &[FieldView]) -> Self {
        let lines: Vec<ErrorLine> = errors
            .iter()
            .map(|wrong| match fields.iter().find(|field| field.name == wrong.field) {
                Some(field) => ErrorLine {
                    target: field.id.clone(),
                    words: format!("{}: {}", field.label, wrong.message),
                },
                None => ErrorLine { target: "main".to_owned(), words: wrong.message.clone() },
            })
            .collect();
        let heading = match lines.len() {
            0 => String::new(),
            1 => "1 entry needs correcting. Nothing is saved yet; everything typed is kept"
                .to_owned(),
            more => format!(
                "{more} entries need correcting. Nothing is saved yet; everything typed is kept"
            ),
        };
        Self { heading, lines }
    }

    /// One sentence that concerns the whole form.
    pub fn saying(heading: impl Into<String>) -> Self {
        Self { heading: heading.into(), lines: Vec::new() }
    }

    pub fn is_empty(&self) -> bool {
        self.heading.is_empty()
    }
}

/// Where a page of a list stands among its pages.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pager {
    pub page: i64,
    pub pages: i64,
    pub size: i64,
    pub total: i64,
    pub previous: Option<String>,
    pub next: Option<String>,
}

impl Pager {
    /// `address` gives the address of another page of the same list.
    pub fn new(page: i64, size: i64, total: i64, address: impl Fn(i64) -> String) -> Self {
        let size = size.max(1);
        let pages = ((total + size - 1) / size).max(1);
        let page = page.clamp(1, pages);
        Self {
            page,
            pages,
            size,
            total,
            previous: (page > 1).then(|| address(page - 1)),
            next: (page < pages).then(|| address(page + 1)),
        }
    }

    /// The rows that stand on this page, by their number.
    pub fn rows(&self) -> std::ops::Range<usize> {
        let from = usize::try_from((self.page - 1) * self.size).unwrap_or(usize::MAX);
        from..from.saturating_add(usize::try_from(self.size).unwrap_or(0))
    }

    /// Rows on the page after this one.
    pub fn next_count(&self) -> i64 {
        (self.total - self.page * self.size).clamp(0, self.size)
    }
}

fn shape(input: Input, required: bool) -> (Shape, Width) {
    match input {
        Input::Line => (Shape::Typed(Typed::TEXT), Width::Grow),
        Input::Prose => (Shape::Prose, Width::Whole),
        Input::Number => (Shape::Typed(Typed::DECIMAL), Width::Small),
        Input::Duration => (Shape::Typed(Typed::TEXT), Width::Small),
        Input::Day | Input::Moment | Input::Code(_) => (Shape::Typed(Typed::TEXT), Width::Medium),
        Input::YesNo => (Shape::Choice(words(&["no", "yes"])), Width::Small),
        Input::Choice(list) => {
            let empty = if required { "choose" } else { "not recorded" };
            let mut choices = vec![Choice::new("", empty)];
            choices.extend(words(list));
            (Shape::Choice(choices), Width::Medium)
        }
        Input::Several(inner) => match inner {
            Input::Prose => (Shape::Prose, Width::Whole),
            Input::Line
            | Input::Number
            | Input::Day
            | Input::Moment
            | Input::Duration
            | Input::YesNo
            | Input::Choice(_)
            | Input::Code(_)
            | Input::Several(_) => (Shape::Typed(Typed::TEXT), Width::Grow),
        },
    }
}

/// What to type, where neither the column nor its label says it.
fn hint(column: &Column) -> &'static str {
    if !column.hint.is_empty() {
        return column.hint;
    }
    match column.input {
        Input::Day => "2031-03-18 or 2031-077",
        Input::Moment => "2031-03-18 14:20, UTC",
        Input::Duration => "6:45 or 405",
        Input::Several(Input::Prose) => "One a line.",
        Input::Several(_) => "Separated by commas.",
        Input::Line
        | Input::Prose
        | Input::Number
        | Input::YesNo
        | Input::Choice(_)
        | Input::Code(_) => "",
    }
}

fn words(list: &[&str]) -> Vec<Choice> {
    list.iter().map(|word| Choice::new(*word, *word)).collect()
}

/// An id that any name gives: letters, digits and dashes stay, the rest becomes a dash.
fn identifier(name: &str) -> String {
    let kept = |c: char| if c.is_alphanumeric() || c == '-' { c } else { '-' };
    format!("f-{}", name.chars().map(kept).collect::<String>())
}

#[cfg(test)]
#[path = "forms/tests.rs"]
mod tests;
