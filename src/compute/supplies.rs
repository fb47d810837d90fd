//! Suit supplies: what a seat uses of oxygen, scrubber, cooling water and battery, and which of
//! them runs out first. Emergency oxygen never counts.

use crate::places::TaskAt;

/// Litres of a mole of gas at 0 °C and 1 atm, and grams of a mole.
const LITRES_PER_MOLE: f64 = 22.414;
const OXYGEN_MOLE: f64 = 31.9988;
const CARBON_DIOXIDE_MOLE: f64 = 44.0095;

/// Joules of a kilocalorie (thermochemical).
const JOULES_PER_KCAL: f64 = 4184.0;

/// Energy of a litre of oxygen by the respiratory quotient, kcal.
/// Source: Lusk, Journal of Biological Chemistry 59, 1924, as tabulated since.
const LUSK: [(f64, f64); 31] = [
    (0.707, 4.686),
    (0.71, 4.690),
    (0.72, 4.702),
    (0.73, 4.714),
    (0.74, 4.727),
    (0.75, 4.739),
    (0.76, 4.751),
    (0.77, 4.764),
    (0.78, 4.776),
    (0.79, 4.788),
    (0.80, 4.801),
    (0.81, 4.813),
    (0.82, 4.825),
    (0.83, 4.838),
    (0.84, 4.850),
    (0.85, 4.862),
    (0.86, 4.875),
    (0.87, 4.887),
    (0.88, 4.899),
    (0.89, 4.911),
    (0.90, 4.924),
    (0.91, 4.936),
    (0.92, 4.948),
    (0.93, 4.961),
    (0.94, 4.973),
    (0.95, 4.985),
    (0.96, 4.998),
    (0.97, 5.010),
    (0.98, 5.022),
    (0.99, 5.035),
    (1.00, 5.047),
];

/// Kilocalories of a litre of oxygen; between two lines of the table in proportion, outside it as
/// at its ends.
pub fn caloric_equivalent(quotient: f64) -> f64 {
    let above = LUSK.iter().position(|&(line, _)| line >= quotient);
    match above {
        None => LUSK[LUSK.len() - 1].1,
        Some(0) => LUSK[0].1,
        Some(at) => {
            let ((low, from), (high, to)) = (LUSK[at - 1], LUSK[at]);
            from + (to - from) * (quotient - low) / (high - low)
        }
    }
}

/// Kilograms of oxygen that the body takes up for that energy.
pub fn oxygen(kcal: f64, quotient: f64) -> f64 {
    kcal / caloric_equivalent(quotient) / LITRES_PER_MOLE * OXYGEN_MOLE / 1000.0
}

/// Kilograms of carbon dioxide given off for that much oxygen: O₂ · RQ · 44.0095/31.9988.
pub fn carbon_dioxide(oxygen: f64, quotient: f64) -> f64 {
    oxygen * quotient * CARBON_DIOXIDE_MOLE / OXYGEN_MOLE
}

/// A team's rates. Energy in kcal per hour, by the work rate of the task and for all that is not
/// work (egress, travel, setup, waiting, ingress).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rates {
    pub light: f64,
    pub moderate: f64,
    pub heavy: f64,
    pub overhead: f64,
    pub quotient: f64,
    /// Oxygen that the suit loses, kg per hour.
    pub leakage: f64,
    /// The part of the energy that leaves as work done outside, 0 to 1.
    pub external_work: f64,
    /// Heat of the suit's electrics and from outside, W.
    pub electrics: f64,
    pub environment: f64,
    /// Heat that a kilogram of cooling water takes away, J.
    pub water_heat: f64,
}

impl Rates {
    /// Published averages, which a team may accept by this name.
    pub const PUBLISHED_NAME: &'static str = "suit design rates, 2013";

    /// Source: NASA, ISS EVA Suit Water Intrusion High Visibility Close Call, 2013, p. 40: 700,
    /// 1000 and 1600 Btu/h, the middle one as the average of an excursion. RQ 0.85: NASA Life
    /// Sciences Data Archive, experiment 13587. Electrics: 3.8 A at about 18 V, NASA report
    /// 20050217305. Leakage 8 g/h from memory. Heat of evaporation: 44.0 kJ/mol at 25 °C, that is
    /// 2.44 MJ/kg, CRC Handbook of Chemistry and Physics, 90th edition, 2010; 2.45 at 20 °C. No work
    /// or heat outside is counted.
    pub const PUBLISHED: Self = Self {
        light: 176.4,
        moderate: 252.0,
        heavy: 403.2,
        overhead: 252.0,
        quotient: 0.85,
        leakage: 0.008,
        external_work: 0.0,
        electrics: 69.0,
        environment: 0.0,
        water_heat: 2_450_000.0,
    };
}

