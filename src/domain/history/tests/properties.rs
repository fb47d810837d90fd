//! What holds for every life of a task.

use proptest::prelude::*;

use super::*;
use crate::words::TaskState;

fn outcomes() -> impl Strategy<Value = Outcome> {
    prop::sample::select(Outcome::ALL)
}

fn whats() -> impl Strategy<Value = EventKind> {
    let flights = 31..39_i64;
    let visits = prop::sample::select(vec![Visit::Ahead, Visit::InDebrief, Visit::Over]);
    let said = (any::<bool>(), 0..=100_i64).prop_map(|(left, share)| {
        if left { StatedAmount::Left(Share(share)) } else { StatedAmount::Added(Share(share)) }
    });
    let attempts = (outcomes(), prop::option::of(said), flights.clone(), any::<bool>()).prop_map(
        |(outcome, said, flight, imported)| {
            let mut event = saying("", (flight, 1), 0, outcome, said);
            if let EventKind::Attempt(made) = &mut event.what {
                made.imported = imported;
            }
            event.what
        },
    );
    let slots = (flights.clone(), prop::sample::select(SlotState::ALL), visits, 0..4).prop_map(
        |(flight, state, visit, number)| {
            let mut event = slot(&format!("S-{number}"), 0, 0, (flight, 1), state);
            if let EventKind::Slot(held) = &mut event.what {
                held.visit = visit;
            }
            event.what
        },
    );
    let deferrals = (flights, prop::sample::select(DeferralPhase::ALL))
        .prop_map(|(flight, phase)| deferred("", (flight, 1), 0, phase).what);
    prop_oneof![
        4 => attempts,
        3 => slots,
        2 => deferrals,
        1 => prop::sample::select(ClosureKind::ALL).prop_map(|kind| EventKind::Closure { kind }),
        1 => Just(EventKind::Parking),
        1 => (1..=100_i64).prop_map(|left| EventKind::Reopening { share_left: Share(left) }),
    ]
}

fn whens() -> impl Strategy<Value = When> {
    let phases = prop::sample::select(vec![
        Phase::BeforeLaunch,
        Phase::BeforeEgress,
        Phase::During,
        Phase::After,
    ]);
    (
        prop::option::weighted(0.8, 31..39_i64),
        prop::option::of(1..4_i64),
        phases,
        prop::option::of((0..400_i64).prop_map(Pet)),
        0..30_i64,
    )
        .prop_map(|(flight, excursion, phase, pet, entry)| When {
            pet,
            ..When { flight, ..When::on(0, excursion, phase, entry) }
        })
}

fn lives() -> impl Strategy<Value = Vec<Event>> {
    prop::collection::vec((whens(), whats()), 0..14).prop_map(|all| {
        let numbered = all.into_iter().enumerate();
        numbered.map(|(n, (when, what))| event(&format!("X-{n:02}"), when, what)).collect()
    })
}

/// All but the indices, which follow the slice.
fn told(events: &[Event]) -> (Standing, Vec<String>) {
    let mut now = standing(events);
    let codes = now.ordered.iter().map(|index| events[*index].code.clone()).collect();
    now.ordered.clear();
    (now, codes)
}

proptest! {
    #[test]
    fn the_standing_does_not_depend_on_the_order_of_the_events(
        (events, shuffled) in lives().prop_flat_map(|l| (Just(l.clone()), Just(l).prop_shuffle()))
    ) {
        prop_assert_eq!(told(&events), told(&shuffled));
    }

    #[test]
    fn a_pencil_more_changes_nothing(
        events in lives(), when in whens(), on in (31..39_i64, 1..4_i64)
    ) {
        let mut pencil = slot("S-9", 0, 0, on, SlotState::Pencilled);
        pencil.when = when;
        let (before, order) = told(&events);
        let mut more = events;
        more.push(pencil);
        let (after, mut order_after) = told(&more);
        order_after.retain(|code| code != "S-9");

        prop_assert_eq!(before, after);
        prop_assert_eq!(order, order_after);
    }

    #[test]
    fn closed_and_reopened_whole_it_is_open_or_held(
        mut events in lives(), kind in prop::sample::select(ClosureKind::ALL)
    ) {
        events.push(closed("Z-99", 50, 98, kind));
        prop_assert!(!standing(&events).state.is_open_item());

        events.push(reopened("Y-99", 50, 99, 100));
        let now = standing(&events);
        let expected = if now.held_by.is_empty() { TaskState::Open } else { TaskState::Set };
        prop_assert_eq!(now.state, expected);
        prop_assert_eq!(now.left.most, Share(100));
        prop_assert_eq!(now.ended, None);
    }

    #[test]
    fn only_done_or_a_closure_ends_it(events in lives()) {
        let ends = events.iter().any(|event| match &event.what {
            EventKind::Attempt(tried) => tried.outcome == Outcome::Done,
            EventKind::Closure { .. } => true,
            _ => false,
        });
        prop_assert!(ends || standing(&events).state.is_open_item());
    }

    #[test]
    fn the_figures_keep_their_bounds(events in lives()) {
        let now = standing(&events);
        let flights: std::collections::BTreeSet<_> = events.iter().filter_map(|e| match &e.what {
            EventKind::Attempt(AttemptEvent { flight: Some(f), .. }) | EventKind::Slot(SlotEvent { flight: Some(f), .. }) => Some(f.rank),
            _ => None,
        }).filter(|rank| *rank <= LANDED).collect();

        prop_assert!((0..=100).contains(&now.left.most.0));
        // Something is left as long as nothing ended it.
        prop_assert!(now.left.most.0 > 0 || !now.state.is_open_item());
        prop_assert!(usize::try_from(now.carry_count).unwrap() <= flights.len());
        prop_assert!(now.failures <= now.attempts);
        prop_assert_eq!(now.why_open.is_some(), now.state.is_open_item());
        prop_assert_eq!(now.ended.is_some(), !now.state.is_open_item());
        let mut every = now.ordered;
        every.sort_unstable();
        prop_assert_eq!(every, (0..events.len()).collect::<Vec<_>>());
    }
}
