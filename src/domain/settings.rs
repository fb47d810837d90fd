//! What the reckoning takes as given and a team may change: bounds, factors, and the rates at
//! which the suits use up what they carry.

use crate::cells::{FieldError, Line, Prose};
use crate::codes::{Own, SettingsCode, SuitRatesCode};
use crate::records::record;
use crate::units::{
    ClassWeight, DegreesApart, GramsAnHour, KilocaloriesAnHour, Litres, LogSpread,
    MegajoulesAKilogram, Minutes, Quotient, Share, Slowing, Watts,
};

record! {
    /// The settings of the team, of which there is one record. What is left empty is the default.
    Settings is Settings {
        code: Own<SettingsCode> = "Code",
        tight_from: Option<Share> = "A check is tight from a chance of, %" also ["a gate is tight from a chance of, %"] hint "Default 50. Below it the check is not met.",
        met_from: Option<Share> = "A check is met from a chance of, %" also ["a gate is met from a chance of, %"] hint "Default 80.",
        crew_day: Option<LogSpread> = "Spread of the crew-day factor" hint "Default 0.12: the standard deviation of the logarithm of the factor that all work of an excursion shares.",
        egress_spread: Option<LogSpread> = "Spread of egress" hint "Default 0.15, by judgement: the standard deviation of the logarithm of what egress takes over what is planned.",
        ingress_spread: Option<LogSpread> = "Spread of ingress" hint "Default 0.15, by judgement.",
        travel_spread: Option<LogSpread> = "Spread of travel" hint "Default 0.2, by judgement: one factor for all travel of an excursion.",
        site_spread: Option<LogSpread> = "Spread of setup and cleanup" hint "Default 0.2, by judgement: one factor for all worksites of an excursion.",
        one_by_one: bool = "The airlock takes seats in one by one" hint "Default no: all seats go out and in together, and a seat that is back early waits for the last one. Of a single airlock its worksite says it.",
        slow_from: Option<Litres> = "An item slows its carrier from, l" hint "Default 60, by judgement.",
        slow_by: Option<Slowing> = "Travel with such an item takes longer by, ×" hint "Default 1.5, from memory.",
        near_critical_beta: Option<DegreesApart> = "Lighting is unknown this near the critical beta angle, °" also ["lighting cannot be told this near the critical beta angle, °"] hint "Default 1.5: there a cylindrical shadow and a cone differ by minutes.",
        rehearsal_days: Option<i64> = "A rehearsal or training is old after, days" hint "Default 180.",
        supply_reserve: Option<Minutes> = "Reserve of every suit supply, min" hint "Default 30. It is never planned.",
        class_1: Option<ClassWeight> = "Weight of class 1" hint "Default 100: keeps the vehicle safe.",
        class_2: Option<ClassWeight> = "Weight of class 2" hint "Default 55: a coming flight depends on it.",
        class_3: Option<ClassWeight> = "Weight of class 3" hint "Default 30: restores a lost function.",
        class_4: Option<ClassWeight> = "Weight of class 4" hint "Default 16: helps a coming flight.",
        class_5: Option<ClassWeight> = "Weight of class 5" hint "Default 9: housekeeping.",
        of_dependents: Option<Share> = "An enabler earns of the tasks that need it, %" hint "Default 50, while they are placed nowhere.",
        waiting: Option<Share> = "Each flight of waiting leaves of a value, %" hint "Default 90.",
        why: Prose = "Where the figures come from" hint "Title, section, year; or the decision that accepted them. Needed where a figure that matters to safety is entered.",
    }
}

/// A figure that matters to safety: a default without a source until the team enters or accepts it.
pub const SAFETY: [&str; 3] = ["tight_from", "met_from", "supply_reserve"];

impl Settings {
    /// The code of the one record.
    pub const CODE: &'static str = "TEAM";

    /// A record in which everything is left at its default.
    pub fn blank() -> Self {
        Self {
            code: Own(Self::CODE.into()),
            tight_from: None,
            met_from: None,
            crew_day: None,
            egress_spread: None,
            ingress_spread: None,
            travel_spread: None,
            site_spread: None,
            one_by_one: false,
            slow_from: None,
            slow_by: None,
            near_critical_beta: None,
            rehearsal_days: None,
            supply_reserve: None,
            class_1: None,
            class_2: None,
            class_3: None,
            class_4: None,
            class_5: None,
            of_dependents: None,
            waiting: None,
            why: Prose::default(),
        }
    }