/// One of the published averages: what it is, in the unit in which it is entered, and where it
/// was published.
pub struct Published {
    pub what: &'static str,
    pub value: f64,
    pub unit: &'static str,
    pub source: &'static str,
}

const fn published(
    what: &'static str,
    value: f64,
    unit: &'static str,
    source: &'static str,
) -> Published {
    Published { what, value, unit, source }
}

/// The published averages one by one, for a team to read before it takes them.
pub const PUBLISHED: [Published; 10] = {
    const HEAT: &str = "EVA Suit Water Intrusion High Visibility Close Call, 2013, p. 40";
    let Rates { light, moderate, heavy, overhead, quotient, leakage, external_work, .. } =
        Rates::PUBLISHED;
    let Rates { electrics, environment, water_heat, .. } = Rates::PUBLISHED;
    [
        published("light work", light, "kcal/h", HEAT),
        published("moderate work", moderate, "kcal/h", HEAT),
        published("heavy work", heavy, "kcal/h", HEAT),
        published("all that is not work", overhead, "kcal/h", HEAT),
        published(
            "respiratory quotient",
            quotient,
            "",
            "Life Sciences Data Archive, experiment 13587",
        ),
        published("oxygen leakage", leakage * 1_000.0, "g/h", "default, no source"),
        published("energy that leaves as work outside", external_work * 100.0, "%", "not counted"),
        published(
            "heat of the suit's electrics",
            electrics,
            "W",
            "3.8 A at 18 V, report 20050217305, 2004",
        ),
        published("heat from outside", environment, "W", "not counted"),
        published(
            "heat that cooling water takes away",
            water_heat / 1e6,
            "MJ/kg",
            "evaporation at 20 °C; 44.0 kJ/mol at 25 °C is 2.44: CRC Handbook of Chemistry and \
             Physics, 90th edition, 2010",
        ),
    ]
};

/// What is used up, or carried: kilograms of oxygen, of carbon dioxide taken up, of water, and
/// minutes of battery.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Amounts {
    pub oxygen: f64,
    pub scrubber: f64,
    pub water: f64,
    pub battery: f64,
}

/// The supplies, in the order in which they are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Supply {
    Oxygen,
    Scrubber,
    Water,
    Battery,
}

impl Supply {
    pub const ALL: [Self; 4] = [Self::Oxygen, Self::Scrubber, Self::Water, Self::Battery];

    pub const fn word(self) -> &'static str {
        match self {
            Self::Oxygen => "oxygen",
            Self::Scrubber => "scrubber",
            Self::Water => "cooling water",
            Self::Battery => "battery",
        }
    }

    pub const fn of(self, amounts: &Amounts) -> f64 {
        match self {
            Self::Oxygen => amounts.oxygen,
            Self::Scrubber => amounts.scrubber,
            Self::Water => amounts.water,
            Self::Battery => amounts.battery,
        }
    }
}

/// What a kilocalorie and a minute use of each supply, by one suit's rates.
#[derive(Debug, Clone, Copy)]
pub struct Usage {
    kcal: Amounts,
    minute: Amounts,
}

impl Usage {
    pub fn of(rates: &Rates) -> Self {
        let breathed = oxygen(1.0, rates.quotient);
        let watts = rates.electrics + rates.environment;
        Self {
            kcal: Amounts {
                oxygen: breathed,
                scrubber: carbon_dioxide(breathed, rates.quotient),
                water: JOULES_PER_KCAL * (1.0 - rates.external_work) / rates.water_heat,
                battery: 0.0,
            },
            minute: Amounts {
                oxygen: rates.leakage / 60.0,
                scrubber: 0.0,
                water: watts * 60.0 / rates.water_heat,
                battery: 1.0,
            },
        }
    }

