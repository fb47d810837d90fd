//! What the reckoning takes as given, and who may change it.

use async_recursion::async_recursion as boxed;
use std::collections::BTreeMap;

use sqlx::SqliteConnection;

use crate::Failure;
use crate::records::{Base, Ruled, Saved, save};
use crate::work::Work;
use compute::fit::{Accepted, Constants, RatesAt};
use compute::supplies::Rates;
use compute::value::Weights;
use domain::cells::{Cell as _, Line, Prose};
use domain::codes::Own;
use domain::kinds::Kind;
use domain::records::Record as _;
use domain::settings::{SAFETY, Settings, SuitRates};
use domain::time::Moment;
use domain::units::{
    GramsAnHour, KilocaloriesAnHour, MegajoulesAKilogram, Minutes, Quotient, Share, Watts,
};
use store::{changes, settings as stored};

impl Ruled for Settings {
    async fn prepare(
        _work: &mut Work,
        _before: Option<&Self>,
        settings: &mut Self,
    ) -> Result<(), Failure> {
        if settings.code.0.is_blank() {
            settings.code = Own(Self::CODE.into());
        } else if settings.code.0.as_str() != Self::CODE {
            let message =
                format!("There is one record of settings, {}; change that one.", Self::CODE);
            return Err(Failure::field("code", message));
        }
        let defaults = Constants::default();
        let wrong = settings.wrong(share(defaults.tight_from), share(defaults.met_from));
        if wrong.is_empty() { Ok(()) } else { Err(Failure::Invalid(wrong)) }
    }
}

impl Ruled for SuitRates {
    async fn prepare(
        work: &mut Work,
        _before: Option<&Self>,
        rates: &mut Self,
    ) -> Result<(), Failure> {
        let wrong = rates.wrong();
        if !wrong.is_empty() {
            return Err(Failure::Invalid(wrong));
        }
        let all = stored::suit_rates(work.db()).await?;
        let same = all.iter().find(|other| other.crew == rates.crew && other.code != rates.code);
        if let Some(same) = same {
            let whose = rates.crew.as_ref().map_or("every other seat", |crew| crew.as_str());
            let message =
                format!("{} holds the rates of {whose} already; change that one.", same.code.0);
            return Err(Failure::field("crew", message));
        }
        Ok(())
    }
}

/// Takes the published averages for every seat without rates of its own, by their name, and the
/// reserve that is named beside them.
#[boxed]
pub async fn accept_published(work: &mut Work) -> Result<Saved<SuitRates>, Failure> {
    let Rates { light, moderate, heavy, overhead, quotient, leakage, external_work, .. } =
        Rates::PUBLISHED;
    let Rates { electrics, environment, water_heat, .. } = Rates::PUBLISHED;
    let rates = SuitRates {
        code: Own("".into()),
        crew: None,
        light: KilocaloriesAnHour(light),
        moderate: KilocaloriesAnHour(moderate),
        heavy: KilocaloriesAnHour(heavy),
        overhead: KilocaloriesAnHour(overhead),
        quotient: Quotient(quotient),
        leakage: GramsAnHour(leakage * 1_000.0),
        external_work: share(external_work),
        electrics: Watts(electrics),
        environment: Watts(environment),
        water_heat: MegajoulesAKilogram(water_heat / 1e6),
        source: Line::known(Rates::PUBLISHED_NAME),
    };
    let saved = save(work, rates, Base::New).await?;
    // The published averages are named with the reserve beside them.
    if stored::settings(work.db()).await?.is_none_or(|entered| entered.supply_reserve.is_none()) {
        accept_default(work, "supply_reserve").await?;
    }
    Ok(saved)
}

/// Enters the default of a figure that matters to safety as the team's own. The change log says
/// who and when.
#[boxed]
pub async fn accept_default(work: &mut Work, name: &str) -> Result<Saved<Settings>, Failure> {
    let entered = stored::settings(work.db()).await?;
    let base = if entered.is_some() { Base::Current } else { Base::New };
    let mut settings = entered.unwrap_or_else(Settings::blank);
    let default = Constants::default();
    let label = Settings::COLUMNS.iter().find(|column| column.name == name);
    let (Some(column), true) = (label, SAFETY.contains(&name)) else {
        return Err(Failure::Refused(format!("“{name}” is not a figure to be accepted.")));
    };
    match name {
        "tight_from" => settings.tight_from = Some(share(default.tight_from)),
        "met_from" => settings.met_from = Some(share(default.met_from)),
        _ => settings.supply_reserve = Some(whole_minutes(default.supply_reserve)),
    }
    let words = format!("{}: the default is accepted.", column.label);
    let why = [settings.why.as_str().trim(), &words].join("\n");
    settings.why = Prose::read(&why).map_err(|message| Failure::field("why", message))?;
    save(work, settings, base).await
}

