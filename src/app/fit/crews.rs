//! The crew codes, as the fit knows them by place.

use compute::fit::CrewAt;
use domain::excursions::Excursion;
use domain::words::plain;
use typed_index_collections::TiVec;

/// Every crew code once; codes compare without case, dashes and doubled blanks.
pub(super) struct Crews {
    pub codes: TiVec<CrewAt, String>,
}

impl Crews {
    /// Those who sit in the seats of these excursions: nobody else's training is asked for.
    pub fn of(excursions: &[Excursion]) -> Self {
        let mut codes: TiVec<CrewAt, String> = TiVec::new();
        let seats = excursions.iter().flat_map(|excursion| &excursion.seats.0);
        for crew in seats.filter_map(|seat| seat.crew.as_ref()) {
            if !codes.iter().any(|known| plain(known) == plain(crew)) {
                codes.push(crew.clone());
            }
        }
        Self { codes }
    }

    pub fn at(&self, crew: Option<&str>) -> Option<CrewAt> {
        let crew = plain(crew?);
        self.codes.position(|known| plain(known) == crew)
    }
}
