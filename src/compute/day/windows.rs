//! Windows that somebody could hold open for longer: when a task would end then.

use super::outlook::Outlook;
use super::{Day, Ways};
use crate::timeline::{Frame, Windows};

/// What holds a window open for a task.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Held {
    Arm,
    /// The inhibits that it needs.
    Inhibits,
}

impl<W: Ways> Outlook<'_, W> {
    /// When a task would end, at P50 and P80, if its window stayed open once it has opened; `None` where
    /// it is not to come.
    pub fn end_if_held(&self, task: usize, held: Held) -> Option<(f64, f64)> {
        let (mut tasks, mut windows) = (self.day.tasks.to_vec(), self.day.frame.windows.clone());
        match held {
            Held::Inhibits => tasks.get_mut(task)?.stop.until = f64::INFINITY,
            Held::Arm => stay_open(&mut windows, self.arm_window(task)?),
        }
        let frame = Frame { windows: &windows, ..self.day.frame };
        let day = Day { frame, tasks: &tasks, ..self.day };
        let rest = Outlook::of(day).rest().ok()?;
        let left = rest.tasks.iter().find(|left| left.task == task)?;
        Some((left.end_p50, left.end_p80))
    }

    /// The window of the arm that a task is meant for: the one that is open, or opens next, when it is
    /// ready; work that has missed them all was meant for the last.
    pub fn arm_window(&self, task: usize) -> Option<usize> {
        let windows = &self.day.frame.windows.arm;
        let planned = super::as_planned(&self.day).ok()?;
        let (start, _) = *planned.get(task)?;
        let start = start.max(self.day.now);
        let next = windows.iter().position(|window| window.until > start);
        next.or_else(|| windows.len().checked_sub(1))
    }
}

/// One of the arm's windows does not close any more.
fn stay_open(windows: &mut Windows, at: usize) {
    windows.arm.truncate(at + 1);
    if let Some(window) = windows.arm.get_mut(at) {
        window.until = f64::INFINITY;
    }
}