/// Who entered a figure as it stands, and when; by the name of its column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entered {
    pub who: String,
    pub at: Moment,
}

/// The last change of each cell of a record of settings or suit rates.
#[boxed]
pub async fn entered(
    db: &mut SqliteConnection,
    kind: Kind,
    code: &str,
) -> Result<BTreeMap<String, Entered>, Failure> {
    let mut last = BTreeMap::new();
    for change in changes::newest(db, i64::MAX, Some((kind, code)), MAX_CHANGES).await? {
        let cells = change.after.as_deref().map(serde_json::from_str::<serde_json::Value>);
        let Some(Ok(serde_json::Value::Object(cells))) = cells else { continue };
        for name in cells.keys() {
            let entered = || Entered { who: change.who.clone(), at: change.at };
            last.entry(name.clone()).or_insert_with(entered);
        }
    }
    Ok(last)
}

/// Changes of one record that are looked through for who entered a figure.
const MAX_CHANGES: i64 = 1_000;

/// What the reckoning takes as given now.
#[derive(Debug, Clone)]
pub struct CalculationInputs {
    pub constants: Constants,
    pub weights: Weights,
    pub suits: Vec<SuitRates>,
}

impl CalculationInputs {
    #[boxed]
    pub async fn load(db: &mut SqliteConnection) -> Result<Self, Failure> {
        let settings = stored::settings(db).await?.unwrap_or_else(Settings::blank);
        let suits = stored::suit_rates(db).await?;
        Ok(Self { constants: constants(&settings), weights: weights(&settings), suits })
    }

    /// Whose rates hold for a seat: those of its crew code, else those for everyone.
    pub fn rates_of(&self, crew: Option<&str>) -> Option<RatesAt> {
        let of = |wanted: Option<&str>| {
            let mut suits = self.suits.iter();
            suits.position(|suit| suit.crew.as_ref().map(Line::as_str) == wanted).map(RatesAt::from)
        };
        crew.and_then(|crew| of(Some(crew))).or_else(|| of(None))
    }
}

/// The settings with the defaults in the places that were left empty.
pub fn constants(settings: &Settings) -> Constants {
    let default = Constants::default();
    Constants {
        tight_from: settings.tight_from.map_or(default.tight_from, part),
        met_from: settings.met_from.map_or(default.met_from, part),
        crew_day_log_sd: settings.crew_day.map_or(default.crew_day_log_sd, |spread| spread.0),
        egress_log_sd: settings.egress_spread.map_or(default.egress_log_sd, |spread| spread.0),
        ingress_log_sd: settings.ingress_spread.map_or(default.ingress_log_sd, |spread| spread.0),
        travel_log_sd: settings.travel_spread.map_or(default.travel_log_sd, |spread| spread.0),
        site_log_sd: settings.site_spread.map_or(default.site_log_sd, |spread| spread.0),
        together: !settings.one_by_one,
        slow_from_litres: settings.slow_from.map_or(default.slow_from_litres, |litres| litres.0),
        slow_by: settings.slow_by.map_or(default.slow_by, |times| times.0),
        near_critical_beta: settings.near_critical_beta.map_or(default.near_critical_beta, |b| b.0),
        rehearsal_days: settings.rehearsal_days.unwrap_or(default.rehearsal_days),
        supply_reserve: settings.supply_reserve.map_or(default.supply_reserve, minutes),
        accepted: Accepted {
            bounds: settings.tight_from.is_some() && settings.met_from.is_some(),
            reserve: settings.supply_reserve.is_some(),
        },
    }
}

/// The weights of values, in the same way.
pub fn weights(settings: &Settings) -> Weights {
    let default = Weights::default();
    let given =
        [settings.class_1, settings.class_2, settings.class_3, settings.class_4, settings.class_5];
    let mut classes = default.classes;
    for (class, weight) in classes.iter_mut().zip(given) {
        *class = weight.map_or(*class, |weight| weight.0);
    }
    Weights {
        classes,
        of_dependents: settings.of_dependents.map_or(default.of_dependents, part),
        waiting: settings.waiting.map_or(default.waiting, part),
    }
}

/// Rates as the reckoning takes them.
pub fn rates(suit: &SuitRates) -> Rates {
    Rates {
        light: suit.light.0,
        moderate: suit.moderate.0,
        heavy: suit.heavy.0,
        overhead: suit.overhead.0,
        quotient: suit.quotient.0,
        leakage: suit.leakage.0 / 1_000.0,
        external_work: part(suit.external_work),
        electrics: suit.electrics.0,
        environment: suit.environment.0,
        water_heat: suit.water_heat.0 * 1e6,
    }
}