    /// What contradicts itself; `tight` and `met` are the chances where none are given.
    pub fn wrong(&self, tight: Share, met: Share) -> Vec<FieldError> {
        let mut wrong = Vec::new();
        let (tight, met) = (self.tight_from.unwrap_or(tight), self.met_from.unwrap_or(met));
        if tight >= met {
            let says =
                format!("A check is met from {met}, so it must be tight from less than that.");
            let field = if self.tight_from.is_some() { "tight_from" } else { "met_from" };
            wrong.push(FieldError::new(field, says));
        }
        if self.rehearsal_days.is_some_and(|days| !(1..=3650).contains(&days)) {
            wrong.push(FieldError::new("rehearsal_days", "Write whole days, from 1 to 3650."));
        }
        let safety = [
            ("tight_from", self.tight_from.is_some()),
            ("met_from", self.met_from.is_some()),
            ("supply_reserve", self.supply_reserve.is_some()),
        ];
        if self.why.as_str().trim().is_empty() && safety.iter().any(|(_, entered)| *entered) {
            let says = "Say where the chances and the reserve come from: they matter to safety.";
            wrong.push(FieldError::new("why", says));
        }
        let classes = [self.class_1, self.class_2, self.class_3, self.class_4, self.class_5];
        for (number, pair) in classes.windows(2).enumerate() {
            if let [Some(above), Some(below)] = pair
                && above < below
            {
                let field = format!("class_{}", number + 2);
                let says =
                    format!("Class {} cannot weigh more than class {}.", number + 2, number + 1);
                wrong.push(FieldError::new(field, says));
            }
        }
        wrong
    }
}

record! {
    /// The rates at which a suit uses up what it carries, by who wears it.
    SuitRates is SuitRates {
        code: Own<SuitRatesCode> = "Code",
        crew: Option<Line> = "Crew code" hint "C-4; empty: for every seat whose crew code has no rates of its own. Never a name.",
        light: KilocaloriesAnHour = "Light work, kcal/h",
        moderate: KilocaloriesAnHour = "Moderate work, kcal/h",
        heavy: KilocaloriesAnHour = "Heavy work, kcal/h",
        overhead: KilocaloriesAnHour = "All that is not work, kcal/h" hint "Egress, travel, setup, waiting, ingress.",
        quotient: Quotient = "Respiratory quotient",
        leakage: GramsAnHour = "Oxygen leakage, g/h",
        external_work: Share = "Energy that leaves as work outside, %",
        electrics: Watts = "Heat of the suit's electrics, W",
        environment: Watts = "Heat from outside, W" hint "Below nought where the suit loses heat.",
        water_heat: MegajoulesAKilogram = "Heat that cooling water takes away, MJ/kg" hint "2.45 where it evaporates at 20 °C.",
        source: Line = "Where the figures come from",
    }
}

impl SuitRates {
    /// What contradicts itself.
    pub fn wrong(&self) -> Vec<FieldError> {
        let rising =
            [("moderate", self.light, self.moderate), ("heavy", self.moderate, self.heavy)];
        let falls = rising.iter().filter(|(_, less, more)| more < less);
        falls
            .map(|(field, less, _)| {
                let says = format!("Harder work costs at least as much: {} or more.", less.0);
                FieldError::new(*field, says)
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cells::Cells;
    use crate::records::Record;

    fn settings(cells: &[(&str, &str)]) -> Settings {
        let mut all = Settings::blank().cells();
        all.set("why", "Flight rules of the team, 2030");
        for (name, text) in cells {
            all.set(*name, *text);
        }
        Settings::parse(&all).unwrap()
    }

    fn fields(wrong: Vec<FieldError>) -> Vec<String> {
        wrong.into_iter().map(|error| error.field.clone()).collect()
    }

    #[test]
    fn bounds_that_contradict_each_other_are_named_by_field() {
        let wrong = |cells| fields(settings(cells).wrong(Share(50), Share(80)));
        assert!(wrong(&[]).is_empty());
        assert!(wrong(&[("tight_from", "60"), ("met_from", "90"), ("waiting", "80")]).is_empty());
        assert_eq!(wrong(&[("tight_from", "80")]), ["tight_from"]);
        assert_eq!(wrong(&[("met_from", "50")]), ["met_from"]);
        assert_eq!(wrong(&[("rehearsal_days", "0")]), ["rehearsal_days"]);
        assert_eq!(wrong(&[("class_2", "10"), ("class_3", "11")]), ["class_3"]);
        assert_eq!(wrong(&[("supply_reserve", "45"), ("why", "")]), ["why"]);
        assert!(wrong(&[("waiting", "80"), ("why", "")]).is_empty());
    }

    #[test]
    fn rates_lie_in_what_a_body_can_do() {
        let cells = |change: &[(&str, &str)]| {
            let mut cells = Cells::default();
            let usual = [
                ("light", "176"),
                ("moderate", "252"),
                ("heavy", "403"),
                ("overhead", "252"),
                ("quotient", "0.85"),
                ("leakage", "8"),
                ("external_work", "0"),
                ("electrics", "69"),
                ("environment", "-40"),
                ("water_heat", "2.45"),
                ("source", "from memory"),
            ];
            for (name, text) in usual.iter().chain(change) {
                cells.set(*name, *text);
            }
            SuitRates::parse(&cells)
        };
        assert!(cells(&[]).unwrap().wrong().is_empty());
        assert_eq!(fields(cells(&[("moderate", "170")]).unwrap().wrong()), ["moderate"]);
        for (field, text) in
            [("quotient", "0.6"), ("quotient", "1.1"), ("heavy", "1600"), ("light", "")]
        {
            assert_eq!(fields(cells(&[(field, text)]).unwrap_err()), [field], "{field} {text}");
        }
    }
}
