//! The settings of the team and the rates of its suits.

use sqlx::SqliteConnection;

use crate::{StoreError, kept};
use domain::cells::{Line, Prose};
use domain::codes::{Own, SettingsCode, SuitRatesCode};
use domain::settings::{Settings, SuitRates};
use domain::units::{
    ClassWeight, DegreesApart, GramsAnHour, KilocaloriesAnHour, Litres, LogSpread,
    MegajoulesAKilogram, Minutes, Quotient, Share, Slowing, Watts,
};

macro_rules! settings_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Settings,
            r#"SELECT code AS "code: Own<SettingsCode>", tight_from AS "tight_from: Share", met_from AS "met_from:
                    Share", crew_day AS "crew_day: LogSpread", egress_spread AS "egress_spread:
                    LogSpread", ingress_spread AS "ingress_spread: LogSpread",
                    travel_spread AS "travel_spread: LogSpread", site_spread AS
                    "site_spread: LogSpread", one_by_one AS "one_by_one: bool",
                    slow_from AS "slow_from: Litres", slow_by AS "slow_by: Slowing", near_critical_beta AS
                    "near_critical_beta: DegreesApart", rehearsal_days, supply_reserve AS
                    "supply_reserve: Minutes", class_1 AS "class_1: ClassWeight", class_2 AS
                    "class_2: ClassWeight", class_3 AS "class_3: ClassWeight", class_4 AS
                    "class_4: ClassWeight", class_5 AS "class_5: ClassWeight", of_dependents
                    AS "of_dependents: Share", waiting AS "waiting: Share", why AS "why:
                    Prose"
               FROM settings "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Settings, settings_rows,
    "INSERT INTO settings (code, tight_from, met_from, crew_day, egress_spread, ingress_spread,
         travel_spread, site_spread, one_by_one, slow_from, slow_by, near_critical_beta,
         rehearsal_days, supply_reserve, class_1, class_2, class_3, class_4,
         class_5, of_dependents, waiting, why)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18,
         ?19, ?20, ?21, ?22)
     ON CONFLICT (code) DO UPDATE SET tight_from = excluded.tight_from, met_from = excluded.met_from, crew_day =
         excluded.crew_day, egress_spread = excluded.egress_spread, ingress_spread =
         excluded.ingress_spread, travel_spread = excluded.travel_spread, site_spread =
         excluded.site_spread, one_by_one = excluded.one_by_one, slow_from = excluded.slow_from, slow_by =
         excluded.slow_by, near_critical_beta = excluded.near_critical_beta,
         rehearsal_days = excluded.rehearsal_days, supply_reserve =
         excluded.supply_reserve, class_1 = excluded.class_1, class_2 =
         excluded.class_2, class_3 = excluded.class_3, class_4 = excluded.class_4,
         class_5 = excluded.class_5, of_dependents = excluded.of_dependents, waiting
         = excluded.waiting, why = excluded.why",
    code, tight_from, met_from, crew_day, egress_spread, ingress_spread, travel_spread,
    site_spread, one_by_one, slow_from, slow_by, near_critical_beta,
    rehearsal_days, supply_reserve, class_1, class_2, class_3, class_4, class_5,
    of_dependents, waiting, why
}

macro_rules! suit_rates_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            SuitRates,
            r#"SELECT code AS "code: Own<SuitRatesCode>", crew AS "crew: Line", light AS "light:
                    KilocaloriesAnHour", moderate AS "moderate: KilocaloriesAnHour", heavy
                    AS "heavy: KilocaloriesAnHour", overhead AS "overhead:
                    KilocaloriesAnHour", quotient AS "quotient: Quotient", leakage AS
                    "leakage: GramsAnHour", external_work AS "external_work: Share",
                    electrics AS "electrics: Watts", environment AS "environment: Watts",
                    water_heat AS "water_heat: MegajoulesAKilogram", source AS "source:
                    Line"
               FROM suit_rates "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    SuitRates, suit_rates_rows,
    "INSERT INTO suit_rates (code, crew, light, moderate, heavy, overhead, quotient, leakage, external_work,
         electrics, environment, water_heat, source)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)
     ON CONFLICT (code) DO UPDATE SET crew = excluded.crew, light = excluded.light, moderate = excluded.moderate, heavy =
         excluded.heavy, overhead = excluded.overhead, quotient = excluded.quotient,
         leakage = excluded.leakage, external_work = excluded.external_work,
         electrics = excluded.electrics, environment = excluded.environment,
         water_heat = excluded.water_heat, source = excluded.source",
    code, crew, light, moderate, heavy, overhead, quotient, leakage, external_work, electrics,
    environment, water_heat, source
}

/// The rates of everybody, those for every seat first.
pub async fn suit_rates(db: &mut SqliteConnection) -> Result<Vec<SuitRates>, StoreError> {
    Ok(suit_rates_rows!("ORDER BY coalesce(crew, ''), code").fetch_all(db).await?)
}

/// The settings, where anything was changed.
pub async fn settings(db: &mut SqliteConnection) -> Result<Option<Settings>, StoreError> {
    Ok(settings_rows!("WHERE code = ?", Settings::CODE).fetch_optional(db).await?)
}