#[expect(clippy::cast_precision_loss, reason = "a share is at most 100")]
fn part(share: Share) -> f64 {
    share.0 as f64 / 100.0
}

#[expect(clippy::cast_precision_loss, reason = "minutes are few")]
fn minutes(minutes: Minutes) -> f64 {
    minutes.0 as f64
}

#[expect(clippy::cast_possible_truncation, reason = "a reserve of some minutes")]
fn whole_minutes(minutes: f64) -> Minutes {
    Minutes(minutes.round() as i64)
}

#[expect(clippy::cast_possible_truncation, reason = "a part of one is a share of at most 100")]
fn share(part: f64) -> Share {
    Share((part * 100.0).round() as i64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::records::Record;

    #[test]
    fn the_form_tells_the_defaults_that_hold() {
        let (constants, weights) = (Constants::default(), Weights::default());
        let of = |name: &str| {
            let [one, two, three, four, five] = weights.classes;
            match name {
                "tight_from" => constants.tight_from * 100.0,
                "met_from" => constants.met_from * 100.0,
                "crew_day" => constants.crew_day_log_sd,
                "egress_spread" => constants.egress_log_sd,
                "ingress_spread" => constants.ingress_log_sd,
                "travel_spread" => constants.travel_log_sd,
                "site_spread" => constants.site_log_sd,
                "slow_from" => constants.slow_from_litres,
                "slow_by" => constants.slow_by,
                "near_critical_beta" => constants.near_critical_beta,
                "rehearsal_days" => 180.0,
                "supply_reserve" => constants.supply_reserve,
                "class_1" => one,
                "class_2" => two,
                "class_3" => three,
                "class_4" => four,
                "class_5" => five,
                "of_dependents" => weights.of_dependents * 100.0,
                "waiting" => weights.waiting * 100.0,
                _ => f64::NAN,
            }
        };
        assert_eq!(constants.rehearsal_days, 180);
        for column in
            Settings::COLUMNS.iter().filter(|c| !["code", "why", "one_by_one"].contains(&c.name))
        {
            let default = of(column.name);
            let says = format!("Default {default}");
            assert!(column.hint.starts_with(&says), "{}: {says}, {}", column.name, column.hint);
            let after = &column.hint[says.len()..];
            assert!(
                after.starts_with(['.', ',', ':']) && !after.starts_with(".1"),
                "{}",
                column.hint
            );
        }
    }

    #[test]
    fn what_is_left_empty_is_the_default_and_what_is_given_holds() {
        let blank = Settings::blank();
        let accepted = Accepted { bounds: false, reserve: false };
        assert_eq!(constants(&blank), Constants { accepted, ..Constants::default() });
        assert_eq!(weights(&blank), Weights::default());
        let mut cells = blank.cells();
        for (name, text) in [
            ("tight_from", "40"),
            ("met_from", "70"),
            ("crew_day", "0.2"),
            ("egress_spread", "0.3"),
            ("ingress_spread", "0.31"),
            ("travel_spread", "0.32"),
            ("site_spread", "0.33"),
            ("one_by_one", "yes"),
            ("slow_from", "90"),
            ("slow_by", "2"),
            ("near_critical_beta", "2"),
            ("rehearsal_days", "90"),
            ("supply_reserve", "45"),
            ("class_3", "31"),
            ("of_dependents", "20"),
            ("waiting", "80"),
        ] {
            cells.set(name, text);
        }
        let given = Settings::parse(&cells).unwrap();
        let is = constants(&given);
        let shown = |figures: &[f64]| format!("{figures:?}");
        let figures = [is.tight_from, is.met_from, is.crew_day_log_sd, is.slow_from_litres];
        assert_eq!(shown(&figures), "[0.4, 0.7, 0.2, 90.0]");
        let figures = [is.slow_by, is.near_critical_beta, is.supply_reserve];
        assert_eq!(shown(&figures), "[2.0, 2.0, 45.0]");
        let figures = [is.egress_log_sd, is.ingress_log_sd, is.travel_log_sd, is.site_log_sd];
        assert_eq!(shown(&figures), "[0.3, 0.31, 0.32, 0.33]");
        assert!(!is.together && constants(&blank).together);
        assert_eq!(is.rehearsal_days, 90);
        assert_eq!(is.accepted, Accepted { bounds: true, reserve: true });
        let is = weights(&given);
        assert_eq!(shown(&is.classes), "[100.0, 55.0, 31.0, 16.0, 9.0]");
        assert_eq!(shown(&[is.of_dependents, is.waiting]), "[0.2, 0.8]");
    }
}
