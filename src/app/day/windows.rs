//! Windows and inhibits that the tasks to come need, and what to ask for where one will be missed.

use super::answers::Laid;
use compute::day::{Held, Outlook, Progress, Rest};
use compute::fit::Aided;
use compute::timeline::Light;
use domain::codes::InhibitCode;
use domain::units::Pet;

/// What a task needs that is not there all the time.
#[derive(Debug, Clone)]
pub struct WindowRow {
    pub task: usize,
    pub what: String,
    pub until: Option<f64>,
    pub missed: f64,
    /// Where it will be missed and somebody could hold it longer.
    pub ask: Option<Ask>,
}

/// To hold a window until the task has ended with eight chances in ten.
#[derive(Debug, Clone, PartialEq)]
pub struct Ask {
    pub until: Pet,
    /// When the task would end then.
    pub end_p50: f64,
    pub end_p80: f64,
    pub of: AskOf,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum AskOf {
    /// The arm, beyond the window that closes then.
    Arm { closes: Pet },
    /// Those that are given back before.
    Inhibits(Vec<InhibitCode>),
}

/// What is asked for ends at full ten minutes.
const FULL: i64 = 10;

impl Laid<'_> {
    pub fn windows(&self, outlook: &Outlook<Aided>, rest: &Rest, bound: f64) -> Vec<WindowRow> {
        let mut rows = Vec::new();
        let frame = self.on_the_day.frame();
        for left in &rest.tasks {
            let task = &self.on_the_day.tasks()[left.task];
            let stop = &task.stop;
            if !stop.waits() || !matches!(task.progress, Progress::Planned) {
                continue;
            }
            let will_be_missed = left.missed > 1.0 - bound;
            let (arm, light) = frame.windows.closes(stop.arm, stop.light, left.start_p50);
            let mut add = |what: String, until: Option<f64>, ask: Option<Ask>| {
                rows.push(WindowRow { task: left.task, what, until, missed: left.missed, ask });
            };
            if stop.arm {
                let ask = will_be_missed.then(|| ask_for_arm(outlook, left.task)).flatten();
                add("the arm".to_owned(), arm, ask);
            }
            match stop.light {
                Light::Day => add("daylight".to_owned(), light, None),
                Light::Night => add("orbital night".to_owned(), light, None),
                Light::Any => {}
            }
            if stop.until < f64::INFINITY || stop.from > 0.0 {
                let until = (stop.until < f64::INFINITY).then_some(stop.until);
                let ask = until.filter(|_| will_be_missed);
                let ask = ask.and_then(|_| self.ask_for_inhibits(outlook, left.task));
                add(format!("inhibit {}", self.inhibits(left.task)), until, ask);
            }
        }
        rows
    }

    fn inhibits(&self, task: usize) -> String {
        let snapshot = &self.board.snapshot;
        let of = &snapshot.tasks[self.task_at(task)];
        let names = of.inhibits.iter().map(|&at| snapshot.inhibits[at].code.as_str());
        names.collect::<Vec<_>>().join(", ")
    }

    fn ask_for_inhibits(&self, outlook: &Outlook<Aided>, task: usize) -> Option<Ask> {
        let (end_p50, end_p80) = outlook.end_if_held(task, Held::Inhibits)?;
        let until = full(end_p80);
        let snapshot = &self.board.snapshot;
        let needed = &snapshot.tasks[self.task_at(task)].inhibits;
        let arranged = snapshot.excursions[self.excursion].arranged.iter();
        let short = arranged.filter(|one| {
            needed.contains(&one.inhibit) && one.until.is_some_and(|at| at < end_p80)
        });
        let short: Vec<InhibitCode> =
            short.map(|one| snapshot.inhibits[one.inhibit].code.clone()).collect();
        let of = AskOf::Inhibits(short);
        (of != AskOf::Inhibits(Vec::new())).then_some(Ask { until, end_p50, end_p80, of })
    }
}

fn ask_for_arm(outlook: &Outlook<Aided>, task: usize) -> Option<Ask> {
    let window = outlook.arm_window(task)?;
    let closes = outlook.day().frame.windows.arm.get(window)?.until;
    let (end_p50, end_p80) = outlook.end_if_held(task, Held::Arm)?;
    let of = AskOf::Arm { closes: super::whole(closes) };
    let ask = Ask { until: full(end_p80), end_p50, end_p80, of };
    (closes < end_p80).then_some(ask)
}

fn full(minute: f64) -> Pet {
    let whole = super::whole(minute.ceil()).0;
    Pet((whole + FULL - 1).div_euclid(FULL) * FULL)
}