    /// What a seat uses that spends that energy over that many minutes. Heat that flows in from
    /// nowhere is not given back as water.
    pub fn used(&self, kcal: f64, minutes: f64) -> Amounts {
        let both = |of: fn(&Amounts) -> f64| of(&self.kcal) * kcal + of(&self.minute) * minutes;
        Amounts {
            oxygen: both(|amounts| amounts.oxygen),
            scrubber: both(|amounts| amounts.scrubber),
            water: both(|amounts| amounts.water).max(0.0),
            battery: both(|amounts| amounts.battery),
        }
    }
}

/// A stretch of a seat's time: what it spends, and the work that is under way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spent {
    pub minutes: f64,
    pub kcal_a_minute: f64,
    /// Which task, for whoever asks; `None`: all that is not work.
    pub task: Option<TaskAt>,
}

/// How long one supply lasts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lasts {
    pub supply: Supply,
    /// The part of it that is left when the seat is inside, below 0 where it ran out before.
    pub left: f64,
    /// Elapsed minutes at which it runs out; past the end, when used on without work.
    pub runs_out: f64,
    /// The task under way then.
    pub during: Option<TaskAt>,
}

impl Usage {
    /// What a minute uses of a supply at that energy. Heat that flows in from nowhere is not given
    /// back as water.
    fn a_minute(&self, supply: Supply, kcal_a_minute: f64) -> f64 {
        (supply.of(&self.kcal) * kcal_a_minute + supply.of(&self.minute)).max(0.0)
    }

    /// How long each supply lasts in a seat that spends that, one stretch after the other, and then
    /// goes on at `after` kilocalories a minute.
    pub fn lasting(&self, carried: &Amounts, spent: &[Spent], after: f64) -> [Lasts; 4] {
        Supply::ALL.map(|supply| {
            let has = supply.of(carried);
            let (mut now, mut used, mut out) = (0.0, 0.0, None);
            for stretch in spent {
                let rate = self.a_minute(supply, stretch.kcal_a_minute);
                let takes = rate * stretch.minutes;
                if out.is_none() && used + takes > has {
                    out = Some((now + (has - used) / rate, stretch.task));
                }
                used += takes;
                now += stretch.minutes;
            }
            let rate = self.a_minute(supply, after);
            let later = if rate > 0.0 { now + (has - used) / rate } else { f64::INFINITY };
            let (runs_out, during) = out.unwrap_or((later, None));
            let left = if has > 0.0 { (has - used) / has } else { -1.0 };
            Lasts { supply, left, runs_out, during }
        })
    }
}

