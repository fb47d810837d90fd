//! Day and night along a circular orbit: the Earth's shadow as a cylinder, the sun far away.

/// Equatorial radius of the Earth, km, and its gravitational parameter, km³/s².
/// Source: World Geodetic System 1984.
const EARTH_RADIUS: f64 = 6378.137;
const EARTH_MU: f64 = 398_600.441_8;

/// An orbit as lighting needs it: minutes, kilometres, degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Orbit {
    pub period: f64,
    pub altitude: f64,
    pub beta: f64,
    /// Elapsed minutes of the first sunrise of the excursion.
    pub first_sunrise: f64,
}

/// A stretch of elapsed time, in minutes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    pub from: f64,
    pub until: f64,
}

/// Minutes of one circular orbit at that altitude: T = 2π √((R + h)³/μ).
pub fn period(altitude: f64) -> f64 {
    std::f64::consts::TAU * ((EARTH_RADIUS + altitude).powi(3) / EARTH_MU).sqrt() / 60.0
}

/// The beta angle, in degrees, from which there is no night: asin(R/(R + h)).
pub fn critical_beta(altitude: f64) -> f64 {
    (EARTH_RADIUS / (EARTH_RADIUS + altitude)).asin().to_degrees()
}

/// The part of an orbit that lies in the shadow:
/// acos(√(h² + 2Rh)/((R + h) cos β))/π, none where the argument reaches 1.
/// Source: Space Mission Analysis and Design, eclipse of a circular orbit, from memory.
pub fn night_share(altitude: f64, beta: f64) -> f64 {
    let horizon = (altitude * altitude + 2.0 * EARTH_RADIUS * altitude).sqrt();
    let argument = horizon / ((EARTH_RADIUS + altitude) * beta.to_radians().cos());
    if argument < 1.0 { argument.acos() / std::f64::consts::PI } else { 0.0 }
}

impl Orbit {
    /// Minutes of night on every orbit.
    pub fn night_minutes(&self) -> f64 {
        self.period * night_share(self.altitude, self.beta)
    }

    /// So near the critical beta angle that a cylinder cannot tell how long the night is: at
    /// 400 km and 70° it gives 4.3 min where the umbra gives none and the penumbra 6.4.
    pub fn near_critical(&self, within_degrees: f64) -> bool {
        (self.beta.abs() - critical_beta(self.altitude)).abs() <= within_degrees
    }

    /// The nights between the start of an excursion and that minute, in order.
    pub fn nights(&self, until: f64) -> Vec<Stretch> {
        let night = self.night_minutes();
        if night <= 0.0 || self.period <= 0.0 {
            return Vec::new();
        }
        // The orbit that ends with the first sunrise after the start, and those after it.
        let first = self.first_sunrise - (self.first_sunrise / self.period).floor() * self.period;
        std::iter::successors(Some(first), |sunrise| Some(sunrise + self.period))
            .map(|sunrise| Stretch { from: sunrise - night, until: sunrise })
            .take_while(|stretch| stretch.from < until)
            .map(|stretch| Stretch { from: stretch.from.max(0.0), until: stretch.until.min(until) })
            .filter(|stretch| stretch.until > stretch.from)
            .collect()
    }

