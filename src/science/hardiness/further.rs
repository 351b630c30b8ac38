//! A fit one report further, at once: the report's cultivar and what it borrows from are moved, slope, gaps and spreads stay. How:
//! [`super::ordinal`], its part on further records.

use super::fit::{Effect, contamination_of};
use super::observation::WinterObservation;
use super::posterior::Fitted;

impl Fitted {
    /// This fit one report further, `own` being the reports of the fit by its reporter, counted as they were in it; none by somebody new. `None`
    /// where only another fit tells: of a cultivar, or under conditions, that no report of this fit had.
    pub fn further(&self, o: &WinterObservation, own: &[WinterObservation]) -> Option<Self> {
        let places = self.places();
        let known = places.levels.get(o.cultivar as usize).copied().flatten().is_some()
            && Effect::of(o.conditions).all(|effect| places.effects.contains_key(&effect))
            && (o.hardening.is_none() || places.hardening.is_some());
        if !known || !o.damage.is_informative() {
            return None;
        }
        let entry = self.entry(o);
        let entries: Vec<_> = own.iter().map(|o| (o, self.entry(o))).collect();
        let records: Vec<_> = entries.iter().map(|(o, entry)| entry.observation(o)).collect();
        let believed = contamination_of(self.priors());
        let mut next = self.clone();
        next.engine = self.engine.further(self.engine_spec(), &entry.observation(o), &records, Some(&believed))?;
        next.count(o.cultivar as usize);
        Some(next)
    }
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;

    use super::*;
    use crate::catalogue::prior_table;
    use crate::science::cultivar::HardinessClass;
    use crate::science::hardiness::fit::{HardinessSpec, Likelihood, PriorUse, fit, refit};
    use crate::science::hardiness::level::DamageLevel;
    use crate::science::hardiness::observation::{CultivarPrior, DamageRange, Reports};
    use crate::science::hardiness::ordinal::FitOptions;
    use crate::science::hardiness::simulate::{Design, Faults, Truth, simulate};
    use crate::science::numeric::Gaussian;
    use crate::units::Celsius;

    /// Part of a fit's own move of T50 that may be left, and K besides: slope, gaps, spreads and what is believed of the other reports stay.
    const TOLERANCE: (f64, f64) = (0.25, 0.01);

    fn society(reports: usize) -> Reports {
        let priors = prior_table::priors().unwrap();
        let mut rng = ChaCha8Rng::seed_from_u64(11);
        let cultivars: Vec<CultivarPrior> =
            (0..12).map(|c| CultivarPrior { class: HardinessClass::new((c % 4) as u8 + 1).ok(), from_memory: c % 3 == 0 }).collect();
        let truth = Truth::draw(&priors, &cultivars, &mut rng);
        let design = Design {
            cultivars,
            reporters: 60,
            winters: (2010, 8),
            reports,
            gardens: Gaussian::new(-13.0, 4.0),
            winter_spread: 3.0,
            thermometers: vec![0.5],
            varied: true,
            faults: Faults::default(),
        };
        simulate(&priors, truth, &design, &mut rng).reports
    }

    // Against a warm fit of all reports together: reports of newcomers, of reporters known and of winters known, surprising ones among them.
    #[test]
    fn one_report_more_moves_its_curve_as_a_fit_of_all_does() {
        let priors = prior_table::priors().unwrap();
        let spec = HardinessSpec {
            priors: &priors,
            prior_use: PriorUse::Evidence,
            likelihood: Likelihood::default(),
            effort: FitOptions { tolerance: 1e-7, ..FitOptions::default() },
        };
        let mut reports = society(1_500);
        let newcomer = reports.reporters;
        reports.reporters += 1;
        let fitted = fit(&spec, &reports).unwrap();
        let known = reports.observations[700];
        let own: Vec<WinterObservation> = reports.observations.iter().filter(|o| o.reporter == known.reporter).copied().collect();
        let kept = fitted.clone().settled();
        let hardiness = |c: u32| fitted.t50(c as usize, DamageLevel::ToGround).unwrap().mean;
        for (step, level) in [(-4.0, DamageLevel::Tips), (0.0, DamageLevel::ToGround), (1.0, DamageLevel::Dead), (3.0, DamageLevel::Wood)] {
            let met = Celsius::literal(hardiness(known.cultivar) + step);
            let told = WinterObservation { exposure: met, damage: DamageRange::exactly(level), weight: 1.0, ..known };
            for (whose, own, o) in [
                ("newcomer", &[][..], WinterObservation { reporter: newcomer, ..told }),
                ("reporter", &own, WinterObservation { garden: 999, ..told }),
                ("garden's winter", &own, told),
            ] {
                let moved = kept.further(&o, own).unwrap();
                let mut all = reports.clone();
                all.observations.push(o);
                let again = refit(&spec, &all, &fitted).unwrap();
                let of = |fit: &Fitted| fit.t50(o.cultivar as usize, DamageLevel::ToGround).unwrap();
                let (before, here, there) = (of(&fitted), of(&moved), of(&again));
                let left = (here.mean - there.mean).abs();
                let allowed = TOLERANCE.0 * (there.mean - before.mean).abs() + TOLERANCE.1;
                assert!(left < allowed, "{whose} {step} {level:?}: from {} to {}, a fit says {}", before.mean, here.mean, there.mean);
                assert!((here.sd - there.sd).abs() < 0.02 * there.sd, "{whose}: spread {} for {}", here.sd, there.sd);
                assert_eq!(moved.reports_of(o.cultivar as usize), fitted.reports_of(o.cultivar as usize) + 1);
            }
        }
    }

    #[test]
    fn of_a_fig_that_nobody_reported_only_a_fit_tells() {
        let priors = prior_table::priors().unwrap();
        let likelihood = Likelihood::default();
        let spec = HardinessSpec { priors: &priors, prior_use: PriorUse::Evidence, likelihood, effort: FitOptions::default() };
        let mut reports = society(200);
        let o = reports.observations[0];
        reports.observations.retain(|other| other.cultivar != o.cultivar);
        assert!(fit(&spec, &reports).unwrap().further(&o, &[]).is_none());
    }
}