/// The supply that runs out first.
pub fn first_to_run_out(lasting: &[Lasts; 4]) -> Lasts {
    lasting.iter().copied().fold(lasting[0], |a, b| if b.runs_out < a.runs_out { b } else { a })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_nearly_a_straight_line() {
        // Worked out from the table: 4.686 + 1.2321 (RQ − 0.707) keeps to it within 0.001.
        for (quotient, kcal) in LUSK {
            assert!((4.686 + 1.2321 * (quotient - 0.707) - kcal).abs() < 0.001);
            assert!((caloric_equivalent(quotient) - kcal).abs() < 1e-12);
        }
        assert!((caloric_equivalent(0.855) - 4.8685).abs() < 1e-12);
        assert!((caloric_equivalent(0.6) - 4.686).abs() < 1e-12);
        assert!((caloric_equivalent(1.2) - 5.047).abs() < 1e-12);
    }

    #[test]
    fn a_published_textbook_hour() {
        // Source: Calculation of Energy Expenditure from RQ, a public page with a textbook's
        // example, 2010: 15.7 l O₂ and 12.0 l CO₂ an hour, RQ 0.7643, at 0.76 4.751 kcal a litre:
        // 74.59 kcal/h.
        assert!((12.0_f64 / 15.7 - 0.7643).abs() < 5e-5);
        assert!((15.7 * caloric_equivalent(0.76) - 74.59).abs() < 5e-3);
    }

    #[test]
    fn seven_hours_at_250_kcal() {
        // Worked out from Lusk's 4.862 kcal/l, 22.414 l/mol, 31.9988 and 44.0095 g/mol: 73.41 g/h
        // of oxygen, 85.82 g/h of carbon dioxide; 513.9 and 600.7 g in 7 h.
        let hour = oxygen(250.0, 0.85);
        assert!((hour - 0.073_41).abs() < 5e-6);
        assert!((carbon_dioxide(hour, 0.85) - 0.085_82).abs() < 5e-6);
        assert!((7.0 * hour - 0.5139).abs() < 5e-5);
        assert!((7.0 * carbon_dioxide(hour, 0.85) - 0.6007).abs() < 5e-5);
    }

    #[test]
    fn a_published_average_hour() {
        // Source: Waligora and Kumar, 1995, as quoted: 194 kcal/h (worked out: 56.96 g/h O₂,
        // 66.59 g/h CO₂ at RQ 0.85).
        let hour = oxygen(194.0, 0.85);
        assert!((hour - 0.056_96).abs() < 5e-6);
        assert!((carbon_dioxide(hour, 0.85) - 0.066_59).abs() < 5e-6);
    }

    #[test]
    fn published_day_balances_keep_the_mass_law() {
        // Source: NASA life-support baseline values, 2004, and NASA RP-1324, 1994, as
        // quoted: 0.835 kg O₂ at RQ 0.869 give 0.998 kg CO₂; 0.84 at 0.87 give 1.005.
        assert!((carbon_dioxide(0.835, 0.869) - 0.998).abs() < 5e-4);
        assert!((carbon_dioxide(0.84, 0.87) - 1.005).abs() < 5e-4);
        // The oxygen of the first day from its energy, 1.2 % low by Lusk's table.
        let day = oxygen(11_820.0 / 4.184, 0.87);
        assert!((day - 0.825).abs() < 5e-4);
    }

    #[test]
    fn the_supply_that_runs_out_first_is_named() {
        let carried = Amounts { oxygen: 0.75, scrubber: 0.67, water: 4.4, battery: 465.0 };
        let spent = [Spent { minutes: 398.0, kcal_a_minute: 4.2, task: None }];
        let lasting = Usage::of(&Rates::PUBLISHED).lasting(&carried, &spent, 4.2);
        let first = first_to_run_out(&lasting);
        // 86.5 g/h of carbon dioxide fill 0.67 kg in 7.74 h = 465 min; the battery lasts 465.
        assert_eq!(first.supply, Supply::Scrubber);
        assert!((first.runs_out - 464.7).abs() < 0.5);
        assert!((lasting[3].runs_out - 465.0).abs() < 1e-9);
        assert!((lasting[3].left - 67.0 / 465.0).abs() < 1e-9);
    }

    #[test]
    fn heavy_work_early_leaves_less_for_later() {
        // 3.2 kcal a minute of rest and 6.4 of work: 100 min of work and 100 of rest use 960 kcal
        // in either order, which fill 0.33 kg of scrubber at 0.000343 kg a kcal (RQ 0.85).
        let rates = Rates { leakage: 0.0, ..Rates::PUBLISHED };
        let usage = Usage::of(&rates);
        let scrubber = carbon_dioxide(oxygen(800.0, 0.85), 0.85);
        let carried = Amounts { oxygen: 9.0, scrubber, water: 9.0, battery: 900.0 };
        let work = Spent { minutes: 100.0, kcal_a_minute: 6.4, task: Some(TaskAt(3)) };
        let rest = Spent { minutes: 100.0, kcal_a_minute: 3.2, task: None };
        let runs_out = |spent: &[Spent]| usage.lasting(&carried, spent, 3.2)[1];
        // 800 kcal are used at 640 + 3.2 · 50, or at 320 + 6.4 · 75.
        let (early, late) = (runs_out(&[work, rest]), runs_out(&[rest, work]));
        assert!((early.runs_out - 150.0).abs() < 1e-9 && early.during.is_none());
        assert!((late.runs_out - 175.0).abs() < 1e-9 && late.during == Some(TaskAt(3)));
        assert!((early.left - late.left).abs() < 1e-9);
        // What is left at the end lasts on at rest: 1000 kcal reach 40 more, 12.5 min.
        let carried = Amounts { scrubber: scrubber * 1.25, ..carried };
        let after = usage.lasting(&carried, &[work, rest], 3.2)[1];
        assert!((after.runs_out - 212.5).abs() < 1e-9 && after.during.is_none());
    }

    #[test]
    fn water_carries_the_heat_of_body_and_suit() {
        // 252 kcal/h are 292.9 W; with 69 W of electrics 361.9 W, 0.532 kg an hour.
        let hour = Usage::of(&Rates::PUBLISHED).used(252.0, 60.0);
        assert!((hour.water - 0.5317).abs() < 5e-4);
        assert!((hour.oxygen - oxygen(252.0, 0.85) - 0.008).abs() < 1e-12);
    }
}