    /// The days between the start of an excursion and that minute, in order.
    pub fn days(&self, until: f64) -> Vec<Stretch> {
        let mut days = Vec::new();
        let mut from = 0.0;
        for night in self.nights(until) {
            if night.from > from {
                days.push(Stretch { from, until: night.from });
            }
            from = night.until;
        }
        if until > from {
            days.push(Stretch { from, until });
        }
        days
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn orbit(altitude: f64, beta: f64, first_sunrise: f64) -> Orbit {
        Orbit { period: period(altitude), altitude, beta, first_sunrise }
    }

    #[test]
    fn worked_values_of_a_circular_orbit() {
        // Source: worked out from the formulas above with SciPy: altitude, beta, period, share of
        // night, night minutes, critical beta.
        let rows = [
            (280.0, 0.0, 90.1133, 0.407_359, 36.7085, 73.3247),
            (400.0, 0.0, 92.5604, 0.390_100, 36.1078, 70.2179),
            (400.0, 30.0, 92.5604, 0.372_198, 34.4508, 70.2179),
            (400.0, 45.0, 92.5604, 0.341_133, 31.5754, 70.2179),
            (400.0, 60.0, 92.5604, 0.263_329, 24.3738, 70.2179),
            (400.0, 69.0, 92.5604, 0.106_642, 9.8708, 70.2179),
            (400.0, -70.0, 92.5604, 0.046_074, 4.2647, 70.2179),
            (400.0, 71.0, 92.5604, 0.0, 0.0, 70.2179),
            (420.0, 0.0, 92.9704, 0.387_525, 36.0283, 69.7545),
            (500.0, 0.0, 94.6163, 0.377_882, 35.7538, 68.0187),
        ];
        for (altitude, beta, minutes, share, night, critical) in rows {
            assert!((period(altitude) - minutes).abs() < 5e-5);
            assert!((night_share(altitude, beta) - share).abs() < 5e-7);
            assert!((orbit(altitude, beta, 0.0).night_minutes() - night).abs() < 5e-5);
            assert!((critical_beta(altitude) - critical).abs() < 5e-5);
        }
    }

    #[test]
    fn published_longest_nights() {
        // Source: public answer on the eclipse of low orbits (docs/sources.md): beta 0, 37.28 min at
        // 200 km, 36.11 at 400 km, a minimum of 34.82 near 1370 km.
        let night = |altitude: f64| orbit(altitude, 0.0, 0.0).night_minutes();
        assert!((night(200.0) - 37.28).abs() < 5e-3);
        assert!((night(400.0) - 36.11).abs() < 5e-3);
        assert!((night(1370.0) - 34.82).abs() < 5e-3);
        assert!(night(1370.0) < night(1200.0) && night(1370.0) < night(1550.0));
    }

    #[test]
    fn the_published_280_km_orbit_has_53_min_of_sun_and_37_of_shadow() {
        // Source: public encyclopedia, “Beta angle”: 280 km, 53 min of sun and 37 of shadow.
        let night = orbit(280.0, 0.0, 0.0).night_minutes();
        assert!((night - 37.0).abs() < 0.5 && (period(280.0) - night - 53.0).abs() < 0.5);
    }

    #[test]
    fn an_excursion_of_six_and_a_half_hours_meets_four_or_five_nights() {
        // Worked out by hand: 390 min are 4.21 orbits of 92.56 min at 400 km.
        let nights = orbit(400.0, 0.0, 22.0).nights(390.0);
        assert_eq!(nights.len(), 5);
        assert!((nights[0].until - 22.0).abs() < 1e-9 && nights[0].from.abs() < 1e-9);
        assert!((nights[1].until - 114.5604).abs() < 5e-5);
        assert!((nights[1].from - (114.5604 - 36.1078)).abs() < 1e-4);
        assert_eq!(orbit(400.0, 0.0, 60.0).nights(390.0).len(), 4);
    }

    #[test]
    fn a_sunrise_beyond_the_first_orbit_names_the_same_nights() {
        let one = orbit(400.0, 20.0, 10.0).nights(400.0);
        let later = orbit(400.0, 20.0, 10.0 + 2.0 * period(400.0)).nights(400.0);
        assert_eq!(one.len(), later.len());
        for (a, b) in one.iter().zip(&later) {
            assert!((a.from - b.from).abs() < 1e-9 && (a.until - b.until).abs() < 1e-9);
        }
    }

    #[test]
    fn near_the_critical_beta_it_says_so() {
        assert!(orbit(400.0, 70.0, 0.0).near_critical(1.5));
        assert!(orbit(400.0, -71.7, 0.0).near_critical(1.5));
        assert!(!orbit(400.0, 68.0, 0.0).near_critical(1.5));
    }

    #[test]
    fn nights_agree_with_the_sun_of_astropy() {
        // Source: Astropy 8.0.2, get_sun, point sun and spherical Earth, circular orbit;
        // tests/reference/lighting.py. Within half a minute, away from the critical beta.
        #[derive(serde::Deserialize)]
        struct Case {
            altitude: f64,
            beta: f64,
            sunset: Option<f64>,
            sunrise: Option<f64>,
            next_sunset: Option<f64>,
        }
        #[derive(serde::Deserialize)]
        struct File {
            cases: Vec<Case>,
        }
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/lighting.json");
        let file: File = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
        assert!(file.cases.len() >= 300);
        let mut dark = 0;
        for case in &file.cases {
            let sunrise = case.sunrise.unwrap_or(0.0);
            let orbit = orbit(case.altitude, case.beta, sunrise);
            assert!(!orbit.near_critical(1.5));
            let nights = orbit.nights(sunrise + 2.0 * orbit.period);
            let (Some(sunset), Some(next)) = (case.sunset, case.next_sunset) else {
                assert!(nights.is_empty(), "{} km, {}°", case.altitude, case.beta);
                continue;
            };
            dark += 1;
            assert!((orbit.night_minutes() - (sunrise - sunset)).abs() < 0.5);
            assert!(nights.iter().any(|night| (night.from - next).abs() < 0.5));
        }
        assert!(dark > 200 && dark < file.cases.len());
    }

    proptest! {
        #[test]
        fn days_and_nights_share_the_time_between_them(
            altitude in 300.0..1500.0_f64, beta in -89.0..89.0_f64,
            sunrise in -100.0..300.0_f64, until in 1.0..500.0_f64,
        ) {
            let orbit = orbit(altitude, beta, sunrise);
            let (days, nights) = (orbit.days(until), orbit.nights(until));
            let sum: f64 = days.iter().chain(&nights).map(|s| s.until - s.from).sum();
            prop_assert!((sum - until).abs() < 1e-6);
            prop_assert!(nights.iter().all(|n| n.until - n.from <= orbit.night_minutes() + 1e-9));
        }
    }
}
