//! The strip of facts of an excursion; what nobody knows is said to be unknown.

use domain::excursions::Excursion;
use domain::units::Minutes;

/// One fact: its label, and what is known of it.
#[derive(Debug, Clone)]
pub(super) struct Fact {
    pub label: &'static str,
    pub words: Option<String>,
    pub address: Option<String>,
}

fn fact(label: &'static str, words: Option<String>) -> Fact {
    Fact { label, words, address: None }
}

/// Two figures of one cell; unknown only where neither is known.
fn both(one: Option<String>, other: Option<String>) -> Option<String> {
    if one.is_none() && other.is_none() {
        return None;
    }
    let said = |figure: Option<String>| figure.unwrap_or_else(|| "unknown".to_owned());
    Some(format!("{} · {}", said(one), said(other)))
}

fn clock(minutes: Option<Minutes>) -> Option<String> {
    minutes.map(Minutes::clock)
}

pub(super) fn of(excursion: &Excursion, is_planned: bool) -> Vec<Fact> {
    use domain::cells::Cell as _;
    let e = excursion;
    let seats = (!e.seats.is_empty()).then(|| e.seats.show());
    let mut facts = vec![
        fact("State", e.state.map(|state| state.word().to_owned())),
        fact("Plan and limit", both(clock(e.planned), clock(e.limit))),
        fact("Seats and crew", seats),
    ];
    if is_planned {
        let chance = e.flown_chance.map(|chance| format!("{chance} likely"));
        facts.insert(1, fact("Flown", chance));
        facts.extend([
            fact("Deferrable", Some(if e.deferrable { "yes" } else { "no" }.to_owned())),
            fact("Egress, ingress", both(clock(e.egress), clock(e.ingress))),
            Fact {
                address: e.airlock.as_ref().map(|site| crate::addresses::within("worksites", site)),
                ..fact("Airlock", e.airlock.as_ref().map(|site| site.as_str().to_owned()))
            },
            fact(
                "Orbit",
                both(
                    e.orbit_period.map(|period| format!("{} min", period.0)),
                    e.beta.map(|beta| format!("beta {}°", crate::values::figure(beta.0))),
                ),
            ),
            fact("First sunrise", e.first_sunrise.map(|sunrise| sunrise.to_string())),
            fact("Arm windows", (!e.arm_windows.is_empty()).then(|| e.arm_windows.show())),
        ]);
    } else {
        facts.extend([
            fact("Egress began, UTC", e.egress_at.map(domain::time::Moment::to_the_minute)),
            fact("Lasted", clock(e.actual)),
        ]);
        if let Some(why) = &e.ended_early {
            facts.push(fact("Ended early because", Some(why.as_str().to_owned())));
        }
    }
    facts
}
