//! From the answers of a report to the range of damage levels the model may take them for.

use crate::science::hardiness::level::DamageLevel;
use crate::science::hardiness::observation::DamageRange;

use super::report::WinterRecord;
use super::words::{Base, Regrowth, TopKilled, Vitality};

impl WinterRecord {
    /// The damage levels that the answers leave possible. `None` where they tell nothing of cold: nothing was looked at, or the loss had
    /// another cause.
    ///
    /// “Dead” before the day of the verdict is taken for killed to the ground or dead, since figs may return from the roots until then.
    pub fn damage(&self) -> Option<DamageRange> {
        use DamageLevel::{Dead, Tips, ToGround, Unharmed, Wood};
        let lost = !matches!(self.top, TopKilled::None | TopKilled::NotSure | TopKilled::NotLooked)
            || self.base == Some(Base::Killed)
            || self.vitality == Vitality::Dead;
        if lost && self.cause.is_some_and(|cause| !cause.is_cold()) {
            return None;
        }
        let (low, high) = match self.vitality {
            Vitality::Dead if self.looked < self.winter.verdict_day() => (ToGround, Dead),
            Vitality::Dead => (Dead, Dead),
            vitality => {
                let lives = vitality == Vitality::Alive
                    || self.base == Some(Base::Alive)
                    || matches!(self.regrew, Some(Regrowth::OldWood | Regrowth::LowTrunk | Regrowth::BelowGround));
                match self.top {
                    TopKilled::None => (Unharmed, Unharmed),
                    TopKilled::Tips => (Tips, Tips),
                    TopKilled::UpToThird | TopKilled::ThirdToTwoThirds | TopKilled::OverTwoThirds => (Wood, Wood),
                    // Wood under snow or mulch lived, so the framework is alive where the cover was high, not where it was low.
                    TopKilled::ToCoverLine => (Wood, ToGround),
                    TopKilled::ToGround => (ToGround, if lives { ToGround } else { Dead }),
                    TopKilled::NotSure | TopKilled::NotLooked => {
                        // No wood lives above a dead base.
                        let least = if self.base == Some(Base::Killed) { ToGround } else { Unharmed };
                        (least, if lives { ToGround } else { Dead })
                    }
                }
            }
        };
        let range = DamageRange::between(low, high);
        range.is_informative().then_some(range)
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::record;
    use super::super::words::LossCause;
    use super::*;
    use DamageLevel::{Dead, Tips, ToGround, Unharmed, Wood};
    use jiff::civil::date;

    #[test]
    fn answers_become_the_levels_they_leave_possible() {
        let with = |top, vitality, regrew| {
            let mut r = record();
            (r.top, r.vitality, r.regrew) = (top, vitality, regrew);
            r.damage().map(|d| (d.low(), d.high()))
        };
        assert_eq!(with(TopKilled::None, Vitality::Alive, None), Some((Unharmed, Unharmed)));
        assert_eq!(with(TopKilled::Tips, Vitality::Alive, None), Some((Tips, Tips)));
        assert_eq!(with(TopKilled::ThirdToTwoThirds, Vitality::Alive, None), Some((Wood, Wood)));
        assert_eq!(with(TopKilled::ToCoverLine, Vitality::Alive, None), Some((Wood, ToGround)));
        assert_eq!(with(TopKilled::ToGround, Vitality::Alive, None), Some((ToGround, ToGround)));
        assert_eq!(with(TopKilled::ToGround, Vitality::Uncertain, None), Some((ToGround, Dead)));
        assert_eq!(with(TopKilled::ToGround, Vitality::Uncertain, Some(Regrowth::BelowGround)), Some((ToGround, ToGround)));
        assert_eq!(with(TopKilled::NotLooked, Vitality::Alive, None), Some((Unharmed, ToGround)));
        assert_eq!(with(TopKilled::NotSure, Vitality::NotAssessed, None), None);
    }

    #[test]
    fn the_base_narrows_what_the_top_leaves_open() {
        let with = |top, base, vitality| {
            let mut r = record();
            (r.top, r.base, r.vitality) = (top, Some(base), vitality);
            r.damage().map(|d| (d.low(), d.high()))
        };
        assert_eq!(with(TopKilled::ToGround, Base::Alive, Vitality::Uncertain), Some((ToGround, ToGround)));
        assert_eq!(with(TopKilled::ToGround, Base::Killed, Vitality::Uncertain), Some((ToGround, Dead)));
        assert_eq!(with(TopKilled::NotLooked, Base::Killed, Vitality::Alive), Some((ToGround, ToGround)));
        assert_eq!(with(TopKilled::NotLooked, Base::Killed, Vitality::NotAssessed), Some((ToGround, Dead)));
        assert_eq!(with(TopKilled::NotLooked, Base::Alive, Vitality::NotAssessed), Some((Unharmed, ToGround)));
        assert_eq!(with(TopKilled::NotLooked, Base::NotLooked, Vitality::NotAssessed), None);
    }

    #[test]
    fn dead_before_midsummer_may_still_come_from_the_ground() {
        let mut r = record();
        (r.top, r.vitality, r.looked) = (TopKilled::ToGround, Vitality::Dead, date(2026, 5, 20));
        assert_eq!(r.damage(), Some(DamageRange::between(ToGround, Dead)));
        r.looked = date(2026, 7, 20);
        assert_eq!(r.damage(), Some(DamageRange::exactly(Dead)));
    }

    #[test]
    fn a_loss_to_rodents_tells_nothing_of_cold() {
        let mut r = record();
        (r.top, r.cause) = (TopKilled::ToGround, Some(LossCause::Rodents));
        assert_eq!(r.damage(), None);
        r.cause = Some(LossCause::NotKnown);
        assert!(r.damage().is_some());
    }

    // By the definition of the day of the verdict: what has shown nothing by then is dead, and what has shown nothing the day before may still come.
    #[test]
    fn a_plant_called_dead_on_the_day_of_the_verdict_is_dead_and_the_day_before_not_yet() {
        let verdict = record().winter.verdict_day();
        let called_dead = |looked| {
            let mut r = record();
            (r.vitality, r.top, r.looked) = (Vitality::Dead, TopKilled::ToGround, looked);
            r.damage().map(|d| (d.low(), d.high()))
        };
        assert_eq!(called_dead(verdict), Some((Dead, Dead)));
        assert_eq!(called_dead(verdict.yesterday().unwrap()), Some((ToGround, Dead)));
    }
}
