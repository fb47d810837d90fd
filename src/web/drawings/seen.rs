//! Reads a drawing as a person sees it, for tests: which labels, marks and shapes stand where. It
//! knows the few elements that `markup` writes.

/// A point or a size, in the drawing's own pixels.
pub(super) type Point = (f64, f64);

/// A drawing, read.
#[derive(Debug, Default)]
pub(super) struct Seen {
    pub wide: f64,
    pub high: f64,
    pub labels: Vec<Label>,
    pub marks: Vec<Mark>,
    pub shapes: Vec<Shape>,
}

/// A text that stands upright.
#[derive(Debug, Clone)]
pub(super) struct Label {
    pub words: String,
    pub class: String,
    /// Where it is anchored: its start, middle or end, on the baseline.
    pub at: Point,
    /// What it covers, at half the size of its letters each; the style sheet has the sizes.
    pub bounds: Bounds,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bounds {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

/// One of the page's marks, by its id.
#[derive(Debug, Clone)]
pub(super) struct Mark {
    pub name: String,
    pub at: Point,
}

/// A path or a rectangle, each piece of it with what it covers.
#[derive(Debug, Clone)]
pub(super) struct Shape {
    pub class: String,
    pub fill: String,
    pub pieces: Vec<Bounds>,
    /// Straight strokes, each from one point to the next.
    pub strokes: Vec<(Point, Point)>,
    /// Where arcs begin and end.
    pub arcs: Vec<(Point, Point)>,
}

impl Bounds {
    const NOTHING: Self = Self {
        left: f64::INFINITY,
        top: f64::INFINITY,
        right: f64::NEG_INFINITY,
        bottom: f64::NEG_INFINITY,
    };

    fn take(&mut self, (x, y): Point) {
        (self.left, self.right) = (self.left.min(x), self.right.max(x));
        (self.top, self.bottom) = (self.top.min(y), self.bottom.max(y));
    }

    /// Whether both cover the same place, by more than they may touch.
    pub fn overlaps(&self, other: &Self) -> bool {
        let wide = self.right.min(other.right) - self.left.max(other.left);
        let high = self.bottom.min(other.bottom) - self.top.max(other.top);
        wide > 1.0 && high > 1.0
    }

    pub fn holds(&self, other: &Self) -> bool {
        self.left <= other.left
            && self.top <= other.top
            && self.right >= other.right
            && self.bottom >= other.bottom
    }
}

impl Seen {
    pub fn of(markup: &str) -> Self {
        let mut seen = Self::default();
        for tag in markup.split('<').skip(1) {
            let (head, words) = tag.split_once('>').unwrap_or((tag, ""));
            match head.split([' ', '/']).next().unwrap_or_default() {
                "svg" if seen.wide == 0.0 => {
                    let view = numbers(&attribute(head, "viewBox").unwrap_or_default());
                    (seen.wide, seen.high) = (view[2], view[3]);
                }
                "text" => seen.labels.extend(label(head, words)),
                "use" => seen.marks.extend(mark(head)),
                "path" => seen.shapes.push(shape(head)),
                "rect" => seen.shapes.push(rectangle(head)),
                _ => {}
            }
        }
        seen
    }

    /// The one label with these words.
    pub fn label(&self, words: &str) -> &Label {
        let mut found = self.labels.iter().filter(|label| label.words == words);
        let first = found.next().unwrap_or_else(|| panic!("“{words}” is missing: {self:?}"));
        assert!(found.next().is_none(), "“{words}” stands there twice");
        first
    }

    pub fn marks(&self, name: &str) -> Vec<Point> {
        self.marks.iter().filter(|mark| mark.name == name).map(|mark| mark.at).collect()
    }

    /// What the shapes of one class cover, piece by piece.
    pub fn pieces(&self, class: &str) -> Vec<Bounds> {
        let of_class = self.shapes.iter().filter(|shape| shape.class == class);
        of_class.flat_map(|shape| shape.pieces.clone()).collect()
    }

    pub fn strokes(&self, class: &str) -> Vec<(Point, Point)> {
        let of_class = self.shapes.iter().filter(|shape| shape.class == class);
        of_class.flat_map(|shape| shape.strokes.clone()).collect()
    }

    /// Labels that lie over one another, and those that leave the drawing.
    pub fn unreadable(&self) -> Vec<String> {
        let whole = Bounds { left: 0.0, top: 0.0, right: self.wide, bottom: self.high };
        let mut found = Vec::new();
        for (at, label) in self.labels.iter().enumerate() {
            for other in &self.labels[at + 1..] {
                if label.bounds.overlaps(&other.bounds) {
                    found.push(format!("“{}” lies over “{}”", other.words, label.words));
                }
            }
            if !whole.holds(&label.bounds) {
                found.push(format!("“{}” leaves the drawing", label.words));
            }
        }
        found
    }
}

fn attribute(head: &str, name: &str) -> Option<String> {
    let (_, rest) = head.split_once(&format!(" {name}=\""))?;
    Some(rest.split('"').next()?.to_owned())
}

/// The numbers of a text; a sign begins one.
fn numbers(text: &str) -> Vec<f64> {
    let mut apart = String::new();
    for c in text.chars() {
        match c {
            '-' => apart.push_str(" -"),
            '0'..='9' | '.' => apart.push(c),
            _ => apart.push(' '),
        }
    }
    apart.split_whitespace().map(|number| number.parse().unwrap()).collect()
}

/// Where an element stands, by its coordinates or by its transform.
fn place(head: &str) -> Point {
    if let Some(transform) = attribute(head, "transform") {
        let numbers = numbers(&transform);
        (numbers[0], numbers[1])
    } else {
        let of = |name| attribute(head, name).map_or(0.0, |text| text.parse().unwrap());
        (of("x"), of("y"))
    }
}

fn label(head: &str, words: &str) -> Option<Label> {
    if head.contains("rotate(") || words.is_empty() {
        return None;
    }
    let class = attribute(head, "class").unwrap_or_default();
    let has = |name| class.split(' ').any(|one| one == name);
    let size = if has("t11") {
        11.0
    } else if has("t13") {
        13.0
    } else {
        12.0
    };
    let words = ["&amp;&", "&lt;<", "&gt;>", "&quot;\"", "&#39;'"].iter().fold(
        words.to_owned(),
        |words, pair| {
            let (name, letter) = pair.split_at(pair.len() - 1);
            words.replace(name, letter)
        },
    );
    let (x, y) = place(head);
    let wide = super::columns::number(words.chars().count()) * size / 2.0;
    let left = match (has("end"), has("mid")) {
        (true, _) => x - wide,
        (_, true) => x - wide / 2.0,
        _ => x,
    };
    // Capitals and figures are some three quarters of the size high and stand on the baseline.
    let bounds = Bounds { left, top: y - 0.75 * size, right: left + wide, bottom: y };
    Some(Label { words, class, at: (x, y), bounds })
}

fn mark(head: &str) -> Option<Mark> {
    let name = attribute(head, "href")?.trim_start_matches('#').to_owned();
    name.starts_with("k-").then(|| Mark { name, at: place(head) })
}

fn rectangle(head: &str) -> Shape {
    let of = |name| attribute(head, name).map_or(0.0, |text| text.parse::<f64>().unwrap());
    let (left, top) = (of("x"), of("y"));
    let bounds = Bounds { left, top, right: left + of("width"), bottom: top + of("height") };
    Shape {
        class: attribute(head, "class").unwrap_or_else(|| "rect".to_owned()),
        fill: String::new(),
        pieces: vec![bounds],
        strokes: Vec::new(),
        arcs: Vec::new(),
    }
}

/// The commands of a path with their numbers.
fn commands(d: &str) -> Vec<(char, Vec<f64>)> {
    let starts: Vec<(usize, char)> =
        d.char_indices().filter(|(_, c)| c.is_ascii_alphabetic()).collect();
    let ends = starts.iter().skip(1).map(|(at, _)| *at).chain([d.len()]);
    starts.iter().zip(ends).map(|((at, c), end)| (*c, numbers(&d[at + 1..end]))).collect()
}

fn shape(head: &str) -> Shape {
    let mut shape = Shape {
        class: attribute(head, "class").unwrap_or_default(),
        fill: attribute(head, "fill").unwrap_or_default(),
        pieces: Vec::new(),
        strokes: Vec::new(),
        arcs: Vec::new(),
    };
    let (mut x, mut y, mut start) = (0.0, 0.0, (0.0, 0.0));
    let mut piece = Bounds::NOTHING;
    for (command, numbers) in commands(&attribute(head, "d").unwrap_or_default()) {
        let of_each = match command.to_ascii_lowercase() {
            'h' | 'v' => 1,
            'm' | 'l' => 2,
            'a' => 7,
            'z' => {
                shape.strokes.push(((x, y), start));
                (x, y) = start;
                continue;
            }
            other => panic!("a drawing has the command {other}"),
        };
        for (nth, step) in numbers.chunks(of_each).enumerate() {
            let from = (x, y);
            let (ox, oy) = if command.is_ascii_lowercase() { (x, y) } else { (0.0, 0.0) };
            match command.to_ascii_lowercase() {
                'h' => x = ox + step[0],
                'v' => y = oy + step[0],
                _ => (x, y) = (ox + step[of_each - 2], oy + step[of_each - 1]),
            }
            match (command.to_ascii_lowercase(), nth) {
                ('m', 0) => {
                    if piece != Bounds::NOTHING {
                        shape.pieces.push(piece);
                    }
                    (piece, start) = (Bounds::NOTHING, (x, y));
                }
                ('a', _) => shape.arcs.push((from, (x, y))),
                _ => shape.strokes.push((from, (x, y))),
            }
            piece.take((x, y));
        }
    }
    if piece != Bounds::NOTHING {
        shape.pieces.push(piece);
    }
    shape
}

#[test]
fn a_drawing_is_read_as_it_is_written() {
    let seen = Seen::of(
        "<svg viewBox=\"0 0 40 30\"><path class=\"a\" d=\"M1 2h10V8h-10zM5 5l4 4 4-4a6 6 0 0 1 12 0\"/>\
         <use href=\"#k-done\" transform=\"translate(3 -4) scale(2)\"/><use href=\"#cols\"/>\
         <text class=\"mid\" x=\"20\" y=\"20\">a &amp; b</text></svg>",
    );
    assert_eq!((seen.wide, seen.high), (40.0, 30.0));
    let first = Bounds { left: 1.0, top: 2.0, right: 11.0, bottom: 8.0 };
    let second = Bounds { left: 5.0, top: 5.0, right: 25.0, bottom: 9.0 };
    assert_eq!(seen.pieces("a"), [first, second]);
    assert_eq!(seen.shapes[0].arcs, [((13.0, 5.0), (25.0, 5.0))]);
    assert_eq!(seen.marks("k-done"), [(3.0, -4.0)]);
    assert_eq!(seen.marks.len(), 1);
    assert!((seen.label("a & b").bounds.left - 5.0).abs() < 1e-9);
    assert!(seen.unreadable().is_empty());
}
